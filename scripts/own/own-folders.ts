/**
 * The only module that removes, renames or writes over anything on the disk; a test reads the sources and holds that.
 *
 * It does so only below a real folder whose mark it has just read, and only to files of names that this kind of folder has.
 * A folder that holds anything else is neither removed nor moved. Files and folders go one by one, never a tree at once, so
 * that what appears in the meantime stays.
 */
import type { Dirent, Stats } from 'node:fs';
import { lstat, readdir, readFile, realpath, rename, rmdir, unlink } from 'node:fs/promises';
import { basename, dirname, join, relative, sep } from 'node:path';
import { type FolderKind, finishedName, isLitter, KINDS, type OwnNames, writerOf } from './kinds.ts';
import { startOf } from './process-start.ts';

/**
 * missing: nothing there. empty: a folder with no file that anybody would miss. ours: marked, and all in it has our names.
 * foreign: anything else; `holds` names the first thing that is not ours ('' for the path itself).
 */
export type Standing =
  | { state: 'missing' | 'empty' }
  | { state: 'ours'; files: string[]; folders: string[] }
  | { state: 'foreign'; marked: boolean; holds: string };

/** What stands in the way of a removal or move: never a reason to go on regardless. */
export class NotOurs extends Error {
  override readonly name = 'NotOurs';
}

/** Only looks. */
export async function standingOf(path: string, kind: FolderKind): Promise<Standing> {
  const info = await statOrNull(path);
  if (info === null) return { state: 'missing' };
  if (!info.isDirectory()) return { state: 'foreign', marked: false, holds: '' };
  const names = await namesOf(path, kind);
  const { files, folders, foreign } = await listBelow(path, names ?? beforeMark(kind));
  if (foreign.length > 0) return { state: 'foreign', marked: names !== null, holds: foreign[0] };
  return names === null ? { state: 'empty' } : { state: 'ours', files, folders };
}

/** A process killed while it wrote the mark leaves this much. */
const beforeMark = (kind: FolderKind): OwnNames => ({
  file: (name) => writerOf(name) !== null && finishedName(name) === kind.mark,
  folder: () => false,
});

/** Removes a folder of ours, or an empty one; nothing where there is none. The mark goes last. Throws NotOurs. */
export async function removeFolder(path: string, kind: FolderKind): Promise<void> {
  const standing = await standingOf(path, kind);
  if (standing.state === 'missing') return;
  if (standing.state === 'foreign') throw new NotOurs(`${join(path, standing.holds)} is not ours to remove.`);
  const all = standing.state === 'ours' ? standing : await listBelow(path, beforeMark(kind));
  const place = (name: string): number => (name === kind.first ? 0 : name === kind.mark ? 2 : 1);
  for (const name of all.files.sort((a, b) => place(a) - place(b))) await unlinkFile(join(path, name));
  for (const name of all.folders.reverse()) await rmdir(join(path, name));
  await rmdir(path);
}

/** Gives a folder of ours another place, where nothing is. Throws NotOurs. */
export async function moveFolder(from: string, to: string, kind: FolderKind): Promise<void> {
  const standing = await standingOf(from, kind);
  if (standing.state !== 'ours') throw new NotOurs(`${from} is not ours to move.`);
  if ((await statOrNull(to)) !== null) throw new NotOurs(`${to} is taken.`);
  await rename(from, to);
}

/** Removes a file of ours below a marked folder; nothing where there is none. Throws NotOurs. */
export async function removeFile(path: string): Promise<void> {
  const info = await statOrNull(path);
  if (info === null) return;
  const owner = await ownerOf(path);
  const known = owner?.names.file(owner.name) || isMarkUnderWay(path);
  if (!known || !info.isFile()) throw new NotOurs(`${path} is not ours to remove.`);
  await unlinkFile(path);
}

/** A mark that this very process was writing into a folder that has none yet. */
const isMarkUnderWay = (path: string): boolean =>
  writerOf(path) === process.pid && KINDS.some(({ mark }) => basename(finishedName(path)) === mark);

/** Removes files of ours in a marked folder, and folders of ours left empty, by name. What is not ours stays. */
export async function removeWhere(
  folder: string,
  kind: FolderKind,
  isUnwanted: (name: string) => boolean,
): Promise<void> {
  const names = await namesOf(folder, kind);
  if (names === null) return;
  const { files, folders } = await listBelow(folder, names);
  for (const name of files.filter((name) => name !== kind.mark && isUnwanted(name)))
    await unlinkFile(join(folder, name));
  for (const name of folders.filter(isUnwanted).reverse()) {
    await rmdir(join(folder, name)).catch((error: NodeJS.ErrnoException) => {
      if (!['ENOTEMPTY', 'EEXIST', 'ENOENT'].includes(error.code ?? '')) throw error;
    });
  }
}

/** Whether a name, or that of a folder above it, was being written by a process that is no more, or by this one. */
export function isLeftOver(name: string): boolean {
  return name.split('/').some((part) => {
    const writer = writerOf(part);
    // A killed build may have had the number that this process has now.
    return writer !== null && (writer === process.pid || startOf(writer) === 'gone');
  });
}

