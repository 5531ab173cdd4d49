/** Progress on stderr: a bar with an estimate on a terminal, a plain line now and then elsewhere. */
import { type Bar, Presets, SingleBar } from 'cli-progress';
import { spokenTime } from './messages.ts';
import { tell } from './terminal.ts';

export interface Progress {
  update(done: number, detail?: string): void;
  stop(): void;
}

const PLAIN_EVERY_SECONDS = 5;

export function showProgress(label: string, total: number): Progress {
  if (total === 0) return { update: () => undefined, stop: () => undefined };
  return process.stderr.isTTY ? bar(label, total) : plainLines(label, total);
}

function bar(label: string, total: number): Progress {
  const single: Bar = new SingleBar(
    {
      stream: process.stderr,
      format: `${label} {bar} {value}/{total}  {eta_formatted} left`,
      hideCursor: true,
      clearOnComplete: true,
      etaBuffer: 50,
    },
    Presets.rect,
  );
  single.start(total, 0);
  return { update: (done) => single.update(done), stop: () => single.stop() };
}

function plainLines(label: string, total: number): Progress {
  const started = performance.now();
  let last = started;
  return {
    update(done) {
      const now = performance.now();
      if (done < total && now - last < PLAIN_EVERY_SECONDS * 1000) return;
      last = now;
      const elapsed = (now - started) / 1000;
      const left = done > 0 && done < total ? `, about ${spokenTime((elapsed / done) * (total - done))} left` : '';
      tell(`${label}: ${done} of ${total}${left}`);
    },
    stop: () => undefined,
  };
}
