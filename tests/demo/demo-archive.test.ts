/** The archive as a whole: written whole or not at all, the same for the same seed, and true to its own truth. */
import { createHash } from 'node:crypto';
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { writeDemoArchive } from '../../scripts/demo/demo-archive.ts';
import { planArchive, soundsIn } from '../../scripts/demo/plan/plan-archive.ts';
import { TO_SORT_FILES } from '../../scripts/demo/plan/sessions/to-sort.ts';
import { renderFiles } from '../../scripts/demo/render-pool.ts';
import type { ArchiveTruth } from '../../scripts/demo/truth.ts';
import { GESTURES } from '../../shared/sound.ts';

const SOUNDS = 6;
let room: string;
let folder: string;
let truth: ArchiveTruth;

beforeAll(async () => {
  room = await mkdtemp(path.join(tmpdir(), 'demo-archive-'));
  folder = path.join(room, 'archive');
  await writeDemoArchive(folder, { sounds: SOUNDS, seed: 7 });
  truth = JSON.parse(await readFile(path.join(folder, 'truth.json'), 'utf8'));
});

afterAll(() => rm(room, { recursive: true, force: true }));

describe('writeDemoArchive', () => {
  it('writes exactly the sounds asked for, and says so', async () => {
    const seen: [number, number][] = [];
    const answer = await writeDemoArchive(path.join(room, 'three'), {
      sounds: 3,
      onProgress: (done, total) => seen.push([done, total]),
    });
    expect(answer.sounds).toBe(3);
    expect(seen.at(-1)).toEqual([3, 3]);
    expect(soundsIn(planArchive(700, 1))).toBe(700);
    expect(truth.files.flatMap((file) => file.sounds)).toHaveLength(SOUNDS);
  });

  it('holds the files its truth lists and no others', async () => {
    expect(await filesBelow(folder)).toEqual(['truth.json', ...truth.files.map((file) => file.path)].sort());
  });

  it('gives the same bytes for the same seed, and others for another', async () => {
    const again = path.join(room, 'again');
    const other = path.join(room, 'other');
    await writeDemoArchive(again, { sounds: SOUNDS, seed: 7 });
    await writeDemoArchive(other, { sounds: SOUNDS, seed: 8 });
    expect(await hashes(again)).toEqual(await hashes(folder));
    expect(await hashes(other)).not.toEqual(await hashes(folder));
  });

  it('gives the same bytes on worker threads as without', async () => {
    const plans = TO_SORT_FILES.slice(0, 4);
    const render = async (workers: number) => {
      const place = path.join(room, `threads ${workers}`);
      const truths = await renderFiles(plans, { folder: place, seed: 7, workers, onFile: () => {} });
      return { truths, bytes: await hashes(place) };
    };
    expect(await render(2)).toEqual(await render(0));
  });

  it('replaces an archive of its own but nothing else', async () => {
    const target = path.join(room, 'mine');
    await writeDemoArchive(target, { sounds: 2 });
    await writeDemoArchive(target, { sounds: 1 });
    await writeFile(path.join(target, 'my only take.wav'), 'irreplaceable');
    await expect(writeDemoArchive(target, { sounds: 1 })).rejects.toThrow(/not part of the demo archive.*my only take/);
    const foreign = await mkdtemp(path.join(room, 'foreign-'));
    await writeFile(path.join(foreign, 'truth.json'), '{"magic":"something else","files":[]}');
    await expect(writeDemoArchive(foreign, { sounds: 1 })).rejects.toThrow(/holds no demo archive/);
    expect(await readdir(foreign)).toEqual(['truth.json']);
    expect((await readdir(room)).filter((name) => /partial|former/.test(name))).toEqual([]);
  });

  it('refuses counts and seeds that mean nothing', async () => {
    await expect(writeDemoArchive(path.join(room, 'x'), { sounds: 0 })).rejects.toThrow(/sounds is 0/);
    await expect(writeDemoArchive(path.join(room, 'x'), { sounds: Number.NaN })).rejects.toThrow(/sounds is NaN/);
    await expect(writeDemoArchive(path.join(room, 'x'), { seed: 1.5 })).rejects.toThrow(/seed is 1.5/);
  });
});

describe('truth.json', () => {
  it('keeps every sound inside its file, in order, and its accent inside the sound', () => {
    for (const file of truth.files) {
      let former = 0;
      for (const sound of file.sounds) {
        expect(sound.startSeconds).toBeGreaterThanOrEqual(former);
        expect(sound.lengthSeconds).toBeGreaterThan(0);
        expect(sound.startSeconds + sound.lengthSeconds).toBeLessThanOrEqual((file.lengthSeconds ?? 0) + 1e-9);
        expect(sound.heardFromSeconds).toBeLessThan(sound.lengthSeconds);
        if (sound.accentSeconds !== null) expect(sound.accentSeconds).toBeLessThan(sound.lengthSeconds);
        expect(GESTURES).toContain(sound.gesture);
        former = sound.startSeconds + sound.lengthSeconds;
      }
    }
  });

  it('names the sounds differently and with words of the house', () => {
    const names = planArchive(undefined, 1).flatMap((plan) => (plan.kind === 'audio' ? plan.sounds : []));
    const doubled = names.filter((sound, index) => names.findIndex((other) => other.name === sound.name) !== index);
    // Only the deliberate duplicate repeats a name.
    expect(doubled.map((sound) => sound.name)).toEqual(['Mooring ring, five going down']);
    for (const sound of names) {
      expect(sound.keywords.length).toBeGreaterThanOrEqual(2);
      expect(sound.keywords.every((word) => word === word.toLowerCase() && !word.includes(';'))).toBe(true);
    }
  });
});

async function filesBelow(where: string): Promise<string[]> {
  const entries = await readdir(where, { recursive: true, withFileTypes: true });
  return entries
    .filter((entry) => entry.isFile())
    .map((entry) => path.relative(where, path.join(entry.parentPath, entry.name)))
    .sort();
}

async function hashes(where: string): Promise<Map<string, string>> {
  const result = new Map<string, string>();
  for (const file of await filesBelow(where)) {
    result.set(
      file,
      createHash('sha256')
        .update(await readFile(path.join(where, file)))
        .digest('hex'),
    );
  }
  return result;
}
