/** The page without data, made by Astro from its source, and kept in the cache until that changes. */
import { createHash } from 'node:crypto';
import { mkdir, readdir, readFile } from 'node:fs/promises';
import { join, relative, sep } from 'node:path';
import { underWay, writeNew } from '../atomic-file.ts';
import { isSystemError, messageOf } from '../messages.ts';
import { openCacheFolder } from '../own/cache-folder.ts';
import { CACHE, writerOf } from '../own/kinds.ts';
import { putFolderInPlace, removeWhere } from '../own/own-folders.ts';
import { readSealed, sealed } from '../own/seal.ts';
import { projectFolder } from '../paths.ts';
import { closureDigest } from '../source-closure.ts';
import { unheard } from '../terminal.ts';

/** All that the page is made of follows from these. */
const PAGE_ENTRIES = [
  'astro.config.mjs',
  'src/pages/index.astro',
  'src/pages/measured.astro',
  'src/pages/report.astro',
  'src/client/main.ts',
  'src/styles/takeshelf.css',
  'scripts/in-page/worker.ts',
];

/** Name below the site -> content. */
export type PageFiles = Map<string, Uint8Array>;

/** From the cache when it is there and undamaged; else built and kept. */
export async function pageFiles(cacheFolder: string): Promise<PageFiles> {
  await openCacheFolder(cacheFolder);
  const kept = join(cacheFolder, 'page', closureDigest(PAGE_ENTRIES));
  const known = await readPage(kept);
  if (known !== null) return known;
  await removeWhere(cacheFolder, CACHE, (name) => name.startsWith('page/') && writerOf(name.split('/')[1]) === null);
  const making = underWay(kept);
  await mkdir(making, { recursive: true });
  try {
    process.env.ASTRO_TELEMETRY_DISABLED = '1';
    const { build } = await import('astro');
    const outDir = join(making, 'site');
    await unheard(() => build({ root: projectFolder, outDir, logLevel: 'error' })).catch((error: unknown) => {
      if (isSystemError(error)) throw error;
      throw new Error(`The page cannot be bundled: ${messageOf(error)}`, { cause: error });
    });
    const files = await readFiles(join(making, 'site'));
    const digests = Object.fromEntries([...files].map(([name, bytes]) => [name, digestOf(bytes)]));
    await writeNew(join(making, 'complete'), sealed(JSON.stringify(digests)));
    await putFolderInPlace(making, kept);
    return files;
  } catch (error) {
    await removeWhere(cacheFolder, CACHE, (name) => join(cacheFolder, name).startsWith(making));
    throw error;
  }
}

/** null unless every file is there as it was made. */
async function readPage(folder: string): Promise<PageFiles | null> {
  const list = await readSealed(join(folder, 'complete'));
  if (list === null) return null;
  const files: PageFiles = new Map();
  for (const [name, digest] of Object.entries(JSON.parse(list) as Record<string, string>)) {
    const bytes = await readFile(join(folder, 'site', name)).catch(() => null);
    if (bytes === null || digestOf(bytes) !== digest) return null;
    files.set(name, bytes);
  }
  return files;
}

async function readFiles(folder: string): Promise<PageFiles> {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true });
  const paths = entries.filter((entry) => entry.isFile()).map((entry) => join(entry.parentPath, entry.name));
  const files: PageFiles = new Map();
  for (const path of paths.sort()) files.set(relative(folder, path).split(sep).join('/'), await readFile(path));
  return files;
}

const digestOf = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');
