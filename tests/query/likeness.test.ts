import { describe, expect, test } from 'vitest';
import { findNearDuplicates } from '../../scripts/place/near-duplicates.ts';
import { differences, EQUAL_WEIGHTS, type LikenessWeights, nearestTo, sourceOf } from '../../shared/query/likeness.ts';
import type { Shelf } from '../../shared/shelf.ts';
import type { Sound } from '../../shared/sound.ts';
import {
  fitStandardisation,
  GROUP_RANGES,
  VECTOR_DIMENSIONS,
  VECTOR_GROUPS,
  VECTOR_SIZE,
  vectorOf,
} from '../../shared/vectors.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

/** Naive twin: every distance to the middle of `from`, sorted. */
function naive(shelf: Shelf, from: readonly number[], weights: LikenessWeights): number[] {
  const middle = (i: number): number =>
    Math.fround(from.reduce((sum, sound) => sum + shelf.vector(sound)[i], 0) / from.length);
  const distance = (to: number): number =>
    VECTOR_GROUPS.reduce((sum, group) => {
      const [first, end] = GROUP_RANGES[group];
      let part = 0;
      for (let i = first; i < end; i++) part += (middle(i) - shelf.vector(to)[i]) ** 2;
      return sum + weights[group] * part;
    }, 0);
  return Array.from({ length: shelf.count }, (_, index) => index)
    .filter((index) => !from.includes(index))
    .sort((a, b) => distance(a) - distance(b) || a - b);
}

describe('likeness', () => {
  const sounds = inventSounds(300, 4);
  // A sound that is sound 7 in all but level: the nearest to it, whatever else there is.
  sounds.push({ ...sounds[7], id: 'quieter', integratedLufs: -60, truePeakDbtp: -40, samplePeakDbfs: -41 });
  const shelf = shelfOf(sounds);

  test('finds the sounds a full sort finds, for any weights', () => {
    for (const weights of [
      EQUAL_WEIGHTS,
      { timbre: 1, movement: 0, pitch: 0, length: 0 },
      { timbre: 0.2, movement: 2, pitch: 0.5, length: 1 },
    ]) {
      for (const from of [[0], [50], [299], [3, 70], [8, 120, 121, 250]]) {
        expect(nearestTo(shelf, sourceOf(shelf, from), 20, weights).map(({ index }) => index)).toEqual(
          naive(shelf, from, weights).slice(0, 20),
        );
      }
    }
  });

  test('does not hear level: the same sound, quieter, is nearest and at distance 0', () => {
    expect(nearestTo(shelf, sourceOf(shelf, [7]), 1)).toEqual([{ index: 300, distance: 0 }]);
  });

  test('keeps to a direction, and to several at once', () => {
    const centroid = shelf.number('centroidHz');
    const length = shelf.number('activeSeconds');
    const found = nearestTo(shelf, sourceOf(shelf, [20]), 50, EQUAL_WEIGHTS, ['darker', 'longer']);
    expect(found.length).toBeGreaterThan(0);
    for (const { index } of found) {
      expect(centroid[index]).toBeLessThan(centroid[20]);
      expect(length[index]).toBeGreaterThan(length[20]);
    }
  });

  test('says in words what differs', () => {
    const darker = { ...sounds[7], id: 'darker', centroidHz: (sounds[7].centroidHz ?? 0) - 600 };
    const pair = shelfOf([
      { ...sounds[7], centroidHz: 2000 },
      { ...darker, centroidHz: 1400, activeSeconds: (sounds[7].activeSeconds ?? 0) + 1.2 },
    ]);
    const words = differences(pair, sourceOf(pair, [0]), 1);
    expect(words).toContain('darker by 600 Hz');
    expect(words.some((word) => /1\.2 s longer/.test(word))).toBe(true);
  });

  test('asks from the middle of several: of three in a row on the scale of pitch, from the outer two to the one between', () => {
    // Alike in all but pitch: 100, 200, 400 Hz lie evenly to the ear, and 250 Hz (the plain mean) is not their middle.
    const row = [100, 400, 200, 250, 110, 390].map((pitchHz, at) => ({ ...sounds[7], id: `${at}`, pitchHz }));
    const pitched = shelfOf(row);
    const from = sourceOf(pitched, [0, 1]);
    expect(nearestTo(pitched, from, 2).map(({ index }) => index)).toEqual([2, 3]);
    expect(from.values.pitchHz).toBeCloseTo(200, 6);
    const higher = nearestTo(pitched, from, 9, EQUAL_WEIGHTS, ['higher']).map(({ index }) => index);
    expect(higher.sort()).toEqual([3, 5]);
  });

  test('a value none of the asked has gives no direction; a value some have is the mean of those', () => {
    const some = shelfOf([
      { ...sounds[7], id: 'a', pitchHz: null },
      { ...sounds[7], id: 'b', pitchHz: 300 },
      { ...sounds[7], id: 'c', pitchHz: 700 },
    ]);
    expect(nearestTo(some, sourceOf(some, [0]), 9, EQUAL_WEIGHTS, ['higher'])).toEqual([]);
    expect(sourceOf(some, [0, 1]).values.pitchHz).toBe(300);
    expect(nearestTo(some, sourceOf(some, []), 9)).toEqual([]);
  });

  test('says how the outline moves: the same, or rising later', () => {
    const rise = (from: number) => Array.from({ length: 64 }, (_, at) => Math.max(0.02, Math.min(1, (at - from) / 10)));
    const outlines = shelfOf([
      { ...sounds[7], contour: rise(10), gesture: 'riser' },
      { ...sounds[7], contour: rise(10).map((value) => value * 0.99), gesture: 'riser' },
      { ...sounds[7], contour: rise(40), gesture: 'swell' },
    ]);
    expect(differences(outlines, sourceOf(outlines, [0]), 1)).toEqual(['same contour', 'also a riser']);
    expect(differences(outlines, sourceOf(outlines, [0]), 2)).toEqual(['rises later']);
    expect(differences(outlines, sourceOf(outlines, [2]), 0)).toEqual(['rises earlier']);
  });

  test('silence is like nothing, nothing is like it, and it does not move the scale', () => {
    const SILENT: Partial<Sound> = {
      integratedLufs: null,
      activeStartSeconds: null,
      activeSeconds: null,
      centroidHz: null,
      pitchHz: null,
      cepstrumMean: null,
      cepstrumSpread: null,
      contour: sounds[0].contour.map(() => 0),
      faults: ['silent'],
    };
    const heard = sounds.slice(0, 30);
    const silences = heard.slice(0, 20).map((sound, at) => ({ ...sound, ...SILENT, id: `silent ${at}` }));
    const mixed = shelfOf([...heard, ...silences]);
    const alone = shelfOf(heard);
    for (let from = 0; from < heard.length; from++) {
      // Not one of them is named, though all that are heard are; and at the distances they have without them.
      expect(nearestTo(mixed, sourceOf(mixed, [from]), 100)).toEqual(nearestTo(alone, sourceOf(alone, [from]), 100));
    }
    expect(nearestTo(mixed, sourceOf(mixed, [31]), 100)).toEqual([]);
    // Asked from together with a sound that is heard, it adds nothing.
    expect(nearestTo(mixed, sourceOf(mixed, [3, 31]), 5)).toEqual(nearestTo(mixed, sourceOf(mixed, [3]), 5));
    expect(findNearDuplicates([...silences])).toEqual([]);
  });

  test('a row is finite for a sound about which nothing is known', () => {
    const nothing = { ...sounds[0] };
    for (const key of ['centroidHz', 'pitchHz', 'activeSeconds', 'attackSeconds', 'roughness', 'flatness'] as const)
      nothing[key] = null;
    const row = vectorOf({ ...nothing, cepstrumMean: null, cepstrumSpread: null }, fitStandardisation(sounds));
    expect(row.length).toBe(VECTOR_SIZE);
    expect(row.every(Number.isFinite)).toBe(true);
    expect(fitStandardisation([]).scale.every((scale) => scale > 0)).toBe(true);
  });
});

