import { describe, expect, test } from 'vitest';
import { shapeDistance } from '../../shared/query/contour.ts';
import type { Nearness } from '../../shared/query/nearness.ts';
import { parseQuery } from '../../shared/query/parse.ts';
import { rankSounds } from '../../shared/query/rank.ts';
import {
  type BoundedNearness,
  bothNearnesses,
  colourNearness,
  contourOfActivePart,
  shapeNearness,
} from '../../shared/query/sound-nearness.ts';
import { NO_VOCABULARY } from '../../shared/query/vocabulary.ts';
import { buildWordIndex } from '../../shared/query/words.ts';
import { GROUP_RANGES } from '../../shared/vectors.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

const sounds = inventSounds(400, 9);
const shelf = shelfOf(sounds);
const all = Uint32Array.from(sounds, (_, at) => at);
const wanted = (sound: number) => ({
  vector: shelf.vector(sound),
  centroidHz: shelf.value('centroidHz', sound),
  roughness: shelf.value('roughness', sound),
});
const plainly = () => 0;

describe('by colour', () => {
  test('distances are those of a plain sum over the timbre dimensions, and of nothing else', () => {
    const [first, end] = GROUP_RANGES.timbre;
    const found = colourNearness(shelf, wanted(17)).distances(all, plainly);
    for (const sound of all) {
      let sum = 0;
      for (let i = first; i < end; i++) sum += (shelf.vector(sound)[i] - shelf.vector(17)[i]) ** 2;
      expect(found[sound]).toBeCloseTo(Math.sqrt(sum / 2), 5);
    }
    expect(found[17]).toBe(0);
  });

  test('a sound twice as bright and much rougher is said to be that; the sound itself fits', () => {
    const pair = shelfOf([
      ...sounds,
      { ...sounds[0], id: 'asked', centroidHz: 1000, roughness: 0.2 },
      { ...sounds[1], id: 'other', centroidHz: 2000, roughness: 0.7 },
    ]);
    const nearness = colourNearness(pair, { vector: pair.vector(400), centroidHz: 1000, roughness: 0.2 });
    expect(nearness.reason(401, 0)).toEqual({ text: 'brighter and rougher', fits: false });
    expect(nearness.reason(400, 0)).toEqual({ text: 'much the same colour', fits: true });
  });

  test('a wanted sound without a spectrum still gives finite distances and a reason', () => {
    const nearness = colourNearness(shelf, {
      vector: new Float32Array(shelf.vectorSize),
      centroidHz: null,
      roughness: null,
    });
    expect(nearness.distances(all, plainly).every(Number.isFinite)).toBe(true);
    expect(nearness.reason(3, 0).text).not.toBe('');
  });
});

test('silence comes near to nothing that is asked by shape, colour or both; words still find it', () => {
  const silent = { activeStartSeconds: null, activeSeconds: null, contour: sounds[0].contour.map(() => 0) };
  const mixed = [
    ...sounds.slice(0, 30),
    { ...sounds[30], ...silent, id: 'silent', name: 'Zibeline', faults: ['silent' as const] },
  ];
  const some = shelfOf(mixed);
  const index = buildWordIndex(some, NO_VOCABULARY);
  const { contour } = sounds[5];
  const shape = shapeNearness(some, { contour: Float32Array.from(contour), seconds: 2 });
  const colour = colourNearness(some, wanted(5));
  for (const near of [shape, colour, bothNearnesses(some.count, shape, colour)]) {
    const { order, found } = rankSounds(some, index, parseQuery(''), { near });
    expect([...order].sort((a, b) => a - b)).toEqual(Array.from({ length: 30 }, (_, at) => at));
    expect(found).toBe(30);
    const named = rankSounds(some, index, parseQuery('zibeline'), { near });
    expect([...named.order]).toEqual([30]);
    expect(named.reasons(30).map(({ text }) => text)).toEqual(
      expect.arrayContaining([expect.stringMatching(/silent/)]),
    );
  }
});

