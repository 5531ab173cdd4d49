/**
 * What is already known about the archive, below `.cache/`. Nothing here is ever needed: without it all is computed
 * again, with the same result. The folder carries the mark of a cache; every file but the page's own and the compiled ones
 * is sealed with its digest, and one that is damaged counts as missing.
 *
 *   files.json                     path -> what the file system says of it, digest of the content
 *   takes/<content>[-<split>]-<parameters>.json   what one file gave (or why it gave nothing), cut as the catalogue asks
 *   takes/<content>-<parameters>.audio            identity of its decoded audio, by which the catalogue knows it
 *   previews/<parameters>/<xx>/<id>.<part>.js   what the page plays, in its final form
 *   seen.json                      files that the last build met in each archive folder (away.ts): the one thing here that
 *                                  cannot be computed again while a folder is away
 *   compiled/                                   what Node compiled for the measuring threads; Node checks its source
 */
import { readdir, stat } from 'node:fs/promises';
import { join, relative } from 'node:path';
import { writeWhole } from '../atomic-file.ts';
import { openCacheFolder } from '../own/cache-folder.ts';
import { CACHE } from '../own/kinds.ts';
import { isLeftOver, removeWhere } from '../own/own-folders.ts';
import { readSealed, sealed } from '../own/seal.ts';
import { isPreviewScript } from '../publish/data-scripts.ts';
import { PREVIEW } from '../publish/preview.ts';
import { roundedJson } from '../rounded-json.ts';
import { closureDigest } from '../source-closure.ts';
import { hasAllMeasurements } from './all-measurements.ts';
import { type FileFacts, sameFacts } from './decode/file-bytes.ts';
import { parametersDigest } from './identity.ts';
import type { ProcessedFile } from './process-file.ts';
import type { ScannedFile } from './scan.ts';
import type { Corrections } from './split-corrections.ts';
import { type SplitSettings, USUAL_SPLIT } from './split-settings.ts';

/**
 * What one file gave. A file whose content cannot be used is remembered too, or it would be tried again at every build; a
 * failure of the machine never is (./failures.ts).
 */
export type FileOutcome =
  | { ok: true; result: ProcessedFile }
  | { ok: false; found: string; expected: string; remedy: string };

interface KnownFile extends FileFacts {
  digest: string;
}

const CACHE_VERSION = 2;

/** Whatever decides what a file gives follows from this: results of an older program are not used. */
const currentTakesKey = (): string =>
  parametersDigest({ CACHE_VERSION, source: closureDigest(['scripts/measure-worker.ts']) });

export class BuildCache {
  readonly folder: string;
  readonly previewFolder: string;
  /** Stands for the measuring source; workers get it from the build, so that all speak of the same program. */
  readonly takesKey: string;
  private known = new Map<string, KnownFile>();
  private changed = false;
  /** Paths of previews that were found undamaged. */
  private readonly whole = new Set<string>();

  private constructor(folder: string, takesKey: string) {
    this.folder = folder;
    this.previewFolder = join(folder, 'previews', parametersDigest(PREVIEW));
    this.takesKey = takesKey;
  }

  static async open(folder: string, takesKey = currentTakesKey()): Promise<BuildCache> {
    await openCacheFolder(folder);
    const cache = new BuildCache(folder, takesKey);
    // No list, or a damaged one: every file's content is looked at again.
    const text = await readSealed(cache.filesPath);
    if (text !== null) {
      const stored = JSON.parse(text) as { version: number; files: Record<string, KnownFile> };
      if (stored.version === CACHE_VERSION) cache.known = new Map(Object.entries(stored.files));
    }
    return cache;
  }

  /** Digest of a file's content, if all that the file system says of it is as it was when last looked at. */
  digestOf(file: ScannedFile): string | null {
    const known = this.known.get(file.path);
    return known && sameFacts(known, file) ? known.digest : null;
  }

  /** `facts`: as they were before and after the content was read; null where they could hide a change. */
  remember(path: string, facts: FileFacts | null, digest: string): void {
    if (facts === null) this.known.delete(path);
    else this.known.set(path, { ...facts, digest });
    this.changed = true;
  }

  async saveFiles(): Promise<void> {
    if (!this.changed) return;
    this.changed = false;
    const files = Object.fromEntries([...this.known].sort(([a], [b]) => (a < b ? -1 : 1)));
    await writeWhole(this.filesPath, sealed(JSON.stringify({ version: CACHE_VERSION, files })));
  }

  /**
   * The key of what a file gives under these settings: its content's digest, and what the catalogue asks beyond the usual
   * for this one. The identity of its audio is known from its first decoding on; without it no correction can apply.
   */
  async takesKeyFor(digest: string, split: SplitSettings, corrections: Corrections): Promise<string> {
    const audio = corrections.size > 0 ? await this.audioOf(digest) : null;
    const { takes = null, slates = null } = (audio === null ? undefined : corrections.get(audio)) ?? {};
    const asked = { split, takes, slates };
    const usual = { split: USUAL_SPLIT, takes: null, slates: null };
    const key = parametersDigest(asked);
    return key === parametersDigest(usual) ? digest : `${digest}-${key}`;
  }

