/**
 * Puts a site in place: the page, the data and the previews.
 *
 * All is built in a folder beside the wanted one, flushed, and moved there at the end, so that whoever opens the site meets
 * the old one or the new one, never half of either. A folder that is not a site of ours, or holds more than one, is never
 * replaced. Killed between any two steps, the next build goes on from there; between the two moves, `restoreSite` does.
 */
import { mkdir, readFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { previewName } from '../archive/cache.ts';
import { copyNew, flushFolder, flushTree, writeMark, writeNew } from '../atomic-file.ts';
import { lockOwner } from '../build-lock.ts';
import { shown, WrongUsage } from '../messages.ts';
import { locate } from '../own/apart.ts';
import { LOCK, SITE, siteMark } from '../own/kinds.ts';
import { moveFolder, removeFile, removeFolder, type Standing, standingOf } from '../own/own-folders.ts';
import { signature } from '../own/process-start.ts';
import type { PageFiles } from './page-shell.ts';

export interface SiteContent {
  page: PageFiles;
  /** Name below the site -> text. */
  data: ReadonlyMap<string, string>;
  previews: readonly { id: string; parts: number }[];
}

/** The folders a build of a site works in beside it. */
export function besides(out: string): { building: string; previous: string } {
  const beside = join(dirname(out), basename(out));
  return { building: `${beside}.building`, previous: `${beside}.previous` };
}

/** Throws WrongUsage when `out`, or a folder beside it that a build needs, holds something else. Only looks. */
export async function assertReplaceable(out: string): Promise<void> {
  const { real } = await locate(out);
  const standing = await standingOf(real, SITE);
  if (standing.state === 'foreign') {
    if (standing.holds === '') {
      throw new WrongUsage(`${out}: a folder for the site was expected, not a file. Choose another with --out.`);
    }
    throw new WrongUsage(
      standing.marked
        ? `${out} is a site built here, but also holds ${shown(standing.holds)}, which no build put there. ` +
            'Nothing was written. Move that elsewhere, or choose another folder with --out.'
        : `${out} holds things that are not a site built here, such as "${shown(standing.holds)}". ` +
            'Nothing was written. Choose an empty or new folder with --out.',
    );
  }
  const { building, previous } = besides(real);
  for (const path of [building, previous]) {
    const beside = await standingOf(path, SITE);
    if (beside.state !== 'foreign') continue;
    throw new WrongUsage(
      `A build into ${out} needs the name ${path}, where ${beside.holds === '' ? 'something' : shown(beside.holds)} lies ` +
        'that no build put there. Nothing was written. Move it elsewhere, or choose another folder with --out.',
    );
  }
  await assertNobodyBuilds(real);
}

async function assertNobodyBuilds(out: string): Promise<void> {
  const owner = await lockOwner(join(besides(out).building, LOCK));
  if (owner === null || owner === process.pid) return;
  throw new WrongUsage(
    `Another build is writing ${out} (process ${owner}). Wait for it, or stop it, then build again.`,
  );
}

/** A build that was killed between the two moves left the old site under another name: puts it back. */
export async function restoreSite(out: string): Promise<void> {
  const { real } = await locate(out);
  const { previous } = besides(real);
  if ((await standingOf(real, SITE)).state !== 'missing') return;
  if (isWhole(await standingOf(previous, SITE))) await moveFolder(previous, real, SITE);
}

/** A site on its way out has lost its first page already. */
const isWhole = (standing: Standing): boolean =>
  standing.state === 'ours' && SITE.first !== null && standing.files.includes(SITE.first);

/** Removes what a killed build left beside the site; what is not ours stays. */
export async function removeSiteLeftOvers(out: string): Promise<void> {
  const { real } = await locate(out);
  const { building, previous } = besides(real);
  await assertNobodyBuilds(real);
  await removeFolder(building, SITE);
  if ((await standingOf(real, SITE)).state === 'ours') await removeFolder(previous, SITE);
}

/** `flush` returns when the folder is on the disk. */
export async function publishSite(
  content: SiteContent,
  out: string,
  previewFolder: string,
  { flush = flushTree }: { flush?: (folder: string) => Promise<void> } = {},
): Promise<void> {
  await assertReplaceable(out);
  await removeSiteLeftOvers(out);
  const { real } = await locate(out);
  const { building, previous } = besides(real);
  await mkdir(building, { recursive: true });
  try {
    await writeMark(building, SITE, siteMark([...content.page.keys(), ...content.data.keys()]));
    await writeNew(join(building, LOCK), signature());
    for (const [name, bytes] of [...content.page, ...content.data]) await writeBelow(building, name, bytes);
    await addPreviews(content, previewFolder, join(building, 'previews'));
    await flush(building);
    await removeFile(join(building, LOCK));
  } catch (error) {
    await removeFolder(building, SITE);
    throw error;
  }
  // Looked at again: much time may have passed since the first look.
  const former = await standingOf(real, SITE);
  if (former.state === 'ours') await moveFolder(real, previous, SITE);
  else if (former.state === 'empty') await removeFolder(real, SITE);
  await moveFolder(building, real, SITE);
  await flushFolder(dirname(real));
  await removeFolder(previous, SITE);
}

async function writeBelow(folder: string, name: string, data: string | Uint8Array): Promise<void> {
  await mkdir(dirname(join(folder, name)), { recursive: true });
  await writeNew(join(folder, name), data);
}

/** Copied side by side. */
const COPIED_AT_ONCE = 8;

/**
 * Copies, sharing the bytes until one is written to where the file system can: a second name for the cache's own file would
 * let whoever writes to the site change the cache.
 */
async function addPreviews({ previews }: SiteContent, from: string, to: string): Promise<void> {
  for (const folder of new Set(previews.map(({ id }) => id.slice(0, 2)))) {
    await mkdir(join(to, folder), { recursive: true });
  }
  const names = previews.flatMap(({ id, parts }) => Array.from({ length: parts }, (_, part) => previewName(id, part)));
  const queue = names.values();
  const lane = async (): Promise<void> => {
    for (const name of queue) await copyNew(join(from, name), join(to, name));
  };
  await Promise.all(Array.from({ length: COPIED_AT_ONCE }, lane));
}

/** The text of a data script in a built site; WrongUsage when there is none. */
export async function readSiteData(site: string, name: string): Promise<string> {
  await restoreSite(site);
  try {
    return await readFile(join(site, 'data', name), 'utf8');
  } catch {
    throw new WrongUsage(`${join(site, 'data', name)} is not there. Build a site first: npm run takeshelf -- build`);
  }
}
