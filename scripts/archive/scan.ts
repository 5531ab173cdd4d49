/** Walks the archive folders and lists the audio files in a stable order. Reads only; follows links but never in circles. */
import type { BigIntStats, Dirent } from 'node:fs';
import { readdir, realpath, stat } from 'node:fs/promises';
import { join, relative, sep } from 'node:path';
import type { FileProblem } from '../../shared/report.ts';
import { type FileFacts, factsOf } from './decode/file-bytes.ts';
import { isAudioName } from './decode/open.ts';

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
}

export interface ScanResult {
  files: ScannedFile[];
  problems: FileProblem[];
}

/** Hidden files are not recordings: editors and file systems leave their own data under names with a leading dot. */
const isHidden = (name: string): boolean => name.startsWith('.');

export async function scanArchive(folders: readonly ArchiveFolder[]): Promise<ScanResult> {
  const files: ScannedFile[] = [];
  const problems: FileProblem[] = [];
  for (const folder of folders) {
    const open = new Set<string>();
    await walk(folder.path);

    async function walk(path: string): Promise<void> {
      const real = await realpath(path);
      const problem = (found: string, remedy: string): void => {
        const file = toSlashes(relative(folder.path, path)) || '.';
        problems.push({ folder: folder.name, file, found, expected: 'A folder that can be read.', remedy });
      };
      if (open.has(real)) {
        problem('A link that leads back to a folder above it.', 'Remove the link; its files are already listed.');
        return;
      }
      let entries: Dirent[];
      try {
        entries = await readdir(path, { withFileTypes: true });
      } catch (error) {
        problem(`The folder cannot be read (${reason(error)}).`, 'Check its permissions.');
        return;
      }
      open.add(real);
      entries.sort((a, b) => (a.name < b.name ? -1 : 1));
      for (const entry of entries) {
        if (isHidden(entry.name)) continue;
        await visit(entry, join(path, entry.name));
      }
      open.delete(real);
    }

    async function visit(entry: Dirent, path: string): Promise<void> {
      const file = toSlashes(relative(folder.path, path));
      let info: BigIntStats;
      try {
        info = await stat(path, { bigint: true });
      } catch (error) {
        if (!entry.isDirectory() && !isAudioName(entry.name) && !entry.isSymbolicLink()) return;
        problems.push({
          folder: folder.name,
          file,
          found: entry.isSymbolicLink()
            ? `A link that leads nowhere or in a circle (${reason(error)}).`
            : `The file cannot be looked at (${reason(error)}).`,
          expected: 'A readable file.',
          remedy: 'Check the link, the drive and the permissions.',
        });
        return;
      }
      if (info.isDirectory()) await walk(path);
      else if (info.isFile() && isAudioName(entry.name)) {
        files.push({ folder: folder.name, file, path, ...factsOf(info) });
      }
    }
  }
  return { files, problems };
}

const toSlashes = (path: string): string => (sep === '/' ? path : path.split(sep).join('/'));
const reason = (error: unknown): string => (error as NodeJS.ErrnoException).code ?? String(error);
