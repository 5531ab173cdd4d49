/** What the machine does wrong stays the machine's: a file swapped, moved or not to be written is tried again. */
import { readFileSync, renameSync, rmSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { mkdir, readdir, rm, utimes, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { BuildCache } from '../../scripts/archive/cache.ts';
import { type DiskFile, openFile } from '../../scripts/archive/decode/file-bytes.ts';
import { ChangedWhileRead, machineFailure } from '../../scripts/archive/failures.ts';
import { USUAL_SPLIT } from '../../scripts/archive/split-settings.ts';
import { type FileKnown, measureFile } from '../../scripts/measure-file.ts';
import { CannotWrite } from '../../scripts/messages.ts';
import { CACHE } from '../../scripts/own/kinds.ts';
import { cacheWithPage, takeshelf, temporaryFolder, treeDigest } from './command.ts';
import { tone, wav, writeSmallArchive } from './small-archive.ts';

let home: string;
beforeAll(async () => {
  home = await temporaryFolder();
});
afterAll(() => rm(home, { recursive: true, force: true }));

/** Long ago, so that a change of the file must show in its times. */
const LONG_AGO = new Date('2020-01-01T00:00:00Z');

async function recording(name: string, seed: number): Promise<string> {
  const path = join(home, name);
  await writeFile(path, wav(tone(seed)));
  await utimes(path, LONG_AGO, LONG_AGO);
  return path;
}

/** The file, with something that happens to it once its whole content has been read. */
function withMishap(file: DiskFile, mishap: () => void): DiskFile {
  let happened = false;
  return {
    size: file.size,
    facts: () => file.facts(),
    read: (position, length) => file.read(position, length),
    close: () => file.close(),
    async readInto(target, position) {
      const count = await file.readInto(target, position);
      if (!happened && position + count === file.size) {
        happened = true;
        mishap();
      }
      return count;
    },
  };
}

async function measured(path: string, cache: BuildCache, mishap: () => void = () => undefined): Promise<FileKnown> {
  const file = await openFile(path);
  try {
    return await measureFile(withMishap(file, mishap), path, USUAL_SPLIT, cache, new Map());
  } finally {
    await file.close();
  }
}

/** Everything in the cache but its mark and empty folders. */
const kept = async (folder: string): Promise<string[]> =>
  Object.keys(await treeDigest(folder).catch(() => ({}))).filter((name) => name !== CACHE.mark);

describe('content that changes between digest and decoding', () => {
  const swaps: [string, (path: string, other: string) => void][] = [
    ['written over in place', (path, other) => writeFileSync(path, readFileSync(other))],
    [
      'written over in place, with its time set back',
      (path, other) => {
        const { atime, mtime } = statSync(path);
        writeFileSync(path, readFileSync(other));
        utimesSync(path, atime, mtime);
      },
    ],
    ['replaced by another file of the same size and time', (path, other) => renameSync(other, path)],
    ['cut short', (path) => writeFileSync(path, readFileSync(path).subarray(0, 3000))],
    ['grown', (path, other) => writeFileSync(path, readFileSync(other), { flag: 'a' })],
  ];
  test.each(swaps)('%s: nothing is kept, and the next look gives what is there', async (name, swap) => {
    const path = await recording(`${name}.wav`, 1);
    const other = await recording(`${name} other.wav`, 2);
    const folder = join(home, `cache ${name}`);
    const cache = await BuildCache.open(folder);
    await expect(measured(path, cache, () => swap(path, other))).rejects.toBeInstanceOf(ChangedWhileRead);
    expect(await kept(folder)).toEqual([]);
    const again = await measured(path, cache);
    const fresh = await measured(path, await BuildCache.open(join(home, `fresh ${name}`)));
    expect(again.takesKey).toBe(fresh.takesKey);
    expect(await cache.outcome(again.takesKey)).not.toBeNull();
  });

  test('moved away or deleted: told as such', async () => {
    const path = await recording('moved.wav', 1);
    const cache = await BuildCache.open(join(home, 'cache moved'));
    const error = await measured(path, cache, () => renameSync(path, `${path}.elsewhere`)).then(
      () => null,
      (reason: unknown) => reason,
    );
    expect(await kept(cache.folder)).toEqual([]);
    expect(machineFailure(error)).toMatchObject({ found: 'The file cannot be read: it is not there any more.' });
  });

  test('an unchanged file is known by all the file system says of it, the time of change among them', async () => {
    const path = await recording('known.wav', 1);
    const cache = await BuildCache.open(join(home, 'cache known'));
    const { digest } = await measured(path, cache);
    const facts = { size: 1, modified: '2', changed: '3', inode: '4' };
    cache.remember(path, facts, digest);
    const scanned = { folder: 'Field', file: 'known.wav', path, ...facts };
    expect(cache.digestOf(scanned)).toBe(digest);
    for (const change of [{ size: 9 }, { modified: '9' }, { changed: '9' }, { inode: '9' }]) {
      expect(cache.digestOf({ ...scanned, ...change }), JSON.stringify(change)).toBeNull();
    }
  });

  test('a file written a moment ago is not known by its times', async () => {
    const path = join(home, 'fresh.wav');
    writeFileSync(path, wav(tone(3)));
    const { facts } = await measured(path, await BuildCache.open(join(home, 'cache of the fresh')));
    expect(facts).toBeNull();
  });
});

test('a cache that cannot be written is no fault of the file', async () => {
  const path = await recording('unwritten.wav', 1);
  const cache = await BuildCache.open(join(home, 'cache blocked'));
  await mkdir(join(cache.folder, 'previews'), { recursive: true });
  await writeFile(cache.previewFolder, 'a file where a folder must be');
  await expect(measured(path, cache)).rejects.toBeInstanceOf(CannotWrite);
  expect(await readdir(cache.folder)).toEqual(['previews', CACHE.mark]);
});

test('a build whose cache cannot be written says where, keeps the old site, and heals to the same as an undisturbed one', async () => {
  const folder = join(home, 'build');
  const archive = await writeSmallArchive(join(folder, 'archive'), 2);
  const out = join(folder, 'site');
  const cache = await cacheWithPage(join(folder, 'cache'));
  const words = ['build', archive, '--out', out, '--cache', cache];
  expect((await takeshelf(words)).code).toBe(0);
  const before = await treeDigest(out);

  await writeFile(join(archive, 'new.wav'), wav(tone(30)));
  // Files where the cache would have its folders, by the first two digits of a content's digest.
  const inTheWay = Array.from({ length: 256 }, (_, at) => join(cache, 'takes', at.toString(16).padStart(2, '0')));
  rmSync(join(cache, 'takes'), { recursive: true });
  await mkdir(join(cache, 'takes'));
  for (const path of inTheWay) await writeFile(path, 'in the way');
  const disturbed = await takeshelf(words);
  expect(disturbed.code).toBe(1);
  expect(disturbed.stderr).toContain(join(cache, 'takes'));
  expect(disturbed.stderr).toMatch(/cannot be written: .*What is done is kept; the site is as it was\./);
  expect(await treeDigest(out)).toEqual(before);

  for (const path of inTheWay) rmSync(path);
  const healed = await takeshelf(words);
  expect(healed.code, healed.stderr).toBe(0);
  const quiet = join(folder, 'undisturbed');
  await takeshelf(['build', archive, '--out', quiet, '--cache', await cacheWithPage(join(folder, 'cache 2'))]);
  expect(await treeDigest(out)).toEqual(await treeDigest(quiet));
});
