/**
 * Walks the archive folders and lists the audio files in a stable order. Reads only.
 *
 * Links are followed, also out of the archive, but each real folder and file is listed once in an archive folder: where it
 * really lies, else under the first link to it in order of names. So links cost no more than what they lead to, however
 * they cross. Every link that adds nothing, leads out of the archive folder or leads nowhere is told.
 */
import type { Dirent } from 'node:fs';
import { readdir, realpath, stat } from 'node:fs/promises';
import { join, relative, sep } from 'node:path';
import type { FileProblem, FileWarning } from '../../shared/report.ts';
import { type FileFacts, factsOf } from './decode/file-bytes.ts';
import { isAudioName } from './decode/open.ts';
import { mayBeStray, strayAudio } from './stray-audio.ts';

export interface ArchiveFolder {
  /** What the person calls it; shown on the page and part of every place. */
  name: string;
  path: string;
}

export interface ScannedFile extends FileFacts {
  folder: string;
  /** Path below the folder, forward slashes. */
  file: string;
  path: string;
  /** Its folder cannot be looked into: known from an earlier build (away.ts). */
  away?: true;
}

/** A place in an archive folder, or the folder itself, in which nothing could be looked for. */
export interface Unreachable {
  folder: ArchiveFolder;
  /** Path below the folder, forward slashes; "" for the folder itself. */
  file: string;
  /** `empty`: no file at all lies in the folder, as where a drive is not mounted. */
  why: 'missing' | 'empty' | 'unreadable';
}

export interface ScanResult {
  files: ScannedFile[];
  problems: FileProblem[];
  /** What is worth knowing of links. */
  warnings: FileWarning[];
  unreachable: Unreachable[];
}

export async function scanArchive(folders: readonly ArchiveFolder[]): Promise<ScanResult> {
  const result: ScanResult = { files: [], problems: [], warnings: [], unreachable: [] };
  for (const folder of folders) {
    const { files, problems, warnings, unreachable } = await new FolderScan(folder).run();
    result.files.push(...files.sort((a, b) => compare(a.file, b.file)));
    result.problems.push(...problems);
    result.warnings.push(...warnings);
    result.unreachable.push(...unreachable);
  }
  return result;
}

/** Hidden files are not recordings: editors and file systems leave their own data under names with a leading dot. */
const isHidden = (name: string): boolean => name.startsWith('.');

/** An entry as the person sees it, and where it really lies. */
interface Entry {
  path: string;
  real: string;
}

class FolderScan implements ScanResult {
  readonly files: ScannedFile[] = [];
  readonly problems: FileProblem[] = [];
  readonly warnings: FileWarning[] = [];
  readonly unreachable: Unreachable[] = [];
  readonly #folder: ArchiveFolder;
  /** Real path of what has been listed -> where it stands. */
  readonly #listed = new Map<string, string>();
  /** Links met, not followed yet: what really lies in the archive is listed first. */
  readonly #links: string[] = [];
  #root = '';
  #filesSeen = 0;

  constructor(folder: ArchiveFolder) {
    this.#folder = folder;
  }

