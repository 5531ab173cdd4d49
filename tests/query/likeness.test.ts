import { describe, expect, test } from 'vitest';
import { differences, EQUAL_WEIGHTS, type LikenessWeights, nearestTo } from '../../shared/query/likeness.ts';
import type { Shelf } from '../../shared/shelf.ts';
import { fitStandardisation, GROUP_RANGES, VECTOR_GROUPS, VECTOR_SIZE, vectorOf } from '../../shared/vectors.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

/** Naive twin: every distance, sorted. */
function naive(shelf: Shelf, from: number, weights: LikenessWeights): number[] {
  const distance = (to: number): number =>
    VECTOR_GROUPS.reduce((sum, group) => {
      const [first, end] = GROUP_RANGES[group];
      let part = 0;
      for (let i = first; i < end; i++) part += (shelf.vector(from)[i] - shelf.vector(to)[i]) ** 2;
      return sum + weights[group] * part;
    }, 0);
  return Array.from({ length: shelf.count }, (_, index) => index)
    .filter((index) => index !== from)
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
      for (const from of [0, 50, 299]) {
        expect(nearestTo(shelf, from, 20, weights).map(({ index }) => index)).toEqual(
          naive(shelf, from, weights).slice(0, 20),
        );
      }
    }
  });

  test('does not hear level: the same sound, quieter, is nearest and at distance 0', () => {
    expect(nearestTo(shelf, 7, 1)).toEqual([{ index: 300, distance: 0 }]);
  });

  test('keeps to a direction, and to several at once', () => {
    const centroid = shelf.number('centroidHz');
    const length = shelf.number('activeSeconds');
    const found = nearestTo(shelf, 20, 50, EQUAL_WEIGHTS, ['darker', 'longer']);
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
    const words = differences(pair, 0, 1);
    expect(words).toContain('darker by 600 Hz');
    expect(words.some((word) => /1\.2 s longer/.test(word))).toBe(true);
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