/** Gives a file written beside its place its name, in the place of an older one. Throws NotOurs. */
export async function putInPlace(temporary: string, path: string): Promise<void> {
  await assertWritable(path);
  if (finishedName(temporary) !== path) throw new NotOurs(`${temporary} is not what is to become ${path}.`);
  await rename(temporary, path);
}

/** The same for a folder made beside its place within a marked folder, where nothing is. Throws NotOurs. */
export async function putFolderInPlace(temporary: string, path: string): Promise<void> {
  const owner = await ownerOf(path);
  const within = (name: string): string => `${owner?.name}/${name}`;
  const known = owner?.names.folder(owner.name) && finishedName(temporary) === path;
  const { foreign } = await listBelow(temporary, {
    file: (name) => owner?.names.file(within(name)) ?? false,
    folder: (name) => owner?.names.folder(within(name)) ?? false,
  });
  if (!known || foreign.length > 0 || (await statOrNull(path)) !== null) {
    throw new NotOurs(`${temporary} cannot become ${path}: ${foreign[0] ?? 'that name'} is in the way.`);
  }
  await rename(temporary, path);
}

/** Throws NotOurs unless a file may be written here: of our names, in a marked folder, over nothing but an own file. */
export async function assertWritable(path: string): Promise<void> {
  const owner = await ownerOf(path);
  if (owner === null || !owner.names.file(owner.name)) throw new NotOurs(`${path} is in no folder marked as ours.`);
  const former = await statOrNull(path);
  if (former !== null && !former.isFile()) throw new NotOurs(`${path} is not a file of ours.`);
}

/** Makes the text in `temporary`, written beside, the mark of a folder that has none. Throws NotOurs. */
export async function putMark(temporary: string, folder: string, kind: FolderKind): Promise<void> {
  const path = join(folder, kind.mark);
  const marks = kind.namesOf(await readFile(temporary, 'utf8')) !== null && finishedName(temporary) === path;
  if (!marks || (await statOrNull(path)) !== null) throw new NotOurs(`${path} is not ours to write.`);
  await rename(temporary, path);
}

/** What a folder's mark says; null where there is no mark, or none of this kind. */
export async function namesOf(folder: string, kind: FolderKind): Promise<OwnNames | null> {
  const mark = join(folder, kind.mark);
  if (!(await statOrNull(mark))?.isFile()) return null;
  return kind.namesOf(await readFile(mark, 'utf8'));
}

interface Owner {
  names: OwnNames;
  /** Of the path below the marked folder. */
  name: string;
}

/** The nearest marked folder above a path, by real paths: a link in between leads out of it. */
async function ownerOf(path: string): Promise<Owner | null> {
  const real = join(await realFolder(dirname(path)), basename(path));
  for (let folder = dirname(real); ; folder = dirname(folder)) {
    for (const kind of KINDS) {
      const names = await namesOf(folder, kind);
      if (names !== null) return { names, name: toSlashes(relative(folder, real)) };
    }
    if (dirname(folder) === folder) return null;
  }
}

/** The real path of a folder that may not exist yet. */
async function realFolder(path: string): Promise<string> {
  try {
    return await realpath(path);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT' || dirname(path) === path) throw error;
    return join(await realFolder(dirname(path)), basename(path));
  }
}

/** Names below a folder, parents before what is in them. Links are never followed, and never ours. */
export async function listBelow(
  root: string,
  names: OwnNames,
): Promise<{ files: string[]; folders: string[]; foreign: string[] }> {
  const found = { files: [] as string[], folders: [] as string[], foreign: [] as string[] };
  const walk = async (below: string): Promise<void> => {
    for (const entry of await entriesOf(join(root, below))) {
      const name = below === '' ? entry.name : `${below}/${entry.name}`;
      if (entry.isDirectory() && names.folder(name)) {
        found.folders.push(name);
        await walk(name);
      } else if (entry.isFile() && (isLitter(name) || names.file(name))) found.files.push(name);
      else found.foreign.push(name);
    }
  };
  await walk('');
  return found;
}

async function entriesOf(folder: string): Promise<Dirent[]> {
  return (await readdir(folder, { withFileTypes: true })).sort((a, b) => (a.name < b.name ? -1 : 1));
}

/** Of the path itself, not of what a link leads to. */
export async function statOrNull(path: string): Promise<Stats | null> {
  try {
    return await lstat(path);
  } catch (error) {
    if (['ENOENT', 'ENOTDIR'].includes((error as NodeJS.ErrnoException).code ?? '')) return null;
    throw error;
  }
}

/** Not there any more is as good as removed. */
async function unlinkFile(path: string): Promise<void> {
  await unlink(path).catch((error: NodeJS.ErrnoException) => {
    if (error.code !== 'ENOENT') throw error;
  });
}

const toSlashes = (path: string): string => (sep === '/' ? path : path.split(sep).join('/'));
