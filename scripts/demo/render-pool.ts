/** Renders many files, each written as soon as it is done: here, or spread over worker threads, with the same bytes. */
import { mkdir } from 'node:fs/promises';
import path from 'node:path';
import { Worker } from 'node:worker_threads';
import { writeNew } from '../atomic-file.ts';
import type { FilePlan } from './plan/file-plan.ts';
import { renderFile } from './render-file.ts';
import type { FileTruth } from './truth.ts';

export interface RenderOptions {
  folder: string;
  seed: number;
  /** 0 = in this thread. */
  workers: number;
  onFile: (truth: FileTruth) => void;
}

/** What a worker is asked to do. */
export interface RenderTask {
  index: number;
  plan: FilePlan;
  seed: number;
  folder: string;
}

export interface RenderAnswer {
  index: number;
  truth: FileTruth;
}

/** Writes every planned file below the folder; gives their truths in the plan's order. */
export async function renderFiles(plans: readonly FilePlan[], options: RenderOptions): Promise<FileTruth[]> {
  const { folder, seed, workers, onFile } = options;
  const tasks = plans.map((plan, index) => ({ index, plan, seed, folder }));
  const truths: FileTruth[] = new Array(plans.length);
  const take = (answer: RenderAnswer) => {
    truths[answer.index] = answer.truth;
    onFile(answer.truth);
  };
  if (workers === 0) {
    for (const task of tasks) take(await renderTask(task));
  } else {
    const queue = tasks.values();
    await Promise.all(Array.from({ length: Math.min(workers, tasks.length) }, () => workThrough(queue, take)));
  }
  return truths;
}

export async function renderTask(task: RenderTask): Promise<RenderAnswer> {
  const { bytes, truth } = await renderFile(task.plan, task.seed);
  const place = path.join(task.folder, ...task.plan.path.split('/'));
  await mkdir(path.dirname(place), { recursive: true });
  await writeNew(place, bytes);
  return { index: task.index, truth };
}

/** One worker that takes the next task until none is left. */
async function workThrough(queue: IterableIterator<RenderTask>, take: (answer: RenderAnswer) => void): Promise<void> {
  const worker = new Worker(new URL('./render-worker.ts', import.meta.url));
  try {
    for (const task of queue) take(await ask(worker, task));
  } finally {
    await worker.terminate();
  }
}

function ask(worker: Worker, task: RenderTask): Promise<RenderAnswer> {
  return new Promise((resolve, reject) => {
    const settled = () => {
      worker.off('message', onMessage);
      worker.off('error', onError);
      worker.off('exit', onExit);
    };
    const onMessage = (answer: RenderAnswer) => {
      settled();
      resolve(answer);
    };
    const onError = (error: Error) => {
      settled();
      reject(error);
    };
    const onExit = (code: number) => {
      settled();
      reject(new Error(`The worker that wrote ${task.plan.path} ended with code ${code} before it was done.`));
    };
    worker.on('message', onMessage);
    worker.on('error', onError);
    worker.on('exit', onExit);
    worker.postMessage(task);
  });
}