  /** Identity of the audio in a file of this content; null when it was never decoded, or gives none. */
  async audioOf(digest: string): Promise<string | null> {
    return (await readSealed(this.audioPath(digest)))?.trimEnd() ?? null;
  }

  async saveAudio(digest: string, audio: string): Promise<void> {
    await writeWhole(this.audioPath(digest), sealed(audio));
  }

  /** `key` as `takesKeyFor` gives it; null unless all of it, previews too, is there and undamaged. */
  async outcome(key: string): Promise<FileOutcome | null> {
    const outcome = await readOutcome(this.takesPath(key));
    return outcome !== null && (await this.hasPreviews(outcome)) ? outcome : null;
  }

  /**
   * The key of the newest usable result of this content, whatever was asked of its split and whichever version of the
   * program measured it; null where there is none. For files that cannot be measured now: their results are kept under a
   * key of their own, which the file itself, once it is there again, never meets.
   */
  async earlierOutcome(digest: string): Promise<string | null> {
    const folder = join(this.folder, 'takes', digest.slice(0, 2));
    const found: { path: string; age: number }[] = [];
    for (const name of await namesIn(folder)) {
      if (!name.startsWith(digest) || !name.endsWith('.json')) continue;
      const path = join(folder, name);
      found.push({ path, age: -(await stat(path)).mtimeMs });
    }
    const key = `${digest}-away`;
    for (const { path } of found.sort((a, b) => a.age - b.age)) {
      const outcome = await readOutcome(path);
      if (outcome === null || !isWhole(outcome) || !(await this.hasPreviews(outcome))) continue;
      if (path !== this.takesPath(key)) await this.saveOutcome(key, outcome);
      return key;
    }
    return null;
  }

  async saveOutcome(key: string, outcome: FileOutcome): Promise<void> {
    await writeWhole(this.takesPath(key), sealed(roundedJson(outcome)));
  }

  previewPath(id: string, part: number): string {
    return join(this.previewFolder, previewName(id, part));
  }

  /** Removes what killed builds were writing. Only while no other build works here. */
  async removeLeftOvers(): Promise<void> {
    await removeWhere(this.folder, CACHE, isLeftOver);
  }

  /** Removes what other versions of the program left behind: nothing of it would ever be read again. */
  async forgetOlder(): Promise<void> {
    const previews = relative(this.folder, this.previewFolder).replaceAll('\\', '/');
    await removeWhere(
      this.folder,
      CACHE,
      (name) =>
        (name.startsWith('previews/') && name !== previews && !name.startsWith(`${previews}/`)) ||
        (/^takes\/.*\//.test(name) && !name.includes(this.takesKey)),
    );
  }

  /** Each preview is read once a build; what was written since is known to be whole. */
  private async hasPreviews(outcome: FileOutcome): Promise<boolean> {
    if (!outcome.ok) return true;
    for (const { id, previewParts } of outcome.result.takes) {
      for (let part = 0; part < previewParts; part++) {
        const path = this.previewPath(id, part);
        if (this.whole.has(path)) continue;
        if (!isPreviewScript(await readSealed(path), id, part)) return false;
        this.whole.add(path);
      }
    }
    return true;
  }

  private takesPath(key: string): string {
    return join(this.folder, 'takes', key.slice(0, 2), `${key}-${this.takesKey}.json`);
  }

  private audioPath(digest: string): string {
    return join(this.folder, 'takes', digest.slice(0, 2), `${digest}-${this.takesKey}.audio`);
  }

  private get filesPath(): string {
    return join(this.folder, 'files.json');
  }
}

async function readOutcome(path: string): Promise<FileOutcome | null> {
  const text = await readSealed(path);
  return text === null ? null : (JSON.parse(text) as FileOutcome);
}

const namesIn = (folder: string): Promise<string[]> => readdir(folder).catch(() => []);

/** A result of another version of the program has all that this one reads. */
function isWhole(outcome: FileOutcome): boolean {
  if (!outcome.ok) return false;
  const { takes, kind, format, embedded, warnings } = outcome.result;
  const described = [format, embedded].every((part) => typeof part === 'object' && part !== null);
  return (
    described &&
    typeof kind === 'string' &&
    Array.isArray(warnings) &&
    takes.every(({ measurements }) => hasAllMeasurements(measurements))
  );
}

/** Path of a preview part below the previews folder, in the cache and in the site. */
export function previewName(id: string, part: number): string {
  return `${id.slice(0, 2)}/${id}.${part}.js`;
}
