import { mkdir, mkdtemp, rm, symlink, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { scanArchive } from '../../scripts/archive/scan.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'takeshelf-scan-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

async function touch(...names: string[]): Promise<void> {
  for (const name of names) {
    await mkdir(join(folder, name, '..'), { recursive: true });
    await writeFile(join(folder, name), 'x');
  }
}

test('lists audio files in the same order every time, and leaves out notes and hidden files', async () => {
  await touch(
    'b/two.WAV',
    'a/one.flac',
    'a/One.aif',
    'notes.txt',
    '.hidden.wav',
    '.trash/old.wav',
    'a/._one.flac',
    'z.opus',
  );
  const { files, problems } = await scanArchive([{ name: 'Field', path: folder }]);
  expect(files.map(({ file }) => file)).toEqual(['a/One.aif', 'a/one.flac', 'b/two.WAV', 'z.opus']);
  expect(files.every(({ folder: name, size }) => name === 'Field' && size === 1)).toBe(true);
  expect(problems).toEqual([]);
});

test('follows links, but not in circles, and says where a link leads nowhere', async () => {
  await touch('real/take.wav');
  await symlink(join(folder, 'real'), join(folder, 'linked'));
  await symlink('..', join(folder, 'real/up'));
  await symlink('missing.wav', join(folder, 'lost.wav'));
  await symlink('self.wav', join(folder, 'self.wav'));
  const { files, problems } = await scanArchive([{ name: 'Field', path: folder }]);
  expect(files.map(({ file }) => file)).toEqual(['linked/take.wav', 'real/take.wav']);
  expect(problems.map(({ file }) => file).sort()).toEqual(['linked/up', 'lost.wav', 'real/up', 'self.wav']);
});