test('a direction begins where the ear cannot miss it: a tenth darker counts, an eleventh does not', () => {
  const [sound] = inventSounds(1, 5);
  const shelf = shelfOf([1000, 895, 905, 1105, 1095].map((centroidHz, at) => ({ ...sound, id: `${at}`, centroidHz })));
  const those = (direction: 'darker' | 'brighter'): number[] =>
    nearestTo(shelf, sourceOf(shelf, [0]), 9, EQUAL_WEIGHTS, [direction]).map(({ index }) => index);
  expect(those('darker')).toEqual([1]);
  expect(those('brighter')).toEqual([3]);
});

test('one odd value cannot decide alone: beyond four spreads it counts as four', () => {
  const many = inventSounds(400, 6);
  const standardisation = fitStandardisation(many);
  const at = VECTOR_DIMENSIONS.findIndex(({ name }) => name === 'crest');
  const [first, end] = GROUP_RANGES[VECTOR_DIMENSIONS[at].group];
  // Deviations are shared out over their group, so that a group with many dimensions weighs no more.
  const spreads = (crestDb: number): number =>
    vectorOf({ ...many[0], crestDb }, standardisation)[at] * Math.sqrt(end - first);
  const spreadDb = standardisation.scale[at] / Math.sqrt(end - first);
  const centreDb = standardisation.centre[at];
  expect(spreads(centreDb + 3.9 * spreadDb)).toBeCloseTo(3.9, 4);
  expect(spreads(centreDb + 4.5 * spreadDb)).toBeCloseTo(4, 4);
  expect(spreads(centreDb - 1000 * spreadDb)).toBeCloseTo(-4, 4);
});
