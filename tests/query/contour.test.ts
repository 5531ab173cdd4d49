import { describe, expect, test } from 'vitest';
import {
  contourDistance,
  EXACT_SOUNDS,
  nearestByShape,
  shapeDistance,
  shapeDistances,
  type WantedShape,
  wantedRow,
} from '../../shared/query/contour.ts';
import {
  BAND_POINTS,
  beyondEnvelope,
  COST_UNIT,
  endsBound,
  type Rest,
  restBeyondEnvelope,
  SEGMENTS,
  STEP_COST,
  sumSegments,
  warpedCost,
  writeEnvelope,
} from '../../shared/query/contour-bounds.ts';
import { writeRow } from '../../shared/query/contour-rows.ts';
import { parseQuery } from '../../shared/query/parse.ts';
import { rankSounds } from '../../shared/query/rank.ts';
import { nearShape, shapeReason } from '../../shared/query/shape-words.ts';
import { NO_VOCABULARY } from '../../shared/query/vocabulary.ts';
import { buildWordIndex } from '../../shared/query/words.ts';
import type { Shelf } from '../../shared/shelf.ts';
import { CONTOUR_POINTS } from '../../shared/sound.ts';
import { Random } from '../measure/random.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';
import { distort, inventContour } from './contours.ts';
import { recordedContours } from './recorded-contours.ts';

const AS_TAKEN = { speed: 0.15, rippleDb: 3, noise: 0.02 };

/**
 * Sakoe and Chiba 1978, symmetric form without slope constraint: g(1,1) = 2 d(1,1),
 * g(i,j) = min(g(i,j-1) + d, g(i-1,j-1) + 2d, g(i-1,j) + d), |i - j| <= r, D = g(I,J) / (I + J);
 * steps in one sequence alone cost `step` more, as in Herrmann and Webb 2023 (both from memory).
 */
function plainWarp(a: ArrayLike<number>, b: ArrayLike<number>, r: number, step: number): number {
  const g = Array.from({ length: a.length }, () => new Array<number>(b.length).fill(Number.POSITIVE_INFINITY));
  for (let i = 0; i < a.length; i++) {
    for (let j = Math.max(0, i - r); j <= Math.min(b.length - 1, i + r); j++) {
      const d = Math.abs(a[i] - b[j]);
      if (i === 0 && j === 0) g[0][0] = 2 * d;
      else
        g[i][j] = Math.min(
          j > 0 ? g[i][j - 1] + d + step : Number.POSITIVE_INFINITY,
          i > 0 && j > 0 ? g[i - 1][j - 1] + 2 * d : Number.POSITIVE_INFINITY,
          i > 0 ? g[i - 1][j] + d + step : Number.POSITIVE_INFINITY,
        );
    }
  }
  return g[a.length - 1][b.length - 1] / (a.length + b.length);
}

/** `whole`: each sound is active from its beginning to its end, else in part. */
function shelfWith(contours: readonly Float32Array[], whole = false): Shelf {
  const sounds = inventSounds(contours.length).map((sound, at) => ({ ...sound, contour: Array.from(contours[at]) }));
  return shelfOf(whole ? sounds.map((sound) => ({ ...sound, activeSeconds: sound.durationSeconds })) : sounds);
}

/** The active part, as the doc comment of contour.ts has it. */
function activeRow(shelf: Shelf, sound: number): Uint8Array {
  const perPoint = (shelf.value('durationSeconds', sound) ?? 1) / CONTOUR_POINTS;
  const first = (shelf.value('activeStartSeconds', sound) ?? 0) / perPoint;
  const row = new Uint8Array(CONTOUR_POINTS);
  writeRow(shelf.contour(sound), first, first + (shelf.value('activeSeconds', sound) ?? 0) / perPoint, row);
  return row;
}

/** The same on the scale of contours, 0..1: a row holds the root of loudness. */
const activeContour = (shelf: Shelf, sound: number): Float32Array =>
  Float32Array.from(activeRow(shelf, sound), (value) => (value / 255) ** 2);

const many = (count: number, random: Random): Float32Array[] =>
  Array.from({ length: count }, () => inventContour(random));

/** Naive twin: every distance by the plain recursion, sorted. */
function naive(shelf: Shelf, wanted: WantedShape, limit: number, sounds?: Uint32Array) {
  const { row } = wantedRow(wanted);
  return Array.from(sounds ?? Array.from({ length: shelf.count }, (_, at) => at), (index, place) => {
    const other = activeRow(shelf, index);
    const contour = plainWarp(row, other, BAND_POINTS, STEP_COST) / 255;
    const length = shapeDistance(shelf, wanted, index) - contourDistance(shelf, wanted, index);
    return { index, place, distance: contour + length };
  })
    .sort((x, y) => x.distance - y.distance || x.place - y.place)
    .slice(0, limit);
}

