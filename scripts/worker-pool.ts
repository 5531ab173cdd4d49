/** Hands files to worker threads, one at a time each. A file that brings its thread down costs that file, not the build. */
import { availableParallelism } from 'node:os';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import { threadFailure } from './archive/failures.ts';
import type { FileDone, MeasureTask, WorkerSettings } from './measure-worker.ts';
import { messageOf } from './messages.ts';

export interface PoolOptions {
  settings: WorkerSettings;
  threads?: number;
  signal?: AbortSignal;
  onStart?: (index: number) => void;
  /** `index`: of the task. What it throws ends the measuring: no further file is begun. */
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
        worker ??= await start(settings);
        onStart?.(index);
        const answer = await ask(worker, tasks[index], signal);
        if (answer === null) return;
        if ('crashed' in answer) {
          worker = null;
          await onDone({ failed: threadFailure(answer.crashed, HEAP_MEGABYTES) }, index);
        } else await onDone(answer, index);
      }
    } catch (error) {
      next = tasks.length;
      throw error;
    } finally {
      await worker?.terminate();
    }
  };
  const lanes = await Promise.allSettled(Array.from({ length: Math.min(threads, tasks.length) }, lane));
  for (const ended of lanes) if (ended.status === 'rejected') throw ended.reason;
}

/** A worker that is ready for files. Throws when it cannot be started: that is no file's fault. */
function start(settings: WorkerSettings): Promise<Worker> {
  const worker = new Worker(new URL('./measure-worker.ts', import.meta.url), {
    workerData: settings,
    // Node keeps the compiled source there: the next threads, and the next builds, start in a third of the time.
    env: { NODE_COMPILE_CACHE: join(settings.cacheFolder, 'compiled'), ...process.env },
    resourceLimits: { maxOldGenerationSizeMb: HEAP_MEGABYTES },
    // What a thread prints is never in our words.
    stdout: true,
    stderr: true,
  });
  for (const printed of [worker.stdout, worker.stderr]) {
    if (process.env.TAKESHELF_DEBUG) printed.pipe(process.stderr, { end: false });
    else printed.resume();
  }
  // Whoever waits for the thread hears of its end; without anybody waiting it must not end the build.
  worker.on('error', () => undefined);
  return new Promise((resolve, reject) => {
    const fail = (how: string): void => reject(new Error(`A measuring thread does not start: ${how}`));
    const onError = (error: Error): void => fail(messageOf(error));
    const onExit = (code: number): void => fail(`it ended with code ${code}`);
    worker.once('error', onError);
    worker.once('exit', onExit);
    worker.once('message', () => {
      worker.off('error', onError);
      worker.off('exit', onExit);
      resolve(worker);
    });
  });
}

/** The number Node gives to a thread that has ended. */
const NO_THREAD = -1;

type Answer = FileDone | { crashed: Error | number };

/** The worker's answer; null when interrupted. */
function ask(worker: Worker, task: MeasureTask, signal?: AbortSignal): Promise<Answer | null> {
  return new Promise((resolve) => {
    const settle = (value: Answer | null): void => {
      worker.off('message', onMessage);
      worker.off('error', onError);
      worker.off('exit', onExit);
      signal?.removeEventListener('abort', onAbort);
      resolve(value);
    };
    const onMessage = (done: FileDone): void => settle(done);
    const onError = (error: Error): void => settle({ crashed: error });
    const onExit = (code: number): void => settle({ crashed: code });
    const onAbort = (): void => settle(null);
    worker.on('message', onMessage);
    worker.on('error', onError);
    worker.on('exit', onExit);
    signal?.addEventListener('abort', onAbort);
    if (worker.threadId === NO_THREAD) settle({ crashed: new Error('it had ended before') });
    else worker.postMessage(task);
  });
}
