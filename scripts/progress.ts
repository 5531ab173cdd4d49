/** Progress on stderr: a bar with an estimate on a terminal, a plain line now and then elsewhere; what takes long is named. */
import { type Bar, Presets, SingleBar } from 'cli-progress';
import { shown, spokenTime } from './messages.ts';
import { tell } from './terminal.ts';

export interface Progress {
  update(done: number): void;
  /** Work on this one has begun; it is named when it takes long. */
  begin(name: string): void;
  end(name: string): void;
  stop(): void;
}

const PLAIN_EVERY_SECONDS = 5;

export function showProgress(label: string, total: number): Progress {
  if (total === 0)
    return { update: () => undefined, begin: () => undefined, end: () => undefined, stop: () => undefined };
  return process.stderr.isTTY ? bar(label, total) : plainLines(label, total);
}

function bar(label: string, total: number): Progress {
  const slow = new SlowWork();
  const single: Bar = new SingleBar(
    {
      stream: process.stderr,
      format: `${label} {bar} {value}/{total}  {eta_formatted} left{slow}`,
      hideCursor: true,
      clearOnComplete: true,
      etaBuffer: 50,
    },
    Presets.rect,
  );
  single.start(total, 0, { slow: '' });
  const timer = setInterval(() => {
    const [longest] = slow.since(performance.now());
    single.update({ slow: longest ? `  at ${shortened(longest.name)} for ${spokenTime(longest.seconds)}` : '' });
  }, 1000).unref();
  return {
    update: (done) => single.update(done),
    begin: (name) => slow.begin(name, performance.now()),
    end: (name) => slow.end(name),
    stop() {
      clearInterval(timer);
      single.stop();
    },
  };
}

function plainLines(label: string, total: number): Progress {
  const started = performance.now();
  const slow = new SlowWork();
  let last = started;
  const timer = setInterval(() => {
    for (const { name, seconds } of slow.news(performance.now())) {
      tell(`${label}: at ${shown(name)} for ${spokenTime(seconds)}`);
    }
  }, PLAIN_EVERY_SECONDS * 1000).unref();
  return {
    update(done) {
      const now = performance.now();
      if (done < total && now - last < PLAIN_EVERY_SECONDS * 1000) return;
      last = now;
      const elapsed = (now - started) / 1000;
      const left = done > 0 && done < total ? `, about ${spokenTime((elapsed / done) * (total - done))} left` : '';
      tell(`${label}: ${done} of ${total}${left}`);
    },
    begin: (name) => slow.begin(name, performance.now()),
    end: (name) => slow.end(name),
    stop: () => clearInterval(timer),
  };
}

/** A file that takes longer than this is named: most take a second or two. */
const SLOW_SECONDS = 10;

interface Work {
  name: string;
  seconds: number;
}

/** What is under way, and for how long; times in milliseconds as of performance.now(). */
export class SlowWork {
  readonly #begun = new Map<string, number>();
  /** Seconds after which each is told next: twice as many each time. */
  readonly #tellAfter = new Map<string, number>();

  begin(name: string, now: number): void {
    this.#begun.set(name, now);
  }

  end(name: string): void {
    this.#begun.delete(name);
    this.#tellAfter.delete(name);
  }

  /** All that takes long, the longest first. */
  since(now: number): Work[] {
    return [...this.#begun]
      .map(([name, begun]) => ({ name, seconds: (now - begun) / 1000 }))
      .filter(({ seconds }) => seconds >= SLOW_SECONDS)
      .sort((a, b) => b.seconds - a.seconds);
  }

  /** Of these, what was not told yet, or takes twice as long as when it was. */
  news(now: number): Work[] {
    const due = this.since(now).filter(({ name, seconds }) => seconds >= (this.#tellAfter.get(name) ?? 0));
    for (const { name, seconds } of due) this.#tellAfter.set(name, seconds * 2);
    return due;
  }
}

function shortened(name: string): string {
  const plain = shown(name);
  return plain.length <= 40 ? plain : `…${plain.slice(-39)}`;
}
