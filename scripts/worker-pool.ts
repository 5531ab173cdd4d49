/** Hands files to worker threads, one at a time each. A file that brings its thread down costs that file, not the build. */
import { availableParallelism } from 'node:os';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import type { FileDone, MeasureTask, WorkerSettings } from './measure-worker.ts';

export interface PoolOptions {
  settings: WorkerSettings;
  threads?: number;
  signal?: AbortSignal;
  onStart?: (index: number) => void;
  /** `index`: of the task. */
  onDone: (done: FileDone, index: number) => void | Promise<void>;
}

/** Room for one file's samples, envelope and codecs; beyond it the thread ends, not the build. */
const HEAP_MEGABYTES = 1024;

export async function measureFiles(tasks: readonly MeasureTask[], options: PoolOptions): Promise<void> {
  const { settings, signal, onStart, onDone, threads = availableParallelism() } = options;
  let next = 0;
  const lane = async (): Promise<void> => {
    let worker: Worker | null = null;
    try {
      while (next < tasks.length && !signal?.aborted) {
        const index = next++;
        const task = tasks[index];
        worker ??= start(settings);
        onStart?.(index);
        const answer = await ask(worker, task, signal);
        if (answer === null) return;
        if ('crashed' in answer) {
          worker = null;
          const problem = `decoding brought its thread down: ${answer.crashed}`;
          await onDone({ path: task.path, digest: null, takesKey: null, decoded: true, problem }, index);
        } else await onDone(answer, index);
      }
    } finally {
      await worker?.terminate();
    }
  };
  await Promise.all(Array.from({ length: Math.min(threads, tasks.length) }, lane));
}

function start(settings: WorkerSettings): Worker {
  return new Worker(new URL('./measure-worker.ts', import.meta.url), {
    workerData: settings,
    // Node keeps the compiled source there: the next threads, and the next builds, start in a third of the time.
    env: { NODE_COMPILE_CACHE: join(settings.cacheFolder, 'compiled'), ...process.env },
    resourceLimits: { maxOldGenerationSizeMb: HEAP_MEGABYTES },
  });
}

/** The worker's answer; null when interrupted. */
function ask(worker: Worker, task: MeasureTask, signal?: AbortSignal): Promise<FileDone | { crashed: string } | null> {
  return new Promise((resolve) => {
    const settle = (value: FileDone | { crashed: string } | null): void => {
      worker.off('message', onMessage);
      worker.off('error', onError);
      worker.off('exit', onExit);
      signal?.removeEventListener('abort', onAbort);
      resolve(value);
    };
    const onMessage = (done: FileDone): void => settle(done);
    const onError = (error: Error): void => settle({ crashed: error.message });
    const onExit = (code: number): void => settle({ crashed: `it ended with code ${code}` });
    const onAbort = (): void => settle(null);
    worker.on('message', onMessage);
    worker.on('error', onError);
    worker.on('exit', onExit);
    signal?.addEventListener('abort', onAbort);
    worker.postMessage(task);
  });
}
