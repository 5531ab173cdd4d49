/**
 * Writes the demo archive: recordings, as a composer's drive might hold them, for the score of an invented stop-motion
 * film set on a tidal island. Everything is synthesised; `truth.json` says what is true of it by construction.
 */
import { mkdir, readdir } from 'node:fs/promises';
import { availableParallelism } from 'node:os';
import path from 'node:path';
import { underWay, writeMark, writeWhole } from '../atomic-file.ts';
import { shown, WrongUsage } from '../messages.ts';
import { locate } from '../own/apart.ts';
import { DEMO, finishedName, TRUTH_FILE } from '../own/kinds.ts';
import { isLeftOver, moveFolder, removeFolder, standingOf } from '../own/own-folders.ts';
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
  const target = (await locate(folder)).real;
  await assertReplaceable(target);
  const plans = planArchive(options.sounds, seed);
  const total = soundsIn(plans);

  await removeLeftOvers(target);
  const work = underWay(target);
  await mkdir(work, { recursive: true });
  try {
    // The truth is the folder's mark: until all is written it says no more than which files there will be.
    const head = { magic: TRUTH_MAGIC, version: TRUTH_VERSION, seed, soundsWanted: total } as const;
    const planned = plans.map((plan) => ({ path: plan.path }));
    await writeMark(work, DEMO, `${JSON.stringify({ ...head, files: planned })}\n`);
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
    const truth: ArchiveTruth = { ...head, files };
    await writeWhole(path.join(work, TRUTH_FILE), `${JSON.stringify(truth, null, 1)}\n`);
    await moveIntoPlace(work, target);
    return { files: files.length, sounds: done };
  } catch (error) {
    await removeFolder(work, DEMO);
    throw error;
  }
}

function assertWhole(name: string, value: number, least: number): void {
  if (Number.isSafeInteger(value) && value >= least) return;
  throw new RangeError(`${name} is ${value}; it must be a whole number of at least ${least}.`);
}

/** Throws unless there is no such folder, or it is empty, or it holds a demo archive and nothing else. */
async function assertReplaceable(target: string): Promise<void> {
  const standing = await standingOf(target, DEMO);
  if (standing.state !== 'foreign') return;
  if (standing.marked) {
    throw new WrongUsage(
      `${target} holds what is not part of the demo archive (${shown(standing.holds)}). Move it away or name another folder.`,
    );
  }
  throw new WrongUsage(
    `${target} is not empty and holds no demo archive. Name a new or empty folder, or one that a demo archive was written to.`,
  );
}

/** What a run that was killed had written so far, or moved aside. */
async function removeLeftOvers(target: string): Promise<void> {
  const beside = await readdir(path.dirname(target)).catch(() => []);
  for (const name of beside.filter((name) => isLeftOver(name) && finishedName(name) === path.basename(target))) {
    const left = path.join(path.dirname(target), name);
    if ((await standingOf(left, DEMO)).state !== 'foreign') await removeFolder(left, DEMO);
  }
}

/** The former folder is moved aside first, so that a reader finds the old archive or the new one, never a mixture. */
async function moveIntoPlace(work: string, target: string): Promise<void> {
  const former = await standingOf(target, DEMO);
  if (former.state === 'empty') await removeFolder(target, DEMO);
  if (former.state !== 'ours') return moveFolder(work, target, DEMO);
  const aside = underWay(target);
  await moveFolder(target, aside, DEMO);
  await moveFolder(work, target, DEMO);
  await removeFolder(aside, DEMO);
}
