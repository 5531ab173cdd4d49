/**
 * Sounds whose folder cannot be looked into: a drive that is not mounted, a share that is not connected. They stay on the
 * page as the last build that met them measured them, marked as away, until their folder is there again or is no longer
 * named. A single file that has gone from a folder that is there was taken away by somebody, and is gone.
 *
 * `seen.json` in the cache keeps, for each archive folder, which files the last build found there, with the digest of their
 * content, by the day they were last seen.
 */
import { join, resolve } from 'node:path';
import { z } from 'zod';
import type { AwayPlace } from '../../shared/report.ts';
import { writeWhole } from '../atomic-file.ts';
import { readSealed, sealed } from '../own/seal.ts';
import type { BuildCache } from './cache.ts';
import type { CataloguedFolder } from './catalogue.ts';
import type { ArchiveFolder, ScannedFile, ScanResult, Unreachable } from './scan.ts';
import type { Corrections } from './split-corrections.ts';
import { splitSettingsFor } from './split-settings.ts';

const SEEN_VERSION = 1;
/** Folder -> day -> file below it -> digest of its content. */
const seenSchema = z.object({
  version: z.literal(SEEN_VERSION),
  folders: z.record(z.string(), z.record(z.string(), z.record(z.string(), z.string()))),
});

/** yyyy-mm-dd, by the clock of the machine. */
type Day = string;
interface SeenFile {
  digest: string;
  day: Day;
}

export class SeenFiles {
  readonly #path: string;
  readonly #folders: Map<string, Map<string, SeenFile>>;

  private constructor(path: string, folders: Map<string, Map<string, SeenFile>>) {
    this.#path = path;
    this.#folders = folders;
  }

  /** Reads only; a list that is missing or damaged knows nothing. */
  static async open(cacheFolder: string): Promise<SeenFiles> {
    const path = join(cacheFolder, 'seen.json');
    const folders = new Map<string, Map<string, SeenFile>>();
    try {
      const stored = seenSchema.parse(JSON.parse((await readSealed(path)) ?? ''));
      for (const [folder, days] of Object.entries(stored.folders)) {
        const files = new Map<string, SeenFile>();
        for (const [day, digests] of Object.entries(days)) {
          for (const [file, digest] of Object.entries(digests)) files.set(file, { digest, day });
        }
        folders.set(folder, files);
      }
    } catch {
      // Nothing is known then.
    }
    return new SeenFiles(path, folders);
  }

  knows(folder: string): boolean {
    return (this.#folders.get(resolve(folder))?.size ?? 0) > 0;
  }

  /** Files that an earlier build met at a place that cannot be looked into now, in order of their names. */
  at({ folder, file }: Unreachable): [file: string, seen: SeenFile][] {
    const all = [...(this.#folders.get(resolve(folder.path)) ?? [])];
    const there = file === '' ? all : all.filter(([name]) => name === file || name.startsWith(`${file}/`));
    return there.sort(([a], [b]) => (a < b ? -1 : 1));
  }

  /**
   * Keeps what this build met. `digestOf`: of a file's content; where it could not be read this time, what was known of it stays.
   */
  async note(
    folders: readonly ArchiveFolder[],
    { files, unreachable }: ScanResult,
    digestOf: (file: ScannedFile) => string | null,
    day: Day,
  ): Promise<void> {
    for (const folder of folders) {
      const before = this.#folders.get(resolve(folder.path));
      const now = new Map<string, SeenFile>();
      for (const place of unreachable) {
        if (place.folder === folder) for (const [file, seen] of this.at(place)) now.set(file, seen);
      }
      for (const file of files) {
        if (file.folder !== folder.name) continue;
        const digest = digestOf(file);
        const seen = digest === null ? before?.get(file.file) : { digest, day };
        if (seen) now.set(file.file, seen);
      }
      this.#folders.set(resolve(folder.path), now);
    }
    const stored: Record<string, Record<Day, Record<string, string>>> = {};
    for (const [folder, files] of [...this.#folders].sort(([a], [b]) => (a < b ? -1 : 1))) {
      const days: Record<Day, Record<string, string>> = {};
      for (const [file, seen] of files) {
        days[seen.day] ??= {};
        days[seen.day][file] = seen.digest;
      }
      stored[folder] = days;
    }
    await writeWhole(this.#path, sealed(JSON.stringify({ version: SEEN_VERSION, folders: stored })));
  }
}

export interface AwayFiles {
  files: ScannedFile[];
  /** Under which the cache holds what each of them gave. */
  takesKeys: Map<ScannedFile, string>;
  /** Where they are missed; `sounds` is not counted yet. */
  places: AwayPlace[];
}

/** What can still be shown of the places that cannot be looked into; places where nothing was ever known are left out. */
export async function awayFiles(
  unreachable: readonly Unreachable[],
  seen: SeenFiles,
  cache: BuildCache,
  folders: readonly CataloguedFolder[],
  corrections: Corrections,
): Promise<AwayFiles> {
  const files: ScannedFile[] = [];
  const takesKeys = new Map<ScannedFile, string>();
  const places: AwayPlace[] = [];
  const splits = new Map(folders.map(({ name, split }) => [name, split]));
  for (const place of unreachable) {
    const known = seen.at(place);
    if (known.length === 0) continue;
    const { folder, why } = place;
    let notShown = 0;
    for (const [name, { digest }] of known) {
      const file: ScannedFile = {
        folder: folder.name,
        file: name,
        path: join(folder.path, name),
        size: 0,
        modified: '',
        changed: '',
        inode: '',
        away: true,
      };
      const asked = await cache.takesKeyFor(digest, splitSettingsFor(name, splits.get(folder.name)), corrections);
      const key = (await cache.outcome(asked)) ? asked : await cache.earlierOutcome(digest);
      if (key === null) notShown++;
      else {
        takesKeys.set(file, key);
        files.push(file);
      }
    }
    const days = known.map(([, { day }]) => day).sort();
    const lastSeen = days[days.length - 1];
    const at = { folder: folder.name, file: place.file, path: join(folder.path, place.file) };
    places.push({ ...at, why, files: known.length, notShown, sounds: 0, lastSeen });
  }
  return { files, takesKeys, places };
}

/** Today, by the clock of the machine. */
export function today(now = new Date()): Day {
  const two = (number: number): string => String(number).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