  async run(): Promise<ScanResult> {
    const { path } = this.#folder;
    try {
      this.#root = await realpath(path);
    } catch (error) {
      const why = codeOf(error) === 'ENOENT' ? 'missing' : 'unreadable';
      this.unreachable.push({ folder: this.#folder, file: '', why });
      return this;
    }
    await this.#walk({ path, real: this.#root });
    for (let next = 0; next < this.#links.length; next++) await this.#follow(this.#links[next]);
    if (this.#filesSeen === 0 && this.unreachable.length === 0) {
      this.unreachable.push({ folder: this.#folder, file: '', why: 'empty' });
    }
    return this;
  }

  async #walk({ path, real }: Entry): Promise<void> {
    let entries: Dirent[];
    try {
      entries = await readdir(real, { withFileTypes: true });
    } catch (error) {
      this.#cannotReach(path);
      this.#problem(
        path,
        `The folder cannot be read (${codeOf(error)}).`,
        'A folder that can be read.',
        PERMISSIONS,
        true,
      );
      return;
    }
    this.#listed.set(real, this.#below(path));
    entries.sort((a, b) => compare(a.name, b.name));
    for (const entry of entries) {
      if (isHidden(entry.name)) continue;
      const inner = { path: join(path, entry.name), real: join(real, entry.name) };
      if (entry.isSymbolicLink()) this.#links.push(inner.path);
      else if (entry.isDirectory()) await this.#enter(inner);
      else if (entry.isFile()) await this.#take(inner);
    }
  }

  async #enter(folder: Entry): Promise<void> {
    if (!this.#isListed(folder)) await this.#walk(folder);
  }

  async #follow(path: string): Promise<void> {
    let real: string;
    let isFolder: boolean;
    try {
      real = await realpath(path);
      isFolder = (await stat(real)).isDirectory();
    } catch (error) {
      const found = `A link that leads nowhere or in a circle (${codeOf(error)}).`;
      this.#cannotReach(path);
      this.#problem(path, found, 'A readable file.', 'Check the link, the drive and the permissions.');
      return;
    }
    // Where a folder above is walked from within, its other folders would be listed, and this one twice.
    if (isFolder && (contains(real, this.#root) || contains(real, await realpath(join(path, '..'))))) {
      const remedy = 'Remove the link; files below this folder are already listed.';
      this.#problem(path, 'A link that leads back to a folder above it.', 'A folder that can be read.', remedy);
      return;
    }
    const entry = { path, real };
    if (isFolder) {
      if (this.#isListed(entry)) return;
      this.#tellIfOutside(entry);
      await this.#walk(entry);
    } else await this.#take(entry, () => this.#tellIfOutside(entry));
  }

  #tellIfOutside({ path, real }: Entry): void {
    if (contains(this.#root, real)) return;
    this.#warn(path, `A link out of the archive, to ${real}: what lies there is listed as if it lay here.`);
  }

  async #take({ path, real }: Entry, onListed?: () => void): Promise<void> {
    this.#filesSeen++;
    const name = path.slice(path.lastIndexOf(sep) + 1);
    if (!isAudioName(name)) {
      const stray = mayBeStray(name) ? await strayAudio(real) : null;
      if (stray === null) return;
      if (!stray.readable) {
        this.#problem(path, stray.found, 'WAV, AIFF, FLAC, MP3, Ogg Vorbis or Opus.', EXPORT);
        return;
      }
    }
    if (this.#isListed({ path, real })) return;
    let facts: FileFacts;
    try {
      const info = await stat(real, { bigint: true });
      if (!info.isFile()) return;
      facts = factsOf(info);
    } catch (error) {
      this.#cannotReach(path);
      this.#problem(path, `The file cannot be looked at (${codeOf(error)}).`, 'A readable file.', PERMISSIONS, true);
      return;
    }
    const file = this.#below(path);
    this.#listed.set(real, file);
    this.files.push({ folder: this.#folder.name, file, path, ...facts });
    onListed?.();
  }

  /** Says so where it stands elsewhere already. */
  #isListed({ path, real }: Entry): boolean {
    const where = this.#listed.get(real);
    if (where === undefined) return false;
    this.#warn(path, `A link to what is listed as "${where}" already; it is not listed twice.`);
    return true;
  }

  #cannotReach(path: string): void {
    this.unreachable.push({ folder: this.#folder, file: this.#below(path), why: 'unreadable' });
  }

  /** `passing`: the machine failed, and the next build may find all well. */
  #problem(path: string, found: string, expected: string, remedy: string, passing = false): void {
    const problem = { folder: this.#folder.name, file: this.#below(path) || '.', found, expected, remedy };
    this.problems.push(passing ? { ...problem, passing } : problem);
  }

  #warn(path: string, message: string): void {
    this.warnings.push({ folder: this.#folder.name, file: this.#below(path), message });
  }

  #below(path: string): string {
    const way = relative(this.#folder.path, path);
    return sep === '/' ? way : way.split(sep).join('/');
  }
}

const PERMISSIONS = 'Check the drive and the permissions, then build again.';
const EXPORT = 'Export the sound in one of these formats, then build again.';

function contains(folder: string, path: string): boolean {
  return path === folder || path.startsWith(folder.endsWith(sep) ? folder : folder + sep);
}

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
const codeOf = (error: unknown): string => (error as NodeJS.ErrnoException).code ?? String(error);