describe('by shape', () => {
  test('a sound with pauses around it asks for what it is without them', () => {
    // A hump over the middle half of the file; alone, the same hump over all of it.
    const hump = (at: number) => Math.max(0, Math.sin(Math.PI * at)) ** 2;
    const middles = Array.from({ length: 64 }, (_, point) => (point + 0.5) / 64);
    const padded = contourOfActivePart({
      contour: middles.map((at) => hump(2 * at - 0.5) * Number(at > 0.25 && at < 0.75)),
      durationSeconds: 8,
      activeStartSeconds: 2,
      activeSeconds: 4,
    });
    for (const [point, at] of middles.entries()) expect(Math.abs(padded[point] - hump(at))).toBeLessThan(0.02);
  });

  test('a sound of the shelf asked with is at no distance to speak of, and without an active part stays whole', () => {
    const hundred = sounds.slice(0, 100).map((sound) => ({ ...sound, contour: smooth(sound) }));
    const even = shelfOf(hundred);
    for (const at of [3, 50, 99]) {
      const shape = { contour: contourOfActivePart(hundred[at]), seconds: null };
      expect(shapeNearness(even, shape).exact(at, 0)).toBeLessThan(0.02);
    }
    const whole = contourOfActivePart({ ...hundred[3], activeStartSeconds: null, activeSeconds: null });
    expect([...whole]).toEqual(hundred[3].contour.map(Math.fround));
  });

  /** As contours are: no leaps from point to point, and 1 at the loudest moment, which lies in the active part. */
  function smooth(sound: (typeof sounds)[number]): number[] {
    const means = sound.contour.map(
      (_, at, all) => all.slice(Math.max(0, at - 4), at + 5).reduce((sum, value) => sum + value, 0) / 9,
    );
    const activePoints = Math.floor((64 * (sound.activeSeconds ?? 0)) / sound.durationSeconds);
    const loudest = Math.max(...means.slice(0, activePoints));
    return means.map((value) => Math.min(1, value / loudest));
  }
});

describe('by two together', () => {
  const scaled = (by: number, values: (sound: number) => number): BoundedNearness => ({
    exact: (sound) => by * values(sound),
    distances: (asked) => Float64Array.from(asked, (sound) => by * values(sound)),
    reason: (sound) => ({ text: `${sound}`, fits: true }),
  });
  const up = (sound: number) => sound / 400;
  const down = (sound: number) => 1 - sound / 400;

  test('the scale of either changes nothing', () => {
    const order = (nearness: Nearness) => [...nearness.distances(all, plainly)];
    const plain = order(bothNearnesses(400, scaled(1, up), scaled(1, down)));
    for (const [at, value] of order(bothNearnesses(400, scaled(1000, up), scaled(0.01, down))).entries())
      expect(value).toBeCloseTo(plain[at], 9);
  });

  test('near in both comes before near in one and middling in the other', () => {
    const table = [
      [0.1, 0.1],
      [0, 1],
      [1, 0],
      [1, 1],
      [1, 1],
      [1, 1],
    ];
    const both = bothNearnesses(
      6,
      scaled(7, (sound) => table[sound][0]),
      scaled(3, (sound) => table[sound][1]),
    );
    const found = both.distances(Uint32Array.from([0, 1, 2, 3]), plainly);
    expect([...found].map((value) => Number(value.toFixed(9)))).toEqual([0.1, 0.5, 0.5, 1]);
  });

  test('the nearest are those that plain exact distances of both give, also where shape only knows bounds', () => {
    const many = inventSounds(3000, 12);
    const large = shelfOf(many);
    const every = Uint32Array.from(many, (_, at) => at);
    const shape = { contour: Float32Array.from(many[5].contour), seconds: null };
    const colour = colourNearness(large, { vector: large.vector(77), centroidHz: null, roughness: null });
    const far = colour.distances(every, plainly);
    const exact = Array.from(every, (sound) => shapeDistance(large, shape, sound));
    const middle = (values: ArrayLike<number>) => Float64Array.from(values).sort()[values.length >> 1];
    const sampled = (values: ArrayLike<number>) => middle(Array.from(values).filter((_, at) => at % 5 === 0));
    const [shapeUnit, colourUnit] = [sampled(exact), sampled(far)];
    // A sample of every fifth sound stands for the shelf: its middle is that of the whole within a few per cent.
    expect(Math.abs(shapeUnit / middle(exact) - 1)).toBeLessThan(0.05);
    const plain = Array.from(every, (sound) => (exact[sound] / shapeUnit + far[sound] / colourUnit) / 2);
    const found = bothNearnesses(3000, shapeNearness(large, shape), colour).distances(every, plainly);
    const first = (values: ArrayLike<number>) => [...every].sort((a, b) => values[a] - values[b] || a - b).slice(0, 50);
    expect(first(found)).toEqual(first(plain));
  });

  test('a shelf on which all are just so stays finite', () => {
    const none = scaled(0, up);
    expect([...bothNearnesses(400, none, none).distances(all, plainly)].every((value) => value === 0)).toBe(true);
    expect(bothNearnesses(0, none, none).distances(new Uint32Array(0), plainly).length).toBe(0);
  });
});
