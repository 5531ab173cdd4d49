/** A worker thread: takes one file at a time, leaves its result in the cache and says whether it had to decode. */
import { rename, rm } from 'node:fs/promises';
import { parentPort, threadId, workerData } from 'node:worker_threads';
import { UnreadableAudio } from './archive/audio-stream.ts';
import { BuildCache, type FileOutcome } from './archive/cache.ts';
import { type DiskFile, type FileFacts, factsAt, openFile, sameFacts } from './archive/decode/file-bytes.ts';
import { ChangedWhileRead, type MachineFailure, machineFailure } from './archive/failures.ts';
import { contentDigest } from './archive/identity.ts';
import { type PreviewOfTake, processOpen } from './archive/process-file.ts';
import type { Corrections } from './archive/split-corrections.ts';
import type { SplitSettings } from './archive/split-settings.ts';
import { writeWhole } from './atomic-file.ts';
import { CannotWrite, cannotWrite } from './messages.ts';
import { previewScript } from './publish/data-scripts.ts';
import { quietLibraries } from './terminal.ts';

export interface MeasureTask {
  path: string;
  split: SplitSettings;
}

/** What the cache holds of a file now. */
export interface FileKnown {
  digest: string;
  /** Under which the cache holds what it gave. */
  takesKey: string;
  /** By which an unchanged file is known again; null where it was written so lately that they cannot tell. */
  facts: FileFacts | null;
  decoded: boolean;
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
    return { known: await measure(file, path, split) };
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

/** Digest, description and audio come from one open file, which must be the same before and after. */
async function measure(file: DiskFile, path: string, split: SplitSettings): Promise<FileKnown> {
  const { corrections } = settings;
  const before = await file.facts();
  const digest = await contentDigest(file);
  const assertSame = async (): Promise<FileFacts | null> => {
    const isSame = sameFacts(before, await file.facts()) && sameFacts(before, await factsAt(path));
    const settled = isSettled(before);
    if (!isSame || (!settled && (await contentDigest(file)) !== digest)) throw new ChangedWhileRead();
    return settled ? before : null;
  };
  const known = await cache.takesKeyFor(digest, split, corrections);
  if (await cache.outcome(known)) return { digest, takesKey: known, facts: await assertSame(), decoded: false };
  const previews = new StagedPreviews();
  try {
    const outcome = await outcomeOf(() =>
      processOpen(file, path, { split, corrections, onPreview: (preview) => previews.add(preview) }),
    );
    const facts = await assertSame();
    await previews.keep();
    if (outcome.ok) await cache.saveAudio(digest, outcome.result.audio);
    const takesKey = await cache.takesKeyFor(digest, split, corrections);
    await cache.saveOutcome(takesKey, outcome);
    return { digest, takesKey, facts, decoded: true };
  } finally {
    await previews.drop();
  }
}

/** Only what is wrong with the content is an outcome. */
async function outcomeOf(process: () => ReturnType<typeof processOpen>): Promise<FileOutcome> {
  try {
    return { ok: true, result: await process() };
  } catch (error) {
    if (!(error instanceof UnreadableAudio)) throw error;
    const { found, expected, remedy } = error;
    return { ok: false, found, expected, remedy };
  }
}

/** A clock of a file system may stand still for so long (2 s on FAT): a change in that time need not show in it. */
const SETTLING_SECONDS = 3;

function isSettled({ modified, changed }: FileFacts): boolean {
  const agesSeconds = [modified, changed].map((nanoseconds) => Math.abs(Date.now() - Number(nanoseconds) / 1e6) / 1000);
  return Math.min(...agesSeconds) > SETTLING_SECONDS;
}

/** Previews under names of their own until it is sure that the file stayed the same: one id may have several files. */
class StagedPreviews {
  readonly #staged = new Map<string, string>();

  async add(preview: PreviewOfTake): Promise<void> {
    for (const part of preview.parts) {
      const path = cache.previewPath(preview.id, part.part);
      const staged = `${path}.${process.pid}-${threadId}.part`;
      await writeWhole(staged, previewScript(preview, part));
      this.#staged.set(staged, path);
    }
  }

  async keep(): Promise<void> {
    for (const [staged, path] of this.#staged) {
      await rename(staged, path).catch(cannotWrite(path));
      this.#staged.delete(staged);
    }
  }

  async drop(): Promise<void> {
    for (const staged of this.#staged.keys()) await rm(staged, { force: true }).catch(() => undefined);
  }
}

parentPort?.on('message', async (task: MeasureTask) => {
  parentPort?.postMessage(await takeFile(task));
});
parentPort?.postMessage('ready');
