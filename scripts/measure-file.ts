/** One file of the archive into the cache: looked up by its content, or measured and kept. */
import { UnreadableAudio } from './archive/audio-stream.ts';
import type { BuildCache, FileOutcome } from './archive/cache.ts';
import { type DiskFile, type FileFacts, factsAt, sameFacts } from './archive/decode/file-bytes.ts';
import { ChangedWhileRead } from './archive/failures.ts';
import { contentDigest } from './archive/identity.ts';
import { type PreviewOfTake, processOpen } from './archive/process-file.ts';
import type { Corrections } from './archive/split-corrections.ts';
import type { SplitSettings } from './archive/split-settings.ts';
import { writeBeside } from './atomic-file.ts';
import { cannotWrite } from './messages.ts';
import { putInPlace, removeFile } from './own/own-folders.ts';
import { previewScript } from './publish/data-scripts.ts';

/** What the cache holds of a file now. */
export interface FileKnown {
  digest: string;
  /** Under which the cache holds what it gave. */
  takesKey: string;
  /** By which an unchanged file is known again; null where it was written so lately that they cannot tell. */
  facts: FileFacts | null;
  decoded: boolean;
}

/**
 * Digest, description and audio come from one open file, which must be the same before and after. Throws ChangedWhileRead,
 * CannotWrite and errors of the system, over none of which anything is kept; what is wrong with the content is kept.
 */
export async function measureFile(
  file: DiskFile,
  path: string,
  split: SplitSettings,
  cache: BuildCache,
  corrections: Corrections,
): Promise<FileKnown> {
  const before = await file.facts();
  const digest = await contentDigest(file);
  const assertSame = async (): Promise<FileFacts | null> => {
    // First where the path leads: what was moved away has changed, too, but is told as moved.
    const there = await factsAt(path);
    const isSame = sameFacts(before, there) && sameFacts(before, await file.facts());
    const settled = isSettled(before);
    if (!isSame || (!settled && (await contentDigest(file)) !== digest)) throw new ChangedWhileRead();
    return settled ? before : null;
  };
  const known = await cache.takesKeyFor(digest, split, corrections);
  if (await cache.outcome(known)) return { digest, takesKey: known, facts: await assertSame(), decoded: false };
  const previews = new StagedPreviews(cache);
  try {
    const outcome = await outcomeOf(() =>
      processOpen(file, { split, corrections, onPreview: (preview) => previews.add(preview) }),
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
  readonly #cache: BuildCache;
  readonly #staged = new Map<string, string>();

  constructor(cache: BuildCache) {
    this.#cache = cache;
  }

  async add(preview: PreviewOfTake): Promise<void> {
    for (const part of preview.parts) {
      const path = this.#cache.previewPath(preview.id, part.part);
      this.#staged.set(await writeBeside(path, previewScript(preview, part)), path);
    }
  }

  async keep(): Promise<void> {
    for (const [staged, path] of this.#staged) {
      await putInPlace(staged, path).catch(cannotWrite(path));
      this.#staged.delete(staged);
    }
  }

  async drop(): Promise<void> {
    for (const staged of this.#staged.keys()) await removeFile(staged).catch(() => undefined);
  }
}
