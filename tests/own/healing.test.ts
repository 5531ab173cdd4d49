/** What a killed build, a full disk or an older version left is cleaned or taken on, and nothing else. */
import { existsSync } from 'node:fs';
import { cp, mkdir, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { BuildCache } from '../../scripts/archive/cache.ts';
import { CACHE, LOCK, SITE, siteMark } from '../../scripts/own/kinds.ts';
import { startOf } from '../../scripts/own/process-start.ts';
import { sealed, unsealed } from '../../scripts/own/seal.ts';
import { assertReplaceable, publishSite, removeSiteLeftOvers, restoreSite } from '../../scripts/publish/site.ts';
import { newHome, snapshot } from './worlds.ts';

let home: string;
let number = 0;
beforeAll(async () => {
  home = await newHome();
});
afterAll(() => rm(home, { recursive: true, force: true }));

const newFolder = (): string => join(home, String(number++));
const OLD_MARK = '{"about":"A site built by Takeshelf. The next build replaces this folder."}\n';
const PAGE = new Map([
  ['index.html', Buffer.from('page')],
  ['fonts/text.woff2', Buffer.from('type')],
]);
const publish = (out: string, text: string): Promise<void> =>
  publishSite({ page: PAGE, data: new Map([['data/shelf.js', text]]), previews: [] }, out, home, {
    flush: async () => {},
  });

async function put(folder: string, files: Record<string, string>): Promise<void> {
  for (const [name, text] of Object.entries(files)) {
    await mkdir(dirname(join(folder, name)), { recursive: true });
    await writeFile(join(folder, name), text);
  }
}

test('a site of an older version, whose mark lists no files, is replaced; with a file of somebody else it is not', async () => {
  const out = newFolder();
  await put(out, {
    [SITE.mark]: OLD_MARK,
    'index.html': 'old',
    'previews/0a/0abcdefghjkmnpqr.0.js': 'old',
    '.DS_Store': '',
  });
  await publish(out, 'new');
  expect(await readFile(join(out, 'index.html'), 'utf8')).toBe('page');
  expect((await readdir(home)).filter((name) => name.startsWith(`${number - 1}.`))).toEqual([]);
  await put(out, { 'my selects.csv': 'gong' });
  await expect(publish(out, 'newer')).rejects.toThrow(/also holds my selects\.csv, which no build put there/);
  expect(await readFile(join(out, 'data/shelf.js'), 'utf8')).toBe('new');
});

test('killed between any two steps of putting a site in place, the next build heals it', async () => {
  const whole = newFolder();
  await publish(whole, 'old');
  const site = join(home, 'of a killed build');
  const begin = async (parts: Record<string, string | null>): Promise<void> => {
    for (const name of ['', '.building', '.previous']) await rm(`${site}${name}`, { recursive: true, force: true });
    for (const [name, without] of Object.entries(parts)) {
      await cp(whole, `${site}${name}`, { recursive: true });
      if (without !== null) await rm(join(`${site}${name}`, without), { recursive: true });
    }
  };
  const states: Record<string, string | null>[] = [
    { '': null, '.building': 'index.html' },
    { '': null, '.building': null },
    { '.building': null, '.previous': null },
    { '': null, '.previous': null },
    { '': null, '.previous': 'index.html' },
    { '': null, '.previous': 'data' },
  ];
  for (const state of states) {
    await begin(state);
    await assertReplaceable(site);
    await restoreSite(site);
    expect(await readFile(join(site, 'data/shelf.js'), 'utf8')).toBe('old');
    await removeSiteLeftOvers(site);
    await publish(site, 'old');
    expect(existsSync(`${site}.building`) || existsSync(`${site}.previous`)).toBe(false);
    const trees = await Promise.all([site, whole].map(async (path) => [...(await snapshot(path)).values()].sort()));
    expect(trees[0]).toEqual(trees[1]);
  }
  // Made, but not marked yet; and the mark half-written.
  await begin({ '': null });
  await put(`${site}.building`, { [`${SITE.mark}.999999999-0123abcd.part`]: '{"abo' });
  await publish(site, 'old');
  expect(existsSync(`${site}.building`)).toBe(false);
  // Half removed already: never put back.
  await begin({ '.previous': 'index.html' });
  await restoreSite(site);
  expect(existsSync(site)).toBe(false);
});

test('a build that cannot finish its site leaves the old one and nothing beside it', async () => {
  const out = newFolder();
  await publish(out, 'old');
  const before = await snapshot(dirname(out));
  const missing = { page: PAGE, data: new Map(), previews: [{ id: '0abcdefghjkmnpqr', parts: 1 }] };
  await expect(publishSite(missing, out, home)).rejects.toThrow(/ENOENT/);
  expect(await snapshot(dirname(out))).toEqual(before);
});

test('a folder that a running build works in is not taken from it', async () => {
  const out = newFolder();
  const mark = { [SITE.mark]: siteMark(['index.html']) };
  await put(`${out}.building`, { ...mark, [LOCK]: `${process.ppid} ${startOf(process.ppid)}` });
  await expect(publish(out, 'new')).rejects.toThrow(`Another build is writing ${out} (process ${process.ppid})`);
  await put(`${out}.building`, { [LOCK]: `${process.ppid} 12345` });
  // Under another start time the number means another process: a left-over.
  await removeSiteLeftOvers(out);
  expect(existsSync(`${out}.building`)).toBe(false);
});

test('a cache without a mark is taken on when all in it has the names of a cache, else refused untouched', async () => {
  const known = {
    'files.json': '{}',
    'takes/ab/abcdef0123456789-0123456789ab.json': '',
    'page/0123456789ab/site/fonts/text.woff2': '',
    'page/0123456789ab/complete': '',
    'compiled/v24.21.0-x64-964aae3f-0/02818985': '',
    'layouts/0123456789ab.json': '',
    'previews/0123456789ab/0a/0abcdefghjkmnpqr.0.js': '',
  };
  const folder = newFolder();
  await put(folder, known);
  await BuildCache.open(folder);
  expect(existsSync(join(folder, CACHE.mark))).toBe(true);
  for (const name of [
    'takes/gong.wav',
    'previews/0123456789ab/0a/gong.wav',
    'compiled/gong.wav',
    'gong.wav',
    'page/a.html',
  ]) {
    const mixed = newFolder();
    await put(mixed, { ...known, [name]: 'a take' });
    const before = await snapshot(mixed);
    await expect(BuildCache.open(mixed), name).rejects.toThrow(
      new RegExp(`holds ${name}, which is not of a cache.*--cache`),
    );
    expect(await snapshot(mixed), name).toEqual(before);
  }
});

test('what killed builds were writing goes; what a running one writes, and what is not ours, stays', async () => {
  const folder = newFolder();
  const cache = await BuildCache.open(folder);
  const form = 'takes/ab/abcdef0123456789-0123456789ab.json';
  const gone = [`${form}.999999999-0123abcd.part`, 'page/0123456789ab.999999999-0123abcd.part/site/index.html'];
  const stay = [
    form,
    `${form}.${process.ppid}-0123abcd.part`,
    'takes/ab/gong.wav.999999999-0123abcd.part',
    'page/0123456789ab.999999998-0123abcd.part/site/gong.wav',
  ];
  for (const name of [...gone, ...stay]) await put(folder, { [name]: 'x' });
  await cache.removeLeftOvers();
  expect(gone.filter((name) => existsSync(join(folder, name)))).toEqual([]);
  expect(stay.filter((name) => !existsSync(join(folder, name)))).toEqual([]);
});

test('a seal holds for its own text alone', () => {
  const whole = Buffer.from(sealed('{"a":1}'));
  expect(unsealed(whole)).toBe('{"a":1}\n');
  for (let bytes = 0; bytes < whole.length; bytes++) expect(unsealed(whole.subarray(0, bytes)), `${bytes}`).toBe(null);
  for (let at = 0; at < whole.length; at++) {
    const damaged = Buffer.from(whole);
    damaged[at] ^= 1;
    expect(unsealed(damaged), `byte ${at}`).toBe(null);
  }
  expect(unsealed(Buffer.from('{}'))).toBe(null);
});
