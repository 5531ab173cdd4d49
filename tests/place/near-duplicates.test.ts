import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { processFile } from '../../scripts/archive/process-file.ts';
import { findNearDuplicates } from '../../scripts/place/near-duplicates.ts';
import type { Sound } from '../../shared/sound.ts';
import { inventSounds } from '../shared/invented-sounds.ts';

const packages = new URL('../../node_modules/', import.meta.url).pathname;
const [blank] = inventSounds(1);

async function measured(file: string): Promise<Sound[]> {
  const { takes } = await processFile(join(packages, file));
  return takes.map(({ id, measurements }) => ({
    ...blank,
    ...measurements,
    id,
    name: file,
    places: [{ folder: 'packages', file, startSeconds: 0 }],
  }));
}

describe('near duplicates among real recordings', () => {
  test('one recording in other formats and depths is found, different takes of one instrument are not', async () => {
    // The package's own statement: all of these are one recording. The drums are a soft and a hard stroke each.
    const versions = ['lena.wav', 'lena.mp3', 'lena.ogg', 'lena.opus', 'lena-24.aiff', 'lena.flac'];
    const drums = ['tom_hi_hard', 'tom_hi_soft', 'tom_mid_hard', 'tom_mid_soft', 'snare_hard', 'snare_soft'];
    const files = [
      ...versions.map((name) => `audio-lena/${name}`),
      ...drums.map((name) => `supersonic-scsynth-samples/samples/drum_${name}.flac`),
    ];
    const sounds: Sound[] = [];
    for (const file of files) sounds.push(...(await measured(file)));
    const groups = findNearDuplicates(sounds).map((group) => group.sounds.map(({ name }) => name));
    expect(groups).toEqual([versions.map((name) => `audio-lena/${name}`)]);
  });
});

test('a quieter copy is found; sounds without a spectrum are left out', () => {
  const sounds = inventSounds(40, 9);
  const copy = { ...sounds[5], id: 'copy', integratedLufs: -50, truePeakDbtp: -40 };
  const silent = { ...sounds[6], id: 'silent', cepstrumMean: null };
  const groups = findNearDuplicates([...sounds, copy, silent, { ...silent, id: 'silent too' }]);
  expect(groups.map((group) => group.sounds.map(({ id }) => id))).toEqual([[sounds[5].id, 'copy']]);
});

describe('what may differ between two near duplicates', () => {
  const [first] = inventSounds(1, 12);
  const isFound = (other: Partial<Sound>): boolean =>
    findNearDuplicates([first, { ...first, id: 'other', ...other }]).length === 1;

  // Bounds between what was measured on real recordings: formats of one recording (1.7 dB, 0.02), and neighbours that are two
  // sounds (2.6 dB).
  test.each([
    ['length, by a hundredth', { activeSeconds: (first.activeSeconds ?? 0) * 1.01 }, true],
    ['length, by a twentieth', { activeSeconds: (first.activeSeconds ?? 0) * 1.05 }, false],
    ['colour, by 1.7 dB', { cepstrumMean: (first.cepstrumMean ?? []).map((value) => value + 1.7) }, true],
    ['colour, by 2.6 dB', { cepstrumMean: (first.cepstrumMean ?? []).map((value) => value + 2.6) }, false],
    ['outline, by 0.02', { contour: first.contour.map((value) => value + 0.02) }, true],
    ['outline, by 0.04', { contour: first.contour.map((value) => value + 0.04) }, false],
  ])('%s', (_, other, expected) => expect(isFound(other)).toBe(expected));
});
