import { mkdir, mkdtemp, rm, symlink, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { scanArchive } from '../../scripts/archive/scan.ts';
import { bytes, chunk, riff, waveFormat } from './bytes.ts';

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

const found = async (path = folder) => {
  const { files, problems, warnings, unreachable } = await scanArchive([{ name: 'Field', path }]);
  const told = warnings.map(({ file, message }) => `${file}: ${message}`);
  return { names: files.map(({ file }) => file), problems, told, unreachable };
};

test('follows links, but not in circles, and says where a link leads nowhere', async () => {
  await touch('real/take.wav');
  await symlink(join(folder, 'real'), join(folder, 'linked'));
  await symlink('real/take.wav', join(folder, 'again.wav'));
  await symlink('..', join(folder, 'real/up'));
  await symlink('missing.wav', join(folder, 'lost.wav'));
  await symlink('self.wav', join(folder, 'self.wav'));
  const { names, problems, told } = await found();
  expect(names).toEqual(['real/take.wav']);
  expect(problems.map(({ file }) => file).sort()).toEqual(['lost.wav', 'real/up', 'self.wav']);
  expect(told).toEqual([
    'again.wav: A link to what is listed as "real/take.wav" already; it is not listed twice.',
    'linked: A link to what is listed as "real" already; it is not listed twice.',
  ]);
});

test('a lattice of links lists each recording once, and every link is told', async () => {
  // Sixteen storeys of two links each, both to the next storey: 2^16 ways to the one recording at the bottom.
  const storeys = 16;
  await touch(`s${storeys}/take.wav`);
  for (let i = 0; i < storeys; i++) {
    await mkdir(join(folder, `s${i}`));
    for (const side of ['left', 'right']) await symlink(`../s${i + 1}`, join(folder, `s${i}`, side));
  }
  const { names, problems, told } = await found();
  expect(names).toEqual([`s${storeys}/take.wav`]);
  expect(problems).toEqual([]);
  expect(told).toHaveLength(2 * storeys);
  // From outside, where no real place comes first: under the first way, every other link told.
  const outside = join(folder, 'outside');
  await mkdir(outside);
  await symlink('../s0', join(outside, 'door'));
  const through = await found(outside);
  expect(through.names).toEqual([`door/${'left/'.repeat(storeys)}take.wav`]);
  expect(through.told).toHaveLength(1 + 2 * storeys);
});

test('a link out of the archive is followed and told, but not to a folder that holds the archive', async () => {
  await touch('archive/own.wav', 'elsewhere/deep/far.wav', 'elsewhere/notes.txt');
  const archive = join(folder, 'archive');
  await symlink('../elsewhere', join(archive, 'b'));
  await symlink('../elsewhere/deep/far.wav', join(archive, 'a.wav'));
  await symlink('/', join(archive, 'all'));
  const { names, problems, told } = await found(archive);
  expect(names).toEqual(['a.wav', 'own.wav']);
  expect(problems.map(({ file }) => file)).toEqual(['all']);
  expect(told).toEqual([
    expect.stringMatching(/^a\.wav: A link out of the archive, to .*\/elsewhere\/deep\/far\.wav: /),
    expect.stringMatching(/^b: A link out of the archive, to .*\/elsewhere: /),
    'b/deep/far.wav: A link to what is listed as "a.wav" already; it is not listed twice.',
  ]);
});

// First bytes: Apple's Core Audio Format and Sony's Wave64 specifications, ISO 14496-12, the Sun audio header, the WavPack
// format, RFC 9639.
test('sound that is not read, and sound without an ending, is not passed over in silence', async () => {
  const wave = riff([waveFormat(), chunk('data', new Uint8Array(8))]);
  const files: Record<string, Uint8Array | string> = {
    'a.m4a': bytes([0, 0, 0, 24], 'ftypM4A ', new Uint8Array(16)),
    'b.CAF': bytes('caff', new Uint8Array(16)),
    'c.w64': bytes('riff', [0x2e, 0x91, 0xcf, 0x11], new Uint8Array(16)),
    'd.au': bytes('.snd', new Uint8Array(20)),
    'e.wv': bytes('wvpk', new Uint8Array(20)),
    'f.ape': 'no such thing',
    'g.au': wave,
    'take 1': wave,
    'take 2': bytes('caff', new Uint8Array(16)),
    'take 3': bytes('fLaC', new Uint8Array(40)),
    LICENSE: 'Permission is hereby granted',
    Makefile: bytes([0xff, 0xfe], 'all:'),
    'film.mov': bytes([0, 0, 0, 24], 'ftypqt  ', new Uint8Array(16)),
    'notes.txt': wave,
    empty: '',
  };
  for (const [name, content] of Object.entries(files)) await writeFile(join(folder, name), content);
  const { names, problems } = await found();
  expect(names).toEqual(['g.au', 'take 1', 'take 3']);
  expect(problems.map(({ file, found: what }) => `${file}: ${what}`)).toEqual([
    'a.m4a: This is an MPEG-4 sound file (M4A).',
    'b.CAF: This is a Core Audio file (CAF).',
    'c.w64: This is a Wave64 file.',
    'd.au: This is a Sun AU file.',
    'e.wv: This is a WavPack file.',
    'f.ape: This is a text file.',
    'take 2: This is a Core Audio file (CAF).',
  ]);
  for (const { remedy } of problems) expect(remedy).toMatch(/Export the sound/);
});

test('says where nothing could be looked for: no folder, no file in it, a link to a drive that is not there', async () => {
  const why = async (path: string): Promise<string[]> =>
    (await found(path)).unreachable.map(({ file, why: reason }) => `${file}|${reason}`);
  await touch('present/take.wav', 'notes/read me.txt', 'mount/.DS_Store');
  await mkdir(join(folder, 'mount/inner'));
  await symlink(join(folder, 'unplugged'), join(folder, 'present/drive'));
  await symlink(join(folder, 'unplugged'), join(folder, 'shelf'));
  expect(await why(join(folder, 'unplugged'))).toEqual(['|missing']);
  expect(await why(join(folder, 'shelf'))).toEqual(['|missing']);
  expect(await why(join(folder, 'mount'))).toEqual(['|empty']);
  expect(await why(join(folder, 'notes'))).toEqual([]);
  expect(await why(join(folder, 'present'))).toEqual(['drive|unreadable']);
});
