/**
 * A million made-up inputs for all that reads what others wrote: decoders, readers of tags, questions, links, lists, the catalogue.
 *
 *   npm run test:fuzz                       all of them, in worker threads; some minutes
 *   npm run test:fuzz -- 0.1                a tenth of them
 *   npm run test:fuzz -- decoders 1234      one input again, by its kind and number
 *
 * Ended with Ctrl-C it finishes what is under way and tells what it found so far.
 * An input that takes longer than LONGEST_SECONDS is named as hanging, its thread ended, and the run goes on after it. (This
 * is no test of CI: a busy machine may be slow, but no input of a few kilobytes may take that long on any.)
 */
import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import { count, spokenTime } from '../../scripts/messages.ts';
import { showProgress } from '../../scripts/progress.ts';
import { KINDS, removeScratch } from './kinds.ts';
import type { Portion, PortionDone } from './thread.ts';

const LONGEST_SECONDS = 30;
const PORTION_INPUTS = 250;
const SHOWN_FAULTS = 20;

interface Tally {
  inputs: number;
  seconds: number;
  faults: string[];
}

async function runAll(share: number): Promise<void> {
  const tallies = new Map<string, Tally>();
  const portions: Portion[] = [];
  for (const [kind, { inputs }] of Object.entries(KINDS)) {
    tallies.set(kind, { inputs: 0, seconds: 0, faults: [] });
    const all = Math.ceil(inputs * share);
    for (let from = 0; from < all; from += PORTION_INPUTS) {
      portions.push({ kind, from, to: Math.min(all, from + PORTION_INPUTS) });
    }
  }
  // All kinds side by side, so that a run that is ended early has had a share of each.
  portions.sort((a, b) => b.from / KINDS[b.kind].inputs - a.from / KINDS[a.kind].inputs);
  process.once('SIGINT', () => portions.splice(0)).once('SIGTERM', () => portions.splice(0));
  const total = portions.reduce((sum, { from, to }) => sum + to - from, 0);
  const progress = showProgress('Fuzzing', total);
  let done = 0;
  const lane = async (): Promise<void> => {
    let thread: Thread | null = null;
    for (let portion = portions.pop(); portion !== undefined; portion = portions.pop()) {
      thread ??= new Thread();
      const started = performance.now();
      const { faults, hungAt } = await thread.run(portion);
      const tally = tallies.get(portion.kind) as Tally;
      tally.seconds += (performance.now() - started) / 1000;
      for (const { number, fault } of faults) tally.faults.push(`${portion.kind} ${number}: ${fault}`);
      const reached = hungAt === null ? portion.to : hungAt + 1;
      if (hungAt !== null) {
        thread = null;
        if (reached < portion.to) portions.push({ ...portion, from: reached });
      }
      tally.inputs += reached - portion.from;
      done += reached - portion.from;
      progress.update(done);
    }
    await thread?.end();
  };
  await Promise.all(Array.from({ length: Math.min(2, availableParallelism()) }, lane));
  progress.stop();
  let faults = 0;
  for (const [kind, tally] of tallies) {
    faults += tally.faults.length;
    console.log(
      `${kind}: ${count(tally.inputs, 'input')}, ${count(tally.faults.length, 'fault')}, ${spokenTime(tally.seconds)}`,
    );
    for (const fault of tally.faults.slice(0, SHOWN_FAULTS)) console.log(`  ${fault}`);
  }
  console.log(
    `${count(done, 'input')}, ${count(faults, 'fault')}, most memory ${Math.round(process.resourceUsage().maxRSS / 1024)} MB.`,
  );
  process.exitCode = faults === 0 ? 0 : 1;
}

class Thread {
  readonly #at = new SharedArrayBuffer(4);
  readonly #worker = new Worker(new URL('./thread.ts', import.meta.url), { workerData: { at: this.#at } });

  /** `hungAt`: the input at which it hung or fell, and was ended. */
  run(portion: Portion): Promise<PortionDone & { hungAt: number | null }> {
    const underWay = new Int32Array(this.#at);
    Atomics.store(underWay, 0, portion.from);
    return new Promise((resolve) => {
      let last = portion.from;
      let since = performance.now();
      const settle = (result: PortionDone & { hungAt: number | null }): void => {
        clearInterval(timer);
        this.#worker.off('message', onMessage).off('error', onError);
        resolve(result);
      };
      const fell = (fault: string): void => {
        const number = Atomics.load(underWay, 0);
        void this.#worker.terminate();
        settle({ faults: [{ number, fault }], hungAt: number });
      };
      const timer = setInterval(() => {
        const number = Atomics.load(underWay, 0);
        if (number !== last) {
          last = number;
          since = performance.now();
        } else if (performance.now() - since > LONGEST_SECONDS * 1000) fell(`hangs for more than ${LONGEST_SECONDS} s`);
      }, 1000);
      const onMessage = (done: PortionDone): void => settle({ ...done, hungAt: null });
      const onError = (error: Error): void => fell(`brings its thread down: ${error.message}`);
      this.#worker.on('message', onMessage).on('error', onError);
      this.#worker.postMessage(portion);
    });
  }

  async end(): Promise<void> {
    const ended = new Promise((resolve) => this.#worker.once('exit', resolve));
    this.#worker.postMessage(null);
    await ended;
  }
}

const [first, second] = process.argv.slice(2);
if (first !== undefined && KINDS[first]) {
  const number = Number(second ?? 0);
  const fault = await KINDS[first].run(number);
  console.log(`${first} ${number}: ${fault ?? 'right'}`);
  process.exitCode = fault === null ? 0 : 1;
} else await runAll(Number(first ?? 1));
await removeScratch();
