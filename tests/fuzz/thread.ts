/** One thread of run.ts: takes portions of a kind, and says before each input which it is at. */
import { parentPort, workerData } from 'node:worker_threads';
import { KINDS, removeScratch } from './kinds.ts';

export interface Portion {
  kind: string;
  from: number;
  to: number;
}

export interface PortionDone {
  faults: { number: number; fault: string }[];
}

const { at } = workerData as { at: SharedArrayBuffer };
const underWay = new Int32Array(at);

async function run({ kind, from, to }: Portion): Promise<PortionDone> {
  const faults: PortionDone['faults'] = [];
  for (let number = from; number < to; number++) {
    Atomics.store(underWay, 0, number);
    try {
      const fault = await KINDS[kind].run(number);
      if (fault !== null) faults.push({ number, fault });
    } catch (error) {
      faults.push({ number, fault: `thrown: ${error instanceof Error ? error.stack : String(error)}` });
    }
  }
  return { faults };
}

parentPort?.on('message', async (portion: Portion | null) => {
  if (portion === null) {
    await removeScratch();
    process.exit(0);
  }
  parentPort?.postMessage(await run(portion));
});
