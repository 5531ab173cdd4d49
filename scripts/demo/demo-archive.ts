/**
 * Writes the demo archive: recordings, as a composer's drive might hold them, for the score of an invented stop-motion
 * film set on a tidal island. Everything is synthesised; `truth.json` says what is true of it by construction.
 */
import { mkdir, mkdtemp, readdir, readFile, rename, rm, rmdir, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { planArchive, soundsIn } from './plan/plan-archive.ts';
import { renderFile } from './render-file.ts';
import { type ArchiveTruth, type FileTruth, TRUTH_MAGIC, TRUTH_VERSION } from './truth.ts';

export interface DemoOptions {
  /** How many sounds to write; the written sessions' own number when left out. */
  sounds?: number;
  /** One seed gives one archive, byte for byte on one machine. */
  seed?: number;
  /** Called after each file with the number of sounds written so far. */
  onProgress?: (done: number, total: number) => void;
}

export const TRUTH_FILE = 'truth.json';
export const DEFAULT_SEED = 1;

/**
 * Writes the archive beside `folder` and moves it into place when complete. An existing folder is replaced only when it is
 * empty or holds an earlier demo archive and nothing else.
 */
export async function writeDemoArchive(
  folder: string,
  options: DemoOptions = {},
): Promise<{ files: number; sounds: number }> {
  const seed = options.seed ?? DEFAULT_SEED;
  const target = path.resolve(folder);
  const former = await formerFiles(target);
  const plans = planArchive(options.sounds);
  const total = soundsIn(plans);

  await mkdir(path.dirname(target), { recursive: true });
  const work = await mkdtemp(`${target}.partial-`);
  try {
    const files: FileTruth[] = [];
    let done = 0;
    for (const plan of plans) {
      const { bytes, truth } = await renderFile(plan, seed);
      const place = path.join(work, ...plan.path.split('/'));
      await mkdir(path.dirname(place), { recursive: true });
      await writeFile(place, bytes);
      files.push(truth);
      done += truth.sounds.length;
      options.onProgress?.(done, total);
    }
    const truth: ArchiveTruth = { magic: TRUTH_MAGIC, version: TRUTH_VERSION, seed, soundsWanted: total, files };
    await writeFile(path.join(work, TRUTH_FILE), `${JSON.stringify(truth, null, 1)}\n`);
    await moveIntoPlace(work, target, former !== null);
    return { files: files.length, sounds: done };
  } catch (error) {
    await rm(work, { recursive: true, force: true });
    throw error;
  }
}

/** The files of an earlier demo archive in the folder; null when there is no folder. Throws on anything else. */
async function formerFiles(target: string): Promise<string[] | null> {
  const found = await listFiles(target);
  if (found === null || found.length === 0) return found;
  const known = await knownFiles(path.join(target, TRUTH_FILE));
  if (known === null) {
    throw new Error(
      `${target} is not empty and holds no demo archive. Name a new or empty folder, or one that a demo archive was written to.`,
    );
  }
  const foreign = found.filter((file) => !known.has(file));
  if (foreign.length > 0) {
    throw new Error(
      `${target} holds ${foreign.length} ${foreign.length === 1 ? 'file that is' : 'files that are'} not part of the demo archive, ${foreign[0]} for one. Move them away or name another folder.`,
    );
  }
  return found;
}

async function listFiles(folder: string): Promise<string[] | null> {
  try {
    const entries = await readdir(folder, { recursive: true, withFileTypes: true });
    return entries
      .filter((entry) => !entry.isDirectory())
      .map((entry) => path.relative(folder, path.join(entry.parentPath, entry.name)).split(path.sep).join('/'));
  } catch (error) {
    if (error instanceof Error && 'code' in error && error.code === 'ENOENT') return null;
    throw error;
  }
}

async function knownFiles(truthPath: string): Promise<Set<string> | null> {
  try {
    const truth: unknown = JSON.parse(await readFile(truthPath, 'utf8'));
    if (typeof truth !== 'object' || truth === null) return null;
    if (!('magic' in truth) || truth.magic !== TRUTH_MAGIC || !('files' in truth) || !Array.isArray(truth.files))
      return null;
    return new Set([TRUTH_FILE, ...truth.files.map((file: { path: string }) => file.path)]);
  } catch {
    return null;
  }
}

async function moveIntoPlace(work: string, target: string, replaces: boolean): Promise<void> {
  if (!replaces) return rename(work, target);
  const aside = await mkdtemp(`${target}.former-`);
  await rmdir(aside);
  await rename(target, aside);
  await rename(work, target);
  await rm(aside, { recursive: true, force: true });
}