describe('distance by contour', () => {
  const random = new Random(78);
  const rows = Array.from({ length: 60 }, () => wantedRow({ contour: inventContour(random), seconds: null }).row);

  test('is the warped distance of Sakoe and Chiba, 0 to itself, the same both ways', () => {
    for (const a of rows) {
      expect(warpedCost(a, 0, a, 0)).toBe(0);
      for (const b of rows.slice(0, 20)) {
        const cost = warpedCost(a, 0, b, 0);
        expect(cost / COST_UNIT).toBeCloseTo(plainWarp(a, b, BAND_POINTS, STEP_COST) / 255, 12);
        expect(cost).toBe(warpedCost(b, 0, a, 0));
      }
    }
  });

  test('known by thought: full against silence is 1, half against full 128 of 255, a shift inside the band costs its steps', () => {
    const full = new Uint8Array(CONTOUR_POINTS).fill(255);
    const half = new Uint8Array(CONTOUR_POINTS).fill(127);
    expect(warpedCost(full, 0, new Uint8Array(CONTOUR_POINTS), 0)).toBe(COST_UNIT);
    expect(warpedCost(full, 0, half, 0) / COST_UNIT).toBeCloseTo(128 / 255, 12);
    const step = (at: number) => new Uint8Array(CONTOUR_POINTS).fill(255, at);
    // Off the diagonal by so many points, and back again.
    expect(warpedCost(step(20), 0, step(20 + BAND_POINTS), 0)).toBe(2 * BAND_POINTS * STEP_COST);
    expect(warpedCost(step(20), 0, step(21 + BAND_POINTS), 0)).toBe(2 * BAND_POINTS * STEP_COST + 2 * 255);
  });

  test('an envelope holds the greatest and the least value within the band of each point', () => {
    const [upper, lower] = [new Uint8Array(CONTOUR_POINTS), new Uint8Array(CONTOUR_POINTS)];
    for (const row of rows) {
      writeEnvelope(row, upper, lower);
      const near = Array.from(row, (_, at) => row.slice(Math.max(0, at - BAND_POINTS), at + BAND_POINTS + 1));
      expect([...upper]).toEqual(near.map((values) => Math.max(...values)));
      expect([...lower]).toEqual(near.map((values) => Math.min(...values)));
    }
  });

  test('no bound exceeds the cost, and giving up early never says less than it knows', () => {
    const tables = rows.map((row) => {
      const [upper, lower] = [new Uint8Array(CONTOUR_POINTS), new Uint8Array(CONTOUR_POINTS)];
      writeEnvelope(row, upper, lower);
      const [sums, upperSums, lowerSums] = [row, upper, lower].map((values) => {
        const out = new Uint16Array(SEGMENTS);
        sumSegments(values, 0, out, 0);
        return out;
      });
      return { row, upper, lower, sums, upperSums, lowerSums };
    });
    for (const a of tables) {
      for (const b of tables) {
        const cost = warpedCost(a.row, 0, b.row, 0);
        const rest: Rest = { a: new Int32Array(CONTOUR_POINTS + 1), b: new Int32Array(CONTOUR_POINTS + 1) };
        const fine =
          restBeyondEnvelope(a.row, 0, b.upper, b.lower, 0, rest.a) +
          restBeyondEnvelope(b.row, 0, a.upper, a.lower, 0, rest.b);
        const coarse =
          beyondEnvelope(a.sums, 0, b.upperSums, b.lowerSums, 0, SEGMENTS) +
          beyondEnvelope(b.sums, 0, a.upperSums, a.lowerSums, 0, SEGMENTS);
        expect(fine).toBeLessThanOrEqual(cost);
        expect(coarse).toBeLessThanOrEqual(fine);
        expect(endsBound(a.row, 0, b.row, 0)).toBeLessThanOrEqual(cost);
        expect(warpedCost(a.row, 0, b.row, 0, cost, rest)).toBe(cost);
        const early = warpedCost(a.row, 0, b.row, 0, Math.floor(cost / 2), rest);
        expect(early).toBeLessThanOrEqual(cost);
        if (cost > 0) expect(early).toBeGreaterThan(Math.floor(cost / 2));
      }
    }
  });
});

