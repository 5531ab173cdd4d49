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
  ['sessions/a.yaml', 'sounds:\n  x: {tag: [gong]}\n', /a\.yaml: .*tag/],
  ['vocabulary.yaml', 'sinonyms: []\n', /vocabulary\.yaml: .*sinonyms/],
])('a wrong %s is named with the place of the error', async (name, text, says) => {
  await writeFile(join(folder, name), text);
  await expect(readCatalogue(folder)).rejects.toThrow(says);
  await expect(readCatalogue(folder)).rejects.toThrow(WrongUsage);
});
