/**
 * Writes the demo archive: recordings, as a composer's drive might hold them, for the score of an invented stop-motion
 * film set on a tidal island. Everything is synthesised; `truth.json` says what is true of it by construction.
 */
import { randomBytes } from 'node:crypto';
import { mkdir, readdir, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { availableParallelism } from 'node:os';
import path from 'node:path';
import { planArchive, soundsIn } from './plan/plan-archive.ts';
import { renderFiles } from './render-pool.ts';
import { type ArchiveTruth, TRUTH_MAGIC, TRUTH_VERSION } from './truth.ts';

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
/** Below this many sounds starting threads costs more than it saves. */
const SOUNDS_WORTH_THREADS = 60;
const MOST_WORKERS = 4;

/**
 * Writes the archive beside `folder` and moves it into place when complete. An existing folder is replaced only when it is
 * empty or holds an earlier demo archive and nothing else.
 */
export async function writeDemoArchive(
  folder: string,
  options: DemoOptions = {},
): Promise<{ files: number; sounds: number }> {
  const seed = options.seed ?? DEFAULT_SEED;
  assertWhole('sounds', options.sounds ?? 1, 1);
  assertWhole('seed', seed, 0);
  const target = path.resolve(folder);
  await assertReplaceable(target);
  const plans = planArchive(options.sounds, seed);
  const total = soundsIn(plans);

  await mkdir(path.dirname(target), { recursive: true });
  const work = `${target}.partial-${randomBytes(4).toString('hex')}`;
  await mkdir(work);
  try {
    let done = 0;
    const files = await renderFiles(plans, {
      folder: work,
      seed,
      workers: total < SOUNDS_WORTH_THREADS ? 0 : Math.min(MOST_WORKERS, availableParallelism()),
      onFile: (truth) => {
        done += truth.sounds.length;
        options.onProgress?.(done, total);
      },
    });
    const truth: ArchiveTruth = { magic: TRUTH_MAGIC, version: TRUTH_VERSION, seed, soundsWanted: total, files };
    await writeFile(path.join(work, TRUTH_FILE), `${JSON.stringify(truth, null, 1)}\n`);
    await moveIntoPlace(work, target);
    return { files: files.length, sounds: done };
  } catch (error) {
    await rm(work, { recursive: true, force: true });
    throw error;
  }
}

function assertWhole(name: string, value: number, least: number): void {
  if (Number.isSafeInteger(value) && value >= least) return;
  throw new RangeError(`${name} is ${value}; it must be a whole number of at least ${least}.`);
}

/** Throws unless there is no such folder, or it is empty, or it holds a demo archive and nothing else. */
async function assertReplaceable(target: string): Promise<void> {
  const found = await listFiles(target);
  if (found.length === 0) return;
  const known = await knownFiles(path.join(target, TRUTH_FILE));
  if (known === null) {
    throw new Error(
      `${target} is not empty and holds no demo archive. Name a new or empty folder, or one that a demo archive was written to.`,
    );
  }
  const foreign = found.filter((file) => !known.has(file));
  if (foreign.length > 0) {
    const count = foreign.length === 1 ? 'a file that is' : `${foreign.length} files that are`;
    throw new Error(
      `${target} holds ${count} not part of the demo archive (${foreign[0]}). Move them away or name another folder.`,
    );
  }
}

/** Everything in a folder that is no folder, with forward slashes; nothing where there is no such folder. */
async function listFiles(folder: string): Promise<string[]> {
  try {
    const entries = await readdir(folder, { recursive: true, withFileTypes: true });
    return entries
      .filter((entry) => !entry.isDirectory())
      .map((entry) => path.relative(folder, path.join(entry.parentPath, entry.name)).split(path.sep).join('/'));
  } catch (error) {
    if (hasCode(error, 'ENOENT')) return [];
    throw error;
  }
}

/** The files that a demo archive's truth lists, and the truth itself; null where there is no such truth. */
async function knownFiles(truthPath: string): Promise<Set<string> | null> {
  let truth: unknown;
  try {
    truth = JSON.parse(await readFile(truthPath, 'utf8'));
  } catch (error) {
    if (error instanceof SyntaxError || hasCode(error, 'ENOENT')) return null;
    throw error;
  }
  if (typeof truth !== 'object' || truth === null || !('magic' in truth) || truth.magic !== TRUTH_MAGIC) return null;
  if (!('files' in truth) || !Array.isArray(truth.files)) return null;
  return new Set([TRUTH_FILE, ...truth.files.map((file: unknown) => pathOf(file))]);
}

function pathOf(file: unknown): string {
  return typeof file === 'object' && file !== null && 'path' in file ? String(file.path) : '';
}

function hasCode(error: unknown, code: string): boolean {
  return error instanceof Error && 'code' in error && error.code === code;
}

/** The former folder is moved aside first, so that a reader finds the old archive or the new one, never a mixture. */
async function moveIntoPlace(work: string, target: string): Promise<void> {
  const aside = `${work}.former`;
  let replaces = true;
  try {
    await rename(target, aside);
  } catch (error) {
    if (!hasCode(error, 'ENOENT')) throw error;
    replaces = false;
  }
  await rename(work, target);
  if (replaces) await rm(aside, { recursive: true, force: true });
}
