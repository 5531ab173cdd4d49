/** A worker thread: takes one file at a time, leaves its result in the cache and says whether it had to decode. */
import { parentPort, workerData } from 'node:worker_threads';
import { UnreadableAudio } from './archive/audio-stream.ts';
import { BuildCache } from './archive/cache.ts';
import { type DiskFile, openFile } from './archive/decode/file-bytes.ts';
import { type MachineFailure, machineFailure } from './archive/failures.ts';
import type { Corrections } from './archive/split-corrections.ts';
import type { SplitSettings } from './archive/split-settings.ts';
import { type FileKnown, measureFile } from './measure-file.ts';
import { CannotWrite } from './messages.ts';
import { quietLibraries } from './terminal.ts';

export interface MeasureTask {
  path: string;
  split: SplitSettings;
}

/** `unwritten`: the cache cannot be written, in a sentence; no other file would fare better. */
export type FileDone = { known: FileKnown } | { failed: MachineFailure } | { unwritten: string };

export interface WorkerSettings {
  cacheFolder: string;
  takesKey: string;
  corrections: Corrections;
}

const settings = workerData as WorkerSettings;
quietLibraries();
const cache = await BuildCache.open(settings.cacheFolder, settings.takesKey);

async function takeFile({ path, split }: MeasureTask): Promise<FileDone> {
  let file: DiskFile | null = null;
  try {
    file = await openFile(path);
    return { known: await measureFile(file, path, split, cache, settings.corrections) };
  } catch (error) {
    return error instanceof CannotWrite ? { unwritten: error.message } : { failed: failureOf(error) };
  } finally {
    // Nothing was written to it: whatever its closing says changes nothing.
    await file?.close().catch(() => undefined);
  }
}

/** What is no file any more was one when the archive was listed: that, too, is told and not kept. */
function failureOf(error: unknown): MachineFailure {
  if (!(error instanceof UnreadableAudio)) return machineFailure(error);
  const { found, expected, remedy } = error;
  return { found, expected, remedy, worthAnotherTry: false };
}

parentPort?.on('message', async (task: MeasureTask) => {
  parentPort?.postMessage(await takeFile(task));
});
parentPort?.postMessage('ready');
