/** A drive that is not there: what lay on it stays on the page, marked as away. */
import { existsSync } from 'node:fs';
import { mkdir, readdir, readFile, rename, rm, symlink, utimes, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { previewName } from '../../scripts/archive/cache.ts';
import { readCatalogue } from '../../scripts/archive/catalogue.ts';
import { buildSite, summaryLines } from '../../scripts/build.ts';
import { valueOfScript } from '../../scripts/publish/data-scripts.ts';
import type { BuildReport } from '../../shared/report.ts';
import { Shelf } from '../../shared/shelf.ts';
import { cacheWithPage, takeshelf, temporaryFolder, treeDigest } from './command.ts';
import { tone, wav, writeSmallArchive } from './small-archive.ts';

const MINUTES = 60_000;
let home: string;
beforeAll(async () => {
  home = await temporaryFolder();
});
afterAll(() => rm(home, { recursive: true, force: true }));

/** Two archive folders, "desk" with two sounds and "drive" with three, one of them also on the desk. */
async function workplace(name: string) {
  const at = (...way: string[]): string => join(home, name, ...way);
  await writeSmallArchive(at('desk'), 2);
  await mkdir(at('drive/Quay'), { recursive: true });
  await writeFile(at('drive/Quay/rope.wav'), wav(tone(20)));
  await writeFile(at('drive/Quay/chain.wav'), wav(tone(21)));
  await writeFile(at('drive/Quay/plate copy.wav'), wav(tone(0)));
  const cache = await cacheWithPage(at('cache'));
  const out = at('site');
  const build = async (folders = ['desk', 'drive']) => {
    const said: string[] = [];
    const summary = await buildSite({
      folders: folders.map((folder) => ({ name: folder, path: at(folder) })),
      out,
      cacheFolder: cache,
      catalogue: await readCatalogue(at('no catalogue')),
      threads: 1,
      say: (line) => said.push(line),
    });
    return {
      ...(await builtSite(out)),
      decoded: summary.decoded,
      said: [...said, ...summaryLines(summary, out)].join('\n'),
    };
  };
  return { at, cache, out, build };
}

/** What the site says: name -> id and whether the sound is away; every preview is in its place. */
async function builtSite(out: string) {
  const value = async (name: string): Promise<unknown> =>
    valueOfScript(await readFile(join(out, `data/${name}.js`), 'utf8'), name);
  const shelf = new Shelf(Buffer.from((await value('shelf')) as string, 'base64'));
  const sounds: Record<string, { id: string; away: boolean }> = {};
  for (let i = 0; i < shelf.count; i++) {
    const id = shelf.text('id', i);
    sounds[shelf.text('name', i)] = { id, away: shelf.isAway(i) };
    expect(existsSync(join(out, 'previews', previewName(id, 0))), id).toBe(true);
  }
  const { away } = (await value('report')) as BuildReport;
  return { sounds, away: away ?? [], shelf };
}

const awayNames = (sounds: Record<string, { away: boolean }>): string[] =>
  Object.keys(sounds).filter((name) => sounds[name].away);

test(
  'sounds of a folder that is missing or empty stay, marked as away, and are as before when it is back',
  async () => {
    const { at, build, out } = await workplace('unplugged');
    const before = await build();
    expect(Object.keys(before.sounds)).toHaveLength(4);
    expect(before.away).toEqual([]);
    const undisturbed = await treeDigest(out);

    await rename(at('drive'), at('elsewhere'));
    const missing = await build();
    const ids = (sounds: typeof before.sounds) =>
      Object.fromEntries(Object.entries(sounds).map(([n, { id }]) => [n, id]));
    expect(ids(missing.sounds)).toEqual(ids(before.sounds));
    // The plate lies on the desk, too.
    expect(awayNames(missing.sounds)).toEqual(['chain', 'rope']);
    const copied = missing.shelf.find(missing.sounds['plate 00'].id);
    expect(missing.shelf.places(copied).map(({ folder, away }) => [folder, away])).toEqual([
      ['desk', undefined],
      ['drive', true],
    ]);
    const day = missing.away[0].lastSeen;
    expect(day).toMatch(/^\d{4}-\d\d-\d\d$/);
    const told = { folder: 'drive', file: '', path: at('drive'), files: 3, notShown: 0, sounds: 2, lastSeen: day };
    expect(missing.away).toEqual([{ ...told, why: 'missing' }]);
    expect(missing.said).toContain(
      `${at('drive')} is not there; 3 files lay there on ${day}. 2 sounds from it stay on the page, marked as away.`,
    );

    // Where a drive is mounted there is an empty folder without it. Nothing of what is away wears off from build to build.
    await mkdir(at('drive'));
    await writeFile(at('drive/.DS_Store'), '');
    const words = ['build', at('desk'), at('drive'), '--out', out, '--cache', at('cache')];
    const ran = await takeshelf(words);
    expect(ran.code, ran.stderr).toBe(1);
    expect(ran.stderr).toContain('is empty; 3 files lay there');
    expect(awayNames((await builtSite(out)).sounds)).toEqual(['chain', 'rope']);
    const report = await takeshelf(['report', '--site', out]);
    expect(report.stdout).toMatch(/Away \(1\)\n {2}.*drive is empty/);

    // Alone it is enough for a site, and a folder that is no longer named is gone.
    expect(Object.keys((await build(['drive'])).sounds)).toHaveLength(3);
    expect(Object.keys((await build(['desk'])).sounds)).toHaveLength(2);

    await rm(at('drive'), { recursive: true });
    await rename(at('elsewhere'), at('drive'));
    const back = await build();
    expect(back).toMatchObject({ away: [], decoded: 0 });
    expect(await treeDigest(out)).toEqual(undisturbed);
  },
  2 * MINUTES,
);

test(
  'a file deleted from a folder that is there is gone, for good',
  async () => {
    const { at, build } = await workplace('deleted');
    await build();
    await rm(at('drive/Quay/rope.wav'));
    expect(Object.keys((await build()).sounds)).not.toContain('rope');
    await rename(at('drive'), at('elsewhere'));
    expect(awayNames((await build()).sounds)).toEqual(['chain']);
  },
  2 * MINUTES,
);

test(
  'a link within an archive folder to a drive that is not there leaves its sounds away, the others as they are',
  async () => {
    const { at, build } = await workplace('linked');
    await symlink(at('drive'), at('desk/from the drive'));
    expect(Object.keys((await build(['desk'])).sounds)).toHaveLength(4);
    await rename(at('drive'), at('elsewhere'));
    const { sounds, away } = await build(['desk']);
    expect(awayNames(sounds)).toEqual(['chain', 'rope']);
    expect(away).toMatchObject([{ file: 'from the drive', why: 'unreadable', files: 3, sounds: 2 }]);
  },
  2 * MINUTES,
);

test(
  'a newer program keeps what an older one measured of a folder that is away, and measures it anew when it is back',
  async () => {
    const { at, cache, build } = await workplace('renewed');
    await build();
    await rename(at('drive'), at('elsewhere'));
    // As an older version would have left it: the last piece of each name stands for the program's source.
    const rows = (await readdir(join(cache, 'takes'), { recursive: true })).filter((name) =>
      /\.(json|audio)$/.test(name),
    );
    for (const name of rows) {
      const path = join(cache, 'takes', name);
      await rename(path, path.replace(/-[0-9a-f]{12}(?=\.\w+$)/, '-0123456789ab'));
      await utimes(path.replace(/-[0-9a-f]{12}(?=\.\w+$)/, '-0123456789ab'), 1, 1);
    }
    for (let time = 0; time < 2; time++) expect(awayNames((await build()).sounds)).toEqual(['chain', 'rope']);
    await rename(at('elsewhere'), at('drive'));
    const back = await build();
    // The plate's bytes lie on the desk, too, and were measured there.
    expect(back).toMatchObject({ away: [], decoded: 2 });
    expect(awayNames(back.sounds)).toEqual([]);
  },
  2 * MINUTES,
);

test('a folder that is missing and in which nothing was ever met is wrong usage', async () => {
  const { build } = await workplace('unknown');
  await expect(build(['desk', 'typo'])).rejects.toThrow(/typo does not exist/);
});
