/** Whatever folders are named, however they lie: no file that somebody else put there is ever changed, moved or removed. */
import { mkdir, rm } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { BuildCache } from '../../scripts/archive/cache.ts';
import { writeWhole } from '../../scripts/atomic-file.ts';
import { assertFolders } from '../../scripts/build.ts';
import { lockBuild } from '../../scripts/build-lock.ts';
import { writeDemoArchive } from '../../scripts/demo/demo-archive.ts';
import { WrongUsage } from '../../scripts/messages.ts';
import { DEMO } from '../../scripts/own/kinds.ts';
import { standingOf } from '../../scripts/own/own-folders.ts';
import { sealed } from '../../scripts/own/seal.ts';
import { publishSite, removeSiteLeftOvers, restoreSite } from '../../scripts/publish/site.ts';
import { Random } from '../measure/random.ts';
import { drawPath, drawWorld, newHome, snapshot } from './worlds.ts';

/** More of them for a thorough look: TAKESHELF_WORLDS=10000 npx vitest ... */
const WORLDS = Number(process.env.TAKESHELF_WORLDS ?? 300);
const SEED = Number(process.env.TAKESHELF_SEED ?? 1);
let home: string;
beforeAll(async () => {
  home = await newHome();
});
afterAll(() => rm(home, { recursive: true, force: true }));

const PAGE = new Map([['index.html', Buffer.from('<title>page</title>')]]);
/** Seconds of work; the machine may be busy with much else. */
const PATIENCE_MS = 600_000;
const ID = '0abcdefghjkmnpqr';

/** All that a build does to folders, in its order, with a page and a preview from nowhere. */
async function build(archive: string, catalogueFolder: string, cacheFolder: string, out: string): Promise<void> {
  const folders = [{ name: 'archive', path: archive }];
  await assertFolders({ folders, catalogueFolder, cacheFolder, out });
  const unlock = await lockBuild(cacheFolder);
  try {
    await restoreSite(out);
    await removeSiteLeftOvers(out);
    const cache = await BuildCache.open(cacheFolder);
    await cache.removeLeftOvers();
    cache.remember('x', { size: 1, modified: '1', changed: '1', inode: '1' }, 'ab');
    await cache.saveFiles();
    await cache.saveAudio('ab12cd34', ID);
    await writeWhole(cache.previewPath(ID, 0), sealed('preview'));
    const content = { page: PAGE, data: new Map([['data/shelf.js', 'new']]), previews: [{ id: ID, parts: 1 }] };
    // The worlds lie in memory, and starting the command that flushes takes longer than all the rest.
    await publishSite(content, out, cache.previewFolder, { flush: async () => {} });
    await cache.forgetOlder();
  } finally {
    await unlock();
  }
}

test(
  `in ${WORLDS} arrangements of archive, catalogue, cache and site no foreign file changes; refusals touch nothing`,
  async () => {
    const random = new Random(SEED);
    const ended = { built: 0, refused: 0, restored: 0 };
    for (let number = 0; number < WORLDS; number++) {
      const { root, foreign } = await drawWorld(join(home, String(number)), random);
      const [archive, catalogue, cache, out] = Array.from({ length: 4 }, () => drawPath(root, random));
      if (random.chance(0.7)) await mkdir(archive, { recursive: true }).catch(() => undefined);
      const before = await snapshot(root);
      const restores = random.chance(0.2);
      const said = `world ${number}: ${restores ? 'serve' : `build ${archive} --catalogue ${catalogue} --cache ${cache}`} --out ${out}`;
      try {
        // Paths come resolved from the command line.
        await (restores ? restoreSite(out) : build(resolve(archive), resolve(catalogue), resolve(cache), resolve(out)));
        ended[restores ? 'restored' : 'built']++;
      } catch (error) {
        if (!(error instanceof WrongUsage)) throw new Error(said, { cause: error });
        ended.refused++;
        expect(await snapshot(root), `${said}\n${error.message}`).toEqual(before);
      }
      const after = await snapshot(root);
      for (const [path, digest] of foreign) expect(after.get(path), `${said}\n${path}`).toBe(digest);
      await rm(root, { recursive: true });
    }
    // The test would prove nothing if nearly all were refused, or none.
    expect(ended.built).toBeGreaterThan(WORLDS / 10);
    expect(ended.refused).toBeGreaterThan(WORLDS / 4);
    expect(ended.restored).toBeGreaterThan(WORLDS / 20);
  },
  PATIENCE_MS,
);

test(
  'a demo archive is written over nothing but a demo archive',
  async () => {
    const random = new Random(SEED + 1);
    let refused = 0;
    let written = 0;
    for (let number = 0; number < 30; number++) {
      const { root, foreign } = await drawWorld(join(home, `demo ${number}`), random);
      const target = drawPath(root, random);
      // Synthesising takes seconds: twice is enough.
      if (written === 2 && (await standingOf(resolve(target), DEMO)).state !== 'foreign') continue;
      const before = await snapshot(root);
      try {
        await writeDemoArchive(target, { sounds: 1 });
        written++;
      } catch (error) {
        if (!(error instanceof WrongUsage)) throw new Error(target, { cause: error });
        refused++;
        expect(await snapshot(root), error.message).toEqual(before);
      }
      const after = await snapshot(root);
      for (const [path, digest] of foreign) expect(after.get(path), `${target}\n${path}`).toBe(digest);
      await rm(root, { recursive: true });
    }
    expect(refused).toBeGreaterThan(4);
  },
  PATIENCE_MS,
);
