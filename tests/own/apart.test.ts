/** Folders that meet are refused by what the system knows them by, and by name only where they are not there yet. */
import { mkdir, rm, symlink, writeFile } from 'node:fs/promises';
import { homedir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { assertApart, folderIgnoresCase } from '../../scripts/own/apart.ts';
import { projectFolder } from '../../scripts/paths.ts';
import { newHome } from './worlds.ts';

let home: string;
beforeAll(async () => {
  home = await newHome();
  for (const name of ['rec/deep', 'other']) await mkdir(join(home, name), { recursive: true });
  await symlink(join(home, 'rec'), join(home, 'link'));
  await symlink(join(home, 'nowhere'), join(home, 'dangling'));
  await writeFile(join(home, 'file'), '');
});
afterAll(() => rm(home, { recursive: true, force: true }));

const check = (site: string, archive: string, ignoresCase = false): Promise<void> =>
  assertApart(
    [
      { path: join(home, site), called: 'the site', option: '--out' },
      { path: join(home, archive), called: 'the archive', option: null },
    ],
    { ignoresCase: async () => ignoresCase },
  );

test.each([
  ['rec', 'rec', /are the same folder/],
  ['link', 'rec', /are the same folder/],
  ['link/new', 'rec', /site .*link\/new would lie inside the archive .*rec/],
  ['link/deep/a/b', 'rec/deep', /inside the archive/],
  ['.', 'rec', /archive .*rec would lie inside the site/],
  ['new/a', 'new', /inside the archive/],
  ['new', 'new/a/b', /inside the site/],
  ['caf\u00e9', 'cafe\u0301', /are the same folder/],
  ['dangling', 'rec', /dangling is a link that leads nowhere/],
  ['dangling/site', 'rec', /dangling is a link that leads nowhere/],
  ['file/site', 'rec', /file is a file; a folder was expected/],
])('%s as the site, %s as the archive: refused', async (site, archive, says) => {
  await expect(check(site, archive)).rejects.toThrow(says);
  await expect(check(site, archive)).rejects.toThrow(/name another|Choose another|folder was expected/i);
});

test.each([
  ['rec site', 'rec'],
  ['recs', 'rec'],
  ['other/rec', 'rec'],
  ['new', 'newer/new'],
])('%s as the site, %s as the archive: apart', async (site, archive) => {
  await check(site, archive);
});

test('names that differ in capitals are one where the file system says so, and two where it does not', async () => {
  await check('New', 'new');
  await expect(check('New', 'new', true)).rejects.toThrow(/are the same folder/);
  await expect(check('New/a', 'new', true)).rejects.toThrow(/inside the archive/);
  // Asked of the file system itself: a folder is the same under another spelling only where capitals do not count.
  expect(await folderIgnoresCase(home)).toBe(await folderIgnoresCase(join(home, 'rec')));
});

test.each([
  ['/', /the whole drive/],
  [projectFolder, /the folder of this program/],
  [join(projectFolder, '..'), /the folder of this program/],
  [join(projectFolder, 'scripts/new'), /this program's own/],
  [homedir(), /your home folder|the folder of this program/],
])('%s is neither site nor cache', async (path, says) => {
  for (const option of ['--out', '--cache']) {
    await expect(assertApart([{ path, called: 'the site', option }])).rejects.toThrow(says);
  }
});

test('folders that are only read may meet', async () => {
  const roles = ['rec', 'rec/deep'].map((name) => ({ path: join(home, name), called: 'the archive', option: null }));
  await assertApart(roles);
});
