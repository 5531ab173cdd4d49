/** A worker thread: takes one file at a time, leaves its result in the cache and says whether it had to decode. */
import { mkdir } from 'node:fs/promises';
import { dirname } from 'node:path';
import { parentPort, workerData } from 'node:worker_threads';
import { UnreadableAudio } from './archive/audio-stream.ts';
import { BuildCache, type FileOutcome } from './archive/cache.ts';
import { fileDigest } from './archive/identity.ts';
import { type PreviewOfTake, processFile } from './archive/process-file.ts';
import type { Corrections } from './archive/split-corrections.ts';
import type { SplitSettings } from './archive/split-settings.ts';
import { writeWhole } from './atomic-file.ts';
import { messageOf } from './messages.ts';
import { previewScript } from './publish/data-scripts.ts';

export interface MeasureTask {
  path: string;
  split: SplitSettings;
}

export interface FileDone {
  path: string;
  /** null when the file could not even be read. */
  digest: string | null;
  /** Under which the cache holds what it gave. */
  takesKey: string | null;
  decoded: boolean;
  /** Only when the file could not be read at all; otherwise the outcome is in the cache. */
  problem: string | null;
}

export interface WorkerSettings {
  cacheFolder: string;
  takesKey: string;
  corrections: Corrections;
}

const settings = workerData as WorkerSettings;
const cache = await BuildCache.open(settings.cacheFolder, settings.takesKey);

async function takeFile({ path, split }: MeasureTask): Promise<FileDone> {
  let digest: string;
  try {
    digest = await fileDigest(path);
  } catch (error) {
    return { path, digest: null, takesKey: null, decoded: false, problem: messageOf(error) };
  }
  const { corrections } = settings;
  const known = await cache.takesKeyFor(digest, split, corrections);
  if (await cache.outcome(known)) return { path, digest, takesKey: known, decoded: false, problem: null };
  let outcome: FileOutcome;
  try {
    outcome = { ok: true, result: await processFile(path, { split, corrections, onPreview: keepPreview }) };
    await cache.saveAudio(digest, outcome.result.audio);
  } catch (error) {
    outcome = failure(error);
  }
  const takesKey = await cache.takesKeyFor(digest, split, corrections);
  await cache.saveOutcome(takesKey, outcome);
  return { path, digest, takesKey, decoded: true, problem: null };
}

function failure(error: unknown): FileOutcome {
  if (error instanceof UnreadableAudio) {
    return { ok: false, found: error.found, expected: error.expected, remedy: error.remedy };
  }
  return {
    ok: false,
    found: `Decoding stopped: ${messageOf(error)}.`,
    expected: 'Audio that decodes to its end.',
    remedy: 'Export the file again from its source, then build again.',
  };
}

async function keepPreview(preview: PreviewOfTake): Promise<void> {
  for (const part of preview.parts) {
    const path = cache.previewPath(preview.id, part.part);
    await mkdir(dirname(path), { recursive: true });
    await writeWhole(path, previewScript(preview, part));
  }
}

parentPort?.on('message', async (task: MeasureTask) => {
  parentPort?.postMessage(await takeFile(task));
});
