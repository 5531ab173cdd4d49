/** A cache is never believed: whatever in it is damaged is made anew, to the same site. Recordings are not taken for one. */
import { mkdir, open, readdir, readFile, rename, rm, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { Random } from '../measure/random.ts';
import { cacheWithPage, takeshelf, temporaryFolder, treeDigest } from './command.ts';
import { writeSmallArchive } from './small-archive.ts';

const PATIENCE_MS = 600_000;
let home: string;
beforeAll(async () => {
  home = await temporaryFolder();
});
afterAll(() => rm(home, { recursive: true, force: true }));

async function filesBelow(folder: string): Promise<string[]> {
  const names = await readdir(folder, { recursive: true });
  const files: string[] = [];
  for (const name of names.sort()) if ((await stat(join(folder, name))).isFile()) files.push(name);
  return files;
}

test(
  'every kind of file in a cache is made anew when it is empty, cut, `{}` or has one wrong bit',
  async () => {
    const archive = await writeSmallArchive(join(home, 'archive'), 9);
    const cache = await cacheWithPage(join(home, 'cache'));
    const out = join(home, 'site');
    const build = async (): Promise<void> => {
      const { code, stderr } = await takeshelf(['build', archive, '--out', out, '--cache', cache]);
      expect(code, stderr).toBe(0);
      expect(stderr).not.toMatch(/undefined|lost/);
    };
    await build();
    const whole = await treeDigest(out);
    const random = new Random(9);
    const damages: ((path: string) => Promise<void>)[] = [
      (path) => writeFile(path, ''),
      (path) => writeFile(path, '{}'),
      async (path) => writeFile(path, (await readFile(path)).subarray(0, -20)),
      async (path) => {
        const bytes = await readFile(path);
        bytes[random.whole(0, bytes.length - 1)] ^= 1 << random.whole(0, 7);
        await writeFile(path, bytes);
      },
    ];
    // All kinds that there are but one of, and two in three of the others.
    const single = /^(files\.json|layouts\/.*)$/;
    for (let round = 0; round < 2; round++) {
      const files = (await filesBelow(cache)).filter((name) => !/^compiled|takeshelf-cache|^page/.test(name));
      for (const name of files) {
        if (single.test(name) || random.chance(0.65)) await random.pick(damages)(join(cache, name));
      }
      await build();
      expect(await treeDigest(out)).toEqual(whole);
    }
    // Another sound's preview, whole in itself.
    const previews = (await filesBelow(join(cache, 'previews'))).map((name) => join(cache, 'previews', name));
    await writeFile(previews[0], await readFile(previews[1]));
    // Whoever writes into the site changes the site alone.
    const first = (await filesBelow(join(out, 'previews')))[2];
    const file = await open(join(out, 'previews', first), 'r+');
    await file.write('damaged');
    await file.close();
    await build();
    expect(await treeDigest(out)).toEqual(whole);
  },
  PATIENCE_MS,
);

test(
  'a damaged page is bundled anew',
  async () => {
    const { pageFiles } = await import('../../scripts/publish/page-shell.ts');
    const cache = await cacheWithPage(join(home, 'cache of a page'));
    const whole = await pageFiles(cache);
    const script = (await filesBelow(join(cache, 'page'))).find((name) => name.endsWith('takeshelf.js')) ?? '';
    await writeFile(join(cache, 'page', script), '');
    expect(await pageFiles(cache)).toEqual(whole);
    expect((await readFile(join(cache, 'page', script))).length).toBeGreaterThan(1000);
  },
  PATIENCE_MS,
);

test(
  'no command touches recordings, wherever they lie: beside the site under a name a build uses, in the cache, in the site',
  async () => {
    const archive = await writeSmallArchive(join(home, 'rec.building'), 2);
    await writeSmallArchive(join(home, 'rec.previous'), 1);
    await mkdir(join(home, 'taken'));
    await rename(join(archive, 'Boathouse'), join(archive, 'takes'));
    const out = join(home, 'rec');
    const cache = join(home, 'cache beside');
    const before = await treeDigest(home);
    const refused: [string[], RegExp][] = [
      [['build', archive, '--out', out, '--cache', cache], /archive .*rec\.building/],
      [['build', archive, '--out', join(home, 'new'), '--cache', archive], /cache .*and the archive .*same folder/],
      [['build', archive, '--out', join(home, 'new'), '--cache', join(archive, 'takes/c')], /inside the archive/],
      [['build', archive, '--out', join(home, 'new'), '--cache', join(home, 'new/c')], /inside the site/],
      [
        ['build', archive, '--out', join(home, 'new'), '--cache', cache, '--catalogue', join(home, 'new/c')],
        /inside the site/,
      ],
      [['find', 'plate', '--site', out], /npm run takeshelf -- build/],
      [['report', '--site', out], /npm run takeshelf -- build/],
      [['serve', '--site', out], /npm run takeshelf -- build/],
      [['demo', '--to', archive], /holds no demo archive/],
    ];
    for (const [words, says] of refused) {
      const { code, stderr } = await takeshelf(words);
      expect(stderr, words.join(' ')).toMatch(says);
      expect(code, words.join(' ')).toBe(2);
    }
    expect(await treeDigest(home)).toEqual(before);
    expect((await readdir(home)).filter((name) => /^(new|rec|cache beside)$/.test(name))).toEqual([]);
  },
  PATIENCE_MS,
);
