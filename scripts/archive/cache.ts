/**
 * What is already known about the archive, below `.cache/`. Nothing here is ever needed: without it all is computed
 * again, with the same result.
 *
 *   files.json                     path -> size, modification time, digest of the content
 *   takes/<content>[-<split>]-<parameters>.json   what one file gave (or why it gave nothing), cut as the catalogue asks
 *   takes/<content>-<parameters>.audio            identity of its decoded audio, by which the catalogue knows it
 *   previews/<parameters>/<xx>/<id>.<part>.js   what the page plays, in its final form
 *   compiled/                                   what Node compiled for the measuring threads; Node checks its source
 */
import { existsSync } from 'node:fs';
import { readdir, readFile, rm } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { writeWhole } from '../atomic-file.ts';
import { PREVIEW } from '../publish/preview.ts';
import { roundedJson } from '../rounded-json.ts';
import { sourceDigest } from '../source-digest.ts';
import { parametersDigest } from './identity.ts';
import type { ProcessedFile } from './process-file.ts';
import type { ScannedFile } from './scan.ts';
import type { Corrections } from './split-corrections.ts';
import { type SplitSettings, USUAL_SPLIT } from './split-settings.ts';

/** What one file gave. A file that cannot be used is remembered too, or it would be tried again at every build. */
export type FileOutcome =
  | { ok: true; result: ProcessedFile }
  | { ok: false; found: string; expected: string; remedy: string };

interface KnownFile {
  size: number;
  modified: string;
  digest: string;
}

const CACHE_VERSION = 1;

/** Everything that decides what a file gives: results of an older program are not used. */
const MEASURING_SOURCE = [
  'shared/measure',
  'shared/sound.ts',
  'shared/vector-code.ts',
  'scripts/archive',
  'scripts/publish/preview.ts',
  'package-lock.json',
];

const currentTakesKey = (): string => parametersDigest({ CACHE_VERSION, source: sourceDigest(MEASURING_SOURCE) });

export class BuildCache {
  readonly folder: string;
  readonly previewFolder: string;
  /** Stands for the measuring source; workers get it from the build, so that all speak of the same program. */
  readonly takesKey: string;
  private known = new Map<string, KnownFile>();
  private changed = false;

  private constructor(folder: string, takesKey: string) {
    this.folder = folder;
    this.previewFolder = join(folder, 'previews', parametersDigest(PREVIEW));
    this.takesKey = takesKey;
  }

  static async open(folder: string, takesKey = currentTakesKey()): Promise<BuildCache> {
    const cache = new BuildCache(folder, takesKey);
    try {
      const stored = JSON.parse(await readFile(cache.filesPath, 'utf8')) as {
        version: number;
        files: Record<string, KnownFile>;
      };
      if (stored.version === CACHE_VERSION) cache.known = new Map(Object.entries(stored.files));
    } catch {
      // No list, or a damaged one: every file's content is looked at again.
    }
    return cache;
  }

  /** Digest of a file's content, if the file is as it was when last looked at. */
  digestOf({ path, size, modified }: ScannedFile): string | null {
    const known = this.known.get(path);
    return known && known.size === size && known.modified === modified ? known.digest : null;
  }

  remember({ path, size, modified }: ScannedFile, digest: string): void {
    this.known.set(path, { size, modified, digest });
    this.changed = true;
  }

  async saveFiles(): Promise<void> {
    if (!this.changed) return;
    this.changed = false;
    const files = Object.fromEntries([...this.known].sort(([a], [b]) => (a < b ? -1 : 1)));
    await writeWhole(this.filesPath, JSON.stringify({ version: CACHE_VERSION, files }));
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
    return readFile(this.audioPath(digest), 'utf8').catch(() => null);
  }

  async saveAudio(digest: string, audio: string): Promise<void> {
    await writeWhole(this.audioPath(digest), audio);
  }

  /** `key` as `takesKeyFor` gives it. */
  async outcome(key: string): Promise<FileOutcome | null> {
    try {
      const outcome = JSON.parse(await readFile(this.takesPath(key), 'utf8')) as FileOutcome;
      return this.hasPreviews(outcome) ? outcome : null;
    } catch {
      return null;
    }
  }

  async saveOutcome(key: string, outcome: FileOutcome): Promise<void> {
    await writeWhole(this.takesPath(key), roundedJson(outcome));
  }

  previewPath(id: string, part: number): string {
    return join(this.previewFolder, previewName(id, part));
  }

  /** Removes what other versions of the program left behind: nothing of it would ever be read again. */
  async forgetOlder(): Promise<void> {
    const stale: string[] = [];
    for (const name of await namesIn(join(this.folder, 'previews'))) {
      if (name !== basename(this.previewFolder)) stale.push(join(this.folder, 'previews', name));
    }
    for (const folder of await namesIn(join(this.folder, 'takes'))) {
      for (const name of await namesIn(join(this.folder, 'takes', folder))) {
        if (!name.includes(this.takesKey)) stale.push(join(this.folder, 'takes', folder, name));
      }
    }
    for (const path of stale) await rm(path, { recursive: true, force: true });
  }

  private hasPreviews(outcome: FileOutcome): boolean {
    if (!outcome.ok) return true;
    return outcome.result.takes.every(({ id, previewParts }) => existsSync(this.previewPath(id, previewParts - 1)));
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

/** Path of a preview part below the previews folder, in the cache and in the site. */
export function previewName(id: string, part: number): string {
  return `${id.slice(0, 2)}/${id}.${part}.js`;
}

const namesIn = (folder: string): Promise<string[]> => readdir(folder).catch(() => []);
