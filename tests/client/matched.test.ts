import { expect, test } from 'vitest';
import { Matched } from '../../src/client/matched.ts';
import type { Shapes } from '../../src/client/shapes.ts';
import { Store } from '../../src/client/state.ts';

/** Loudness and true peak of some sounds, as the shelf would tell them. */
const SOUNDS = [
  { integratedLufs: -30, momentaryMaxLufs: -28, truePeakDbtp: -20 },
  // Quiet with high peaks: at −23 LUFS they would stand at +5 dBTP.
  { integratedLufs: -40, momentaryMaxLufs: -25, truePeakDbtp: -12 },
  { integratedLufs: null, momentaryMaxLufs: -33, truePeakDbtp: -8 },
];
const shapes = {
  duration: () => 3,
  shelf: {
    text: () => 'id',
    value: (field: string, sound: number) => (SOUNDS[sound] as Record<string, number | null>)[field] ?? null,
  },
} as unknown as Shapes;
const loudness = (sound: number): number => SOUNDS[sound].integratedLufs ?? SOUNDS[sound].momentaryMaxLufs;

test('two takes one goes between are equally loud, as near the level set as the peaks of both allow', () => {
  const store = new Store();
  const matched = new Matched(store, shapes, () => -23);
  const heard = (sound: number): number => loudness(sound) + matched.playable(sound).gainDb;
  store.set({ sound: 0, pair: { previous: 1, first: 1, kept: -1, comparing: false } });
  // By itself each goes by its own peaks: −1 − (−12) = 11 dB at most, where 17 were wanted.
  expect(heard(0)).toBeCloseTo(-23, 9);
  expect(heard(1)).toBeCloseTo(-29, 9);
  for (const [sound, previous] of [
    [0, 1],
    [1, 0],
    [1, 2],
    [2, 0],
  ]) {
    store.set({ sound, pair: { previous, first: previous, kept: -1, comparing: true } });
    expect(heard(sound)).toBeCloseTo(heard(previous), 9);
    for (const take of [sound, previous])
      expect((SOUNDS[take].truePeakDbtp ?? 0) + matched.playable(take).gainDb).toBeLessThanOrEqual(-1 + 1e-9);
    // No lower than the one that is held back more would be by itself.
    expect(heard(sound)).toBeCloseTo(
      -23 - Math.max(matched.match(sound).heldBackDb, matched.match(previous).heldBackDb),
      9,
    );
  }
  // Compared with the kept one, not with the one before.
  store.set({ sound: 0, pair: { previous: 2, first: 2, kept: 1, comparing: true } });
  expect(heard(0)).toBeCloseTo(-29, 9);
});
