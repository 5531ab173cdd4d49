/**
 * Puts a site in place: the page (by Astro, kept while its source stays the same), the data and the previews.
 *
 * All is built in a folder beside the wanted one and moved there at the end, so that whoever opens the site meets the
 * old one or the new one, never half of either. A folder that is not a site of ours is never replaced.
 */
import { existsSync } from 'node:fs';
import { cp, link, mkdir, readdir, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { previewName } from '../archive/cache.ts';
import { writeWhole } from '../atomic-file.ts';
import { isSystemError, messageOf, reasonOf, WrongUsage } from '../messages.ts';
import { projectFolder } from '../paths.ts';
import { sourceDigest } from '../source-digest.ts';
import { unheard } from '../terminal.ts';

/** A file that marks a folder as a site of ours, which a later build may replace. */
const MARK = 'takeshelf-site.json';
const PAGE_SOURCE = ['src', 'shared', 'scripts/in-page', 'scripts/archive', 'astro.config.mjs', 'package-lock.json'];

export interface SiteContent {
  /** Name below the site -> text. */
  data: ReadonlyMap<string, string>;
  previews: readonly { id: string; parts: number }[];
}

/** Throws WrongUsage when `out` holds something else. */
export async function assertReplaceable(out: string): Promise<void> {
  if (!existsSync(out) || existsSync(join(out, MARK))) return;
  const entries = await readdir(out).catch((error: unknown) => {
    throw new WrongUsage(`${out}: a folder for the site was expected (${reasonOf(error)}). Choose another with --out.`);
  });
  if (entries.length > 0) {
    throw new WrongUsage(
      `${out} holds ${entries.length} things that are not a site built here, such as "${entries[0]}". ` +
        'Nothing was written. Choose an empty or new folder with --out.',
    );
  }
}

/** A build that was killed between the two renames left the old site under another name: puts it back. */
export async function restoreSite(out: string): Promise<void> {
  const { previous } = besides(out);
  if (!existsSync(out) && existsSync(previous)) await rename(previous, out);
}

export async function publishSite(
  content: SiteContent,
  out: string,
  cacheFolder: string,
  previewFolder: string,
): Promise<void> {
  const { building, previous } = besides(out);
  await rm(building, { recursive: true, force: true });
  await cp(await pageShell(cacheFolder), building, { recursive: true });
  for (const [name, text] of content.data) {
    await mkdir(dirname(join(building, name)), { recursive: true });
    await writeFile(join(building, name), text);
  }
  await addPreviews(content, previewFolder, join(building, 'previews'));
  await writeFile(
    join(building, MARK),
    `${JSON.stringify({ about: 'A site built by Takeshelf. The next build replaces this folder.' })}\n`,
  );
  await rm(previous, { recursive: true, force: true });
  if (existsSync(out)) await rename(out, previous);
  await rename(building, out);
  await rm(previous, { recursive: true, force: true });
}

function besides(out: string): { building: string; previous: string } {
  const beside = join(dirname(out), basename(out));
  return { building: `${beside}.building`, previous: `${beside}.previous` };
}

async function addPreviews({ previews }: SiteContent, from: string, to: string): Promise<void> {
  const folders = new Set(previews.map(({ id }) => id.slice(0, 2)));
  for (const folder of folders) await mkdir(join(to, folder), { recursive: true });
  for (const { id, parts } of previews) {
    for (let part = 0; part < parts; part++) {
      const name = previewName(id, part);
      // A second name for the same bytes where the file system can; else a copy.
      await link(join(from, name), join(to, name)).catch(() => cp(join(from, name), join(to, name)));
    }
  }
}

/** The page without data, from `.cache/page/`; built by Astro when its source has changed. */
export async function pageShell(cacheFolder: string): Promise<string> {
  const shell = join(cacheFolder, 'page', sourceDigest(PAGE_SOURCE));
  const complete = join(shell, 'complete');
  const page = join(shell, 'site');
  if (existsSync(complete)) return page;
  await rm(join(cacheFolder, 'page'), { recursive: true, force: true });
  process.env.ASTRO_TELEMETRY_DISABLED = '1';
  const { build } = await import('astro');
  try {
    await unheard(() => build({ root: projectFolder, outDir: page, logLevel: 'error' }));
  } catch (error) {
    if (isSystemError(error)) throw error;
    throw new Error(`The page cannot be bundled: ${messageOf(error)}`, { cause: error });
  }
  await writeWhole(complete, '');
  return page;
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
