/** The folder of the cache: marked before anything is written to it. */
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { writeMark } from '../atomic-file.ts';
import { shown, WrongUsage } from '../messages.ts';
import { CACHE, CACHE_MARK, CACHE_NAMES } from './kinds.ts';
import { listBelow, namesOf, standingOf, statOrNull } from './own-folders.ts';

/**
 * Throws WrongUsage when the folder is anything but a cache, or empty, or not there. One without a mark, from an older
 * version, passes when all in it has the names of a cache. Only looks; says whether the mark is there.
 */
export async function assertCache(folder: string): Promise<boolean> {
  // What else lies in a marked cache is left alone, but a link would lead out of it.
  if ((await namesOf(folder, CACHE)) !== null) {
    for (const name of ['takes', 'previews', 'layouts', 'page', 'compiled']) {
      const info = await statOrNull(join(folder, name));
      if (info === null || info.isDirectory()) continue;
      throw new WrongUsage(
        `${join(folder, name)} is a link, or no folder: a cache keeps its own folders in itself. ` +
          'Nothing was written there. Name an empty or new folder with --cache.',
      );
    }
    return true;
  }
  const standing = await standingOf(folder, CACHE);
  if (standing.state !== 'foreign') return false;
  const foreign = standing.holds === '' ? '' : (await listBelow(folder, CACHE_NAMES)).foreign.at(0);
  const damaged = standing.holds === CACHE.mark;
  if (foreign === undefined && !damaged) return false;
  const found =
    foreign === '' ? 'is no folder' : `holds ${shown(damaged ? CACHE.mark : (foreign ?? ''))}, which is not of a cache`;
  throw new WrongUsage(
    `${folder} ${found}: nothing was written there. Name an empty or new folder with --cache` +
      `${damaged ? `, or delete ${join(folder, CACHE.mark)} if the folder is an old cache` : ''}.`,
  );
}

/** Makes the folder a cache where it is not one yet. Throws WrongUsage as above. */
export async function openCacheFolder(folder: string): Promise<void> {
  if (await assertCache(folder)) return;
  await mkdir(folder, { recursive: true });
  try {
    await writeMark(folder, CACHE, CACHE_MARK);
  } catch (error) {
    // Another thread or process may have marked it in the meantime.
    if ((await namesOf(folder, CACHE)) === null) throw error;
  }
}