describe('nearest by shape', () => {
  test('is the list the plain search over all sounds gives, with and without a length, and among some only', () => {
    for (const seed of [1, 2, 3]) {
      const random = new Random(seed);
      const originals = many(250, random);
      const shelf = shelfWith([...originals, ...originals.slice(0, 50).map((one) => distort(one, AS_TAKEN, random))]);
      const some = Uint32Array.from({ length: 90 }, (_, at) => (at * 101 + 7) % shelf.count);
      for (const wanted of [
        { contour: inventContour(random), seconds: null },
        { contour: inventContour(random), seconds: 2.5 },
        { contour: new Float32Array(CONTOUR_POINTS).fill(1), seconds: null },
      ]) {
        for (const sounds of [undefined, some]) {
          const twin = naive(shelf, wanted, 25, sounds);
          const found = nearestByShape(shelf, wanted, 25, sounds && { sounds });
          expect(found.map(({ index }) => index)).toEqual(twin.map(({ index }) => index));
          for (const [at, { distance }] of found.entries()) expect(distance).toBeCloseTo(twin[at].distance, 12);
        }
      }
    }
  });

  test('orders every sound the same each time: the nearest exactly, no other before them', () => {
    const random = new Random(9);
    const shelf = shelfWith(many(EXACT_SOUNDS + 300, random));
    const wanted = { contour: inventContour(random), seconds: 1.2 };
    const distances = shapeDistances(shelf, wanted);
    expect(shapeDistances(shelf, wanted)).toEqual(distances);
    const nearest = nearestByShape(shelf, wanted, EXACT_SOUNDS);
    const last = nearest[EXACT_SOUNDS - 1].distance;
    const isNear = new Set(nearest.map(({ index }) => index));
    for (let sound = 0; sound < shelf.count; sound++) {
      const exact = shapeDistance(shelf, wanted, sound);
      if (isNear.has(sound)) expect(distances[sound]).toBe(exact);
      else expect(distances[sound]).toBeGreaterThanOrEqual(last);
      expect(distances[sound]).toBeLessThanOrEqual(exact);
    }
  });

  test('200 real takes, sped up and slowed down by 15 %, rippled by 3 dB and noisy, are found again among the first five', async () => {
    const recorded = await recordedContours(200);
    const sounds = inventSounds(recorded.length).map((sound, at) => ({ ...sound, ...recorded[at] }));
    const shelf = shelfOf(sounds);
    const random = new Random(15);
    let found = 0;
    for (let sound = 0; sound < shelf.count; sound++) {
      const wanted = { contour: distort(activeContour(shelf, sound), AS_TAKEN, random), seconds: null };
      const five = nearestByShape(shelf, wanted, 5);
      if (five.some(({ index }) => index === sound)) found++;
      if (sound % 20 === 0)
        expect(five.map(({ index }) => index)).toEqual(naive(shelf, wanted, 5).map(({ index }) => index));
    }
    expect(recorded).toHaveLength(200);
    expect(found).toBeGreaterThanOrEqual(190);
  }, 40_000);
});

describe('a shape beside words', () => {
  test('words leave out, what fits comes before what is bent, and within each the order is by shape', () => {
    const random = new Random(31);
    const shelf = shelfWith(many(300, random));
    const index = buildWordIndex(shelf, NO_VOCABULARY);
    const wanted = { contour: inventContour(random), seconds: null };
    const query = parseQuery('chain, 2 s');
    const plain = rankSounds(shelf, index, query);
    const { order, reasons } = rankSounds(shelf, index, query, { near: nearShape(shelf, wanted) });
    expect(Array.from(order).sort()).toEqual(Array.from(plain.order).sort());
    expect(order.length).toBeGreaterThan(3);
    const rows = Array.from(order, (sound) => ({
      isBent: plain.reasons(sound).some(({ fits }) => !fits),
      distance: shapeDistance(shelf, wanted, sound),
    }));
    for (const [at, row] of rows.slice(1).entries()) {
      const before = rows[at];
      if (before.isBent === row.isBent) expect(row.distance).toBeGreaterThanOrEqual(before.distance);
      else expect(before.isBent).toBe(false);
    }
    for (const sound of order) expect(reasons(sound)[0].text).toMatch(/shape/);
  });

  test('says in plain words how near and what differs', () => {
    const random = new Random(4);
    // Heard from end to end: what lies 60 dB below the loudest is no part of a wanted shape.
    const contour = inventContour(random).map((value) => Math.max(0.05, value));
    const shelf = shelfWith([contour, Float32Array.from(contour).reverse(), new Float32Array(CONTOUR_POINTS)], true);
    const wanted = { contour, seconds: null };
    expect(shapeReason(shelf, wanted, 0, 0)).toEqual({ text: 'same shape', fits: true });
    expect(shapeReason(shelf, wanted, 2, 0)).toEqual({ text: 'silent: no shape', fits: false });
    const seconds = (shelf.value('durationSeconds', 0) ?? 0) * 2;
    const short = shapeReason(shelf, { contour, seconds }, 0, 0);
    expect(short.text).toMatch(/^same shape, .* shorter$/);
    expect(short.fits).toBe(false);
    // An octave down it is twice as long, as wanted.
    expect(shapeReason(shelf, { contour, seconds }, 0, -12)).toEqual({ text: 'same shape', fits: true });
  });
});
