/**
 * Asking by contour: how far the course of a sound's loudness is from a wanted one, each over its own length.
 *
 * The distance is that of dynamic time warping in its symmetric form (H. Sakoe and S. Chiba, "Dynamic programming
 * algorithm optimization for spoken word recognition", IEEE Trans. ASSP 26(1), 1978): of all walks through both contours
 * from their first points to their last, by one point in either or in both at a step, the one with the least sum of
 * |wanted[i] - sound[j]| * (points stepped in one + points stepped in the other), divided by the points of both. The walk
 * stays within BAND_POINTS of the diagonal: a moment may come up to 16 % of the length early or late. Steps in one contour
 * alone cost a little besides (M. Herrmann and G. I. Webb, "Amercing: an intuitive and effective constraint for dynamic
 * time warping", Pattern Recognition 137, 2023), so that less warping is nearer.
 *
 * What is compared is the active part (quiet heads and tails can be trimmed) as the square root of the contour's loudness:
 * 20 dB less is half. That lies between loudness, where tails hardly count, and decibels, where what is hardly heard counts
 * as much as accents; of these, and of decibels over 40 and 50 dB, it found distorted takes of the demo archive best.
 * The result is about the mean difference along the walk: 0 the same, 1 loudest against silence throughout.
 */
import { semitonesToRate } from '../music.ts';
import type { Shelf } from '../shelf.ts';
import { CONTOUR_POINTS, type Seconds, type Semitones } from '../sound.ts';
import { COST_UNIT, warpedCost } from './contour-bounds.ts';
import { shapeRowsOf, writeRow } from './contour-rows.ts';
import { nearestRows } from './contour-search.ts';
import { heardSecondsOf } from './heard.ts';

export interface WantedShape {
  /** CONTOUR_POINTS values 0..1 on the scale of Measurements.contour; the highest counts as the loudest moment. */
  contour: Float32Array;
  /** Wanted length; null leaves it free. */
  seconds: Seconds | null;
}

export interface ShapeOptions {
  /** Only these sounds, whose order is that of equals; all of the shelf unless given. */
  sounds?: Uint32Array;
  /** The varispeed a sound answers at: it changes lengths, not contours. */
  semitonesOf?: (sound: number) => Semitones;
}

export interface NearShape {
  index: number;
  distance: number;
}

/** Sounds whose distance is exact in an order of many; of the rest it is only known that they are further. */
export const EXACT_SOUNDS = 200;

/** The `limit` sounds nearest by shape, nearest first, of equals those that come first. Exact over every sound. */
export function nearestByShape(
  shelf: Shelf,
  wanted: WantedShape,
  limit: number,
  options: ShapeOptions = {},
): NearShape[] {
  const sounds = options.sounds ?? allOf(shelf);
  const { nearest, distances } = search(shelf, wanted, sounds, limit, options);
  return Array.from(nearest, (at) => ({ index: sounds[at], distance: distances[at] }));
}

/**
 * How far each sound is, parallel to the sounds asked of: exact for the nearest EXACT_SOUNDS, for every other one a lower
 * bound that is no less than the distance of those. The same question always gives the same numbers.
 */
export function shapeDistances(shelf: Shelf, wanted: WantedShape, options: ShapeOptions = {}): Float64Array {
  return search(shelf, wanted, options.sounds ?? allOf(shelf), EXACT_SOUNDS, options).distances;
}

/** The distance of one sound, 0..1 for the contours and what the lengths add. */
export function shapeDistance(shelf: Shelf, wanted: WantedShape, sound: number, semitones: Semitones = 0): number {
  return contourDistance(shelf, wanted, sound) + lengthCost(shelf, wanted, sound, semitones);
}

/** Of the contours alone: what stands in the way when length is free. */
export function contourDistance(shelf: Shelf, wanted: WantedShape, sound: number): number {
  const table = shapeRowsOf(shelf);
  const { row, silent } = wantedRow(wanted);
  if (table.silent[sound] !== Number(silent)) return SILENT_DISTANCE;
  return warpedCost(row, 0, table.rows, sound * CONTOUR_POINTS) / COST_UNIT;
}

/** Silence has no shape: it is as far from any as can be. */
const SILENT_DISTANCE = 1;

/** What a length twice or half as long adds; a fifth off adds 0.03, a tenth 0.01. */
const OCTAVE_COST = 0.2;
const EASY_OCTAVES = 0.25;
const MOST_OCTAVES = 16;

/**
 * By the ratio of lengths in octaves, as varispeed would have to mend it: x^2 / (x + 0.25) rises softly where a trim or a
 * slight varispeed does, and evenly beyond. 0 where length is free. Our judgement, no source.
 */
export function lengthCost(shelf: Shelf, wanted: WantedShape, sound: number, semitones: Semitones): number {
  if (wanted.seconds === null || !(wanted.seconds > 0)) return 0;
  const ratio = heardSecondsOf(shelf)(sound) / semitonesToRate(semitones) / wanted.seconds;
  const octaves = ratio > 0 ? Math.min(MOST_OCTAVES, Math.abs(Math.log2(ratio))) : MOST_OCTAVES;
  return (OCTAVE_COST * (1 + EASY_OCTAVES) * octaves ** 2) / (octaves + EASY_OCTAVES);
}

/** Of the highest point: 60 dB less, below which nothing counts as sounding. */
const SOUNDING_SHARE = 2 ** -6;

/** The wanted contour from its first to its last sounding point as a row of bytes, its highest point 255. */
export function wantedRow({ contour }: WantedShape): { row: Uint8Array; silent: boolean } {
  const row = new Uint8Array(CONTOUR_POINTS);
  const peak = contour.reduce((most, value) => Math.max(most, value), 0);
  if (!(peak > 0)) return { row, silent: true };
  const scaled = Float32Array.from({ length: CONTOUR_POINTS }, (_, point) =>
    contour[point] > 0 ? (contour[point] / peak) * 255 : 0,
  );
  const isSounding = (value: number): boolean => value > 255 * SOUNDING_SHARE;
  writeRow(scaled, scaled.findIndex(isSounding), scaled.findLastIndex(isSounding) + 1, row);
  return { row, silent: false };
}

function allOf(shelf: Shelf): Uint32Array {
  return Uint32Array.from({ length: shelf.count }, (_, index) => index);
}

function search(
  shelf: Shelf,
  wanted: WantedShape,
  sounds: Uint32Array,
  limit: number,
  { semitonesOf = () => 0 }: ShapeOptions,
): { nearest: Uint32Array; distances: Float64Array } {
  const table = shapeRowsOf(shelf);
  const { row, silent } = wantedRow(wanted);
  const added = new Float64Array(sounds.length);
  if (wanted.seconds !== null) {
    for (let at = 0; at < sounds.length; at++) {
      added[at] = lengthCost(shelf, wanted, sounds[at], semitonesOf(sounds[at]));
    }
  }
  return nearestRows({ table, row, silent, sounds, added, limit, silentDistance: SILENT_DISTANCE });
}
