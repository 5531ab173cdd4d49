import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { homedir, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { readCatalogue } from '../../scripts/archive/catalogue.ts';
import { WrongUsage } from '../../scripts/messages.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'takeshelf-catalogue-'));
  await mkdir(join(folder, 'sessions'));
  await mkdir(join(folder, 'splits'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

test('an empty catalogue decides nothing', async () => {
  expect(await readCatalogue(join(folder, 'nowhere'))).toMatchObject({ folders: [] });
  await writeFile(join(folder, 'archive.yaml'), '# nothing yet\nfolders:\n');
  await writeFile(join(folder, 'sessions/a.yaml'), 'sounds:\n');
  expect((await readCatalogue(folder)).decisions.size).toBe(0);
});

test('paths count from the catalogue, ids that look like numbers stay as they are, later files add', async () => {
  await writeFile(
    join(folder, 'archive.yaml'),
    'folders:\n  - {name: Field, path: ../field}\n  - {name: Home, path: ~/takes}\n',
  );
  await writeFile(join(folder, 'sessions/a.yaml'), 'sounds:\n  "0000000000000012": {tags: [gong], rights: own}\n');
  await writeFile(join(folder, 'sessions/b.yaml'), 'sounds:\n  "0000000000000012": {notes: Rest it}\n');
  const { folders, decisions } = await readCatalogue(folder);
  expect(folders.map(({ path }) => path)).toEqual([join(folder, '../field'), join(homedir(), 'takes')]);
  expect(decisions.get('0000000000000012')).toEqual({ tags: ['gong'], rights: 'own', notes: 'Rest it' });
});

test.each([
  ['archive.yaml', 'folders: [\n', /archive\.yaml: this is not readable YAML/],
  ['archive.yaml', 'folders:\n  - name: Field\n', /archive\.yaml: .* at "folders > 0 > path"/],
  [
    'archive.yaml',
    'folders:\n  - {name: A, path: a}\n  - {name: A, path: b}\n',
    /archive\.yaml: two .* name at "folders"/,
  ],
  [
    'archive.yaml',
    'folders: [{name: A, path: a, split: hole}]\n',
    /archive\.yaml: .*"whole".* at "folders > 0 > split > by"/,
  ],
  [
    'archive.yaml',
    'folders: [{name: A, path: a, split: {within: [{files: x, leastPauseSeconds: -1}]}}]\n',
    /archive\.yaml: .* at "folders > 0 > split > within > 0 > leastPauseSeconds"/,
  ],
  [
    'archive.yaml',
    'folders: [{name: A, path: a, split: {leastPauseSeconds: 3, longestPauseSeconds: 2}}]\n',
    /archive\.yaml: leastPauseSeconds is more than longestPauseSeconds/,
  ],
  [
    'splits/a.yaml',
    'files:\n  "0000000000000012":\n    takes:\n      - {start: 1}\n      - {start: 2, finish: 3}\n',
    /a\.yaml, line 5: .*finish/,
  ],
  ['splits/a.yaml', 'files:\n  x: {takes: [{start: 1]}\n', /a\.yaml, line 2: this is not readable YAML/],
  ['splits/a.yaml', 'files:\n  x: {takes: []}\n', /a\.yaml, line 2: .* at "files > x > takes"/],
  ['sessions/a.yaml', 'sounds:\n  x: {tag: [gong]}\n', /a\.yaml: .*tag/],
  ['vocabulary.yaml', 'sinonyms: []\n', /vocabulary\.yaml: .*sinonyms/],
])('a wrong %s is named with the place of the error', async (name, text, says) => {
  await writeFile(join(folder, name), text);
  await expect(readCatalogue(folder)).rejects.toThrow(says);
  await expect(readCatalogue(folder)).rejects.toThrow(WrongUsage);
});
