/**
 * The folders of a build must not meet: what is written to lies neither in, nor around, nor where another of them is.
 *
 * Compared is what the system knows a folder by (device and inode), from the nearest folder that exists upwards, so that links,
 * capitals and second mounts make no difference; names count only for the part that is not there yet.
 */
import type { BigIntStats } from 'node:fs';
import { lstat, readdir, realpath, stat } from 'node:fs/promises';
import { homedir } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';
import { messageOf, WrongUsage } from '../messages.ts';
import { projectFolder } from '../paths.ts';

export interface FolderRole {
  path: string;
  /** As it stands in a sentence: "the archive". */
  called: string;
  /** How to choose another one: "--out"; null for those that are only read and so may meet each other. */
  option: string | null;
}

/** A path with all links followed; its last parts may not exist yet. */
export interface Located {
  real: string;
  /** Of the nearest folder that exists, then of those above it up to the root. */
  existing: string[];
  /** Of that nearest folder. */
  existingPath: string;
  planned: string[];
}

export type IgnoresCase = (folder: string) => Promise<boolean>;

/** Parts of the project that no site or cache belongs into. */
const PROJECT_PARTS = ['.ci', '.git', 'catalogue', 'node_modules', 'scripts', 'shared', 'src', 'tests'];

/** Throws WrongUsage, naming both folders and what to do. Touches nothing. */
export async function assertApart(
  roles: readonly FolderRole[],
  { ignoresCase = folderIgnoresCase, home = homedir() }: { ignoresCase?: IgnoresCase; home?: string } = {},
): Promise<void> {
  const located = await Promise.all(roles.map(async (role) => ({ ...role, at: await locate(role.path) })));
  const [homeAt, projectAt] = await Promise.all([locate(home).catch(() => null), locate(projectFolder)]);
  const parts = await Promise.all(PROJECT_PARTS.map((part) => locate(join(projectFolder, part))));
  for (const { path, called, option, at } of located) {
    if (option === null) continue;
    const refuse = (where: string): never => {
      throw new WrongUsage(
        `${capital(called)} ${path} would ${where}. Nothing was written. Choose another with ${option}.`,
      );
    };
    if (at.existing.length === 1 && at.planned.length === 0) refuse('be the whole drive');
    if (await contains(at, projectAt, ignoresCase)) refuse('be, or hold, the folder of this program');
    if (homeAt !== null && (await contains(at, homeAt, ignoresCase))) refuse('be, or hold, your home folder');
    for (const part of parts)
      if (await contains(part, at, ignoresCase)) refuse(`lie in this program's own ${part.real}`);
  }
  for (const [index, one] of located.entries()) {
    for (const other of located.slice(index + 1)) {
      if (one.option === null && other.option === null) continue;
      const [oneInOther, otherInOne] = [
        await contains(other.at, one.at, ignoresCase),
        await contains(one.at, other.at, ignoresCase),
      ];
      if (!oneInOther && !otherInOne) continue;
      const [inner, outer] = oneInOther ? [one, other] : [other, one];
      const how = oneInOther && otherInOne ? 'are the same folder' : null;
      const said =
        how !== null
          ? `${capital(one.called)} ${one.path} and ${other.called} ${other.path} ${how}`
          : `${capital(inner.called)} ${inner.path} would lie inside ${outer.called} ${outer.path}`;
      const options = [...new Set([one.option, other.option])].filter((option) => option !== null).join(' or ');
      throw new WrongUsage(
        `${said}. They must lie apart, since a build writes there. Nothing was written. Choose another folder with ${options}.`,
      );
    }
  }
}

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

/** Throws WrongUsage when the path leads over a file or a link to nowhere. */
export async function locate(path: string): Promise<Located> {
  const planned: string[] = [];
  let at = resolve(path);
  while (!(await isThere(at))) {
    planned.unshift(basename(at));
    at = dirname(at);
  }
  const real = await realpath(at).catch(() => {
    throw new WrongUsage(`${at} is a link that leads nowhere. Remove it or name another folder.`);
  });
  const existing: string[] = [];
  for (let folder = real; ; folder = dirname(folder)) {
    const info = await stat(folder, { bigint: true });
    if (folder === real && planned.length > 0 && !info.isDirectory()) {
      throw new WrongUsage(`${at} is a file; a folder was expected in ${path}.`);
    }
    existing.push(identity(info));
    if (dirname(folder) === folder) break;
  }
  return { real: join(real, ...planned), existing, existingPath: real, planned };
}

async function isThere(path: string): Promise<boolean> {
  try {
    await lstat(path);
    return true;
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT' || code === 'ENOTDIR') return false;
    throw new WrongUsage(`${path} cannot be looked at (${messageOf(error)}). Name another folder.`);
  }
}

const identity = ({ dev, ino }: BigIntStats): string => `${dev}:${ino}`;

/** Whether `path` is `folder` or lies in it. */
async function contains(folder: Located, path: Located, ignoresCase: IgnoresCase): Promise<boolean> {
  if (folder.planned.length === 0) return path.existing.includes(folder.existing[0]);
  if (folder.existing[0] !== path.existing[0] || folder.planned.length > path.planned.length) return false;
  const exact = folder.planned.every((name, index) => sameForm(name) === sameForm(path.planned[index]));
  if (exact) return true;
  const folded = folder.planned.every((name, index) => folds(name) === folds(path.planned[index]));
  return folded && (await ignoresCase(folder.existingPath));
}

const sameForm = (name: string): string => name.normalize('NFC');
const folds = (name: string): string => sameForm(name).toLowerCase();

/**
 * Whether names that differ in capitals are one name in this folder: looked up by the name of something that is there. Where
 * nothing tells, yes: then such names are refused, which harms nobody.
 */
export async function folderIgnoresCase(folder: string): Promise<boolean> {
  const inside = (await readdir(folder).catch(() => [])).map((name) => join(folder, name));
  for (const path of [...inside.slice(0, 50), folder]) {
    const name = basename(path);
    const other = name === name.toLowerCase() ? name.toUpperCase() : name.toLowerCase();
    if (other === name) continue;
    const [here, there] = await Promise.all([path, join(dirname(path), other)].map(identityOf));
    if (here !== null) return here === there;
  }
  return true;
}

const identityOf = (path: string): Promise<string | null> => lstat(path, { bigint: true }).then(identity, () => null);
