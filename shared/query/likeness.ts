/**
 * Nearest by ear: weighted Euclidean distance between likeness vectors (see ../vectors.ts), exact over every sound,
 * optionally only among those that are darker, longer, lower ... than what is asked from: one sound, or the middle of
 * several.
 */
import type { Shelf } from '../shelf.ts';
import { CONTOUR_POINTS, GESTURES } from '../sound.ts';
import { GROUP_RANGES, VECTOR_GROUPS, type VectorGroup } from '../vectors.ts';

export type LikenessWeights = Record<VectorGroup, number>;
export const EQUAL_WEIGHTS: LikenessWeights = { timbre: 1, movement: 1, pitch: 1, length: 1 };

export const DIRECTIONS = [
  'darker',
  'brighter',
  'longer',
  'shorter',
  'rougher',
  'smoother',
  'lower',
  'higher',
] as const;
export type Direction = (typeof DIRECTIONS)[number];

/** How much further a sound must lie to count as darker, longer ...: differences the ear cannot miss. */
const STEPS: Record<Direction, { field: AskedField; beyond: (from: number, to: number) => boolean }> = {
  darker: { field: 'centroidHz', beyond: (from, to) => to < from * 0.9 },
  brighter: { field: 'centroidHz', beyond: (from, to) => to > from * 1.1 },
  longer: { field: 'activeSeconds', beyond: (from, to) => to > from * 1.1 },
  shorter: { field: 'activeSeconds', beyond: (from, to) => to < from * 0.9 },
  rougher: { field: 'roughness', beyond: (from, to) => to > from + 0.03 },
  smoother: { field: 'roughness', beyond: (from, to) => to < from - 0.03 },
  lower: { field: 'pitchHz', beyond: (from, to) => to < from * 0.97 },
  higher: { field: 'pitchHz', beyond: (from, to) => to > from * 1.03 },
};

const ASKED_FIELDS = ['centroidHz', 'activeSeconds', 'roughness', 'pitchHz'] as const;
export type AskedField = (typeof ASKED_FIELDS)[number];

/** What likeness is asked from. */
export interface LikenessSource {
  /** Never among the answers. */
  sounds: readonly number[];
  vector: Float32Array;
  /** NaN where none of the sounds has such a value. */
  values: Record<AskedField, number>;
  /** Index into GESTURES where all are of one gesture, else null. */
  gesture: number | null;
  /** Values 0..255, as the shelf's contours. */
  contour: Float32Array;
}

/**
 * One sound, or the middle of several: the mean of their vectors, contours and values. Frequencies and lengths are heard
 * as ratios, so theirs is the geometric mean; roughness has the plain one. Sounds without a value do not count in it, and
 * silent ones in nothing: from them alone, nothing is alike.
 */
export function sourceOf(shelf: Shelf, asked: readonly number[]): LikenessSource {
  const sounds = asked.filter((sound) => !shelf.isSilent(sound));
  const values = {} as Record<AskedField, number>;
  for (const field of ASKED_FIELDS) {
    const column = shelf.number(field);
    const known = sounds.map((sound) => column[sound]).filter((value) => !Number.isNaN(value));
    values[field] = known.length === 0 ? Number.NaN : field === 'roughness' ? mean(known) : geometricMean(known);
  }
  const gestures = new Set(sounds.map((sound) => shelf.gesture[sound]));
  const [gesture] = gestures;
  return {
    sounds,
    vector: meanRow(sounds.map((sound) => shelf.vector(sound))),
    values,
    gesture: gestures.size === 1 && gesture < GESTURES.length ? gesture : null,
    contour: meanRow(sounds.map((sound) => shelf.contour(sound))),
  };
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const geometricMean = (values: readonly number[]): number =>
  values.length === 1 ? values[0] : 2 ** mean(values.map((value) => Math.log2(Math.max(value, 1e-6))));

function meanRow(rows: readonly ArrayLike<number>[]): Float32Array {
  const out = new Float32Array(rows[0]?.length ?? 0);
  for (const row of rows) for (let i = 0; i < out.length; i++) out[i] += row[i] / rows.length;
  return out;
}

export interface Neighbour {
  index: number;
  /** 0 = the same in everything measured; about 1 = as far as two sounds drawn at random. */
  distance: number;
}

/** Squared distance of every sound to `target`; NaN for silence. */
export function squaredDistances(shelf: Shelf, target: ArrayLike<number>, weights: LikenessWeights): Float32Array {
  const { vectors, vectorSize, count } = shelf;
  const weight = new Float32Array(vectorSize);
  for (const group of VECTOR_GROUPS) weight.fill(weights[group], ...GROUP_RANGES[group]);
  const out = new Float32Array(count);
  for (let row = 0, at = 0; row < count; row++) {
    let sum = 0;
    for (let i = 0; i < vectorSize; i++, at++) {
      const difference = vectors[at] - target[i];
      sum += weight[i] * difference * difference;
    }
    out[row] = sum;
  }
  return out;
}

/**
 * The `limit` sounds nearest to those asked from, nearest first, without themselves. Ties go to the lower index; nothing is
 * near to no sound at all.
 */
export function nearestTo(
  shelf: Shelf,
  from: LikenessSource,
  limit: number,
  weights: LikenessWeights = EQUAL_WEIGHTS,
  directions: readonly Direction[] = [],
): Neighbour[] {
  if (from.sounds.length === 0) return [];
  const squared = squaredDistances(shelf, from.vector, weights);
  for (const sound of from.sounds) squared[sound] = Number.POSITIVE_INFINITY;
  for (const direction of directions) {
    const { field, beyond } = STEPS[direction];
    const values = shelf.number(field);
    for (let i = 0; i < squared.length; i++) {
      // A comparison with NaN is false: a sound without the value is not "darker" than anything.
      if (!beyond(from.values[field], values[i])) squared[i] = Number.POSITIVE_INFINITY;
    }
  }
  const total = VECTOR_GROUPS.reduce((sum, group) => sum + weights[group], 0);
  return smallest(squared, limit).map((index) => ({
    index,
    distance: Math.sqrt(squared[index] / Math.max(total * 2, 1e-9)),
  }));
}

/** Indices of the `limit` smallest finite values, ascending, by a bounded max-heap kept as a sorted array. */
function smallest(values: Float32Array, limit: number): number[] {
  const kept: number[] = [];
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (!Number.isFinite(value)) continue;
    if (kept.length === limit && value >= values[kept[limit - 1]]) continue;
    let at = kept.length;
    while (at > 0 && values[kept[at - 1]] > value) at--;
    kept.splice(at, 0, i);
    if (kept.length > limit) kept.pop();
  }
  return kept;
}

/** In plain words, how sound `to` differs from what is asked from: the differences that matter, the plainest first. */
export function differences(shelf: Shelf, from: LikenessSource, to: number): string[] {
  const out: string[] = [];
  const pair = (field: AskedField): [number, number] => [from.values[field], shelf.number(field)[to]];
  const [brightFrom, brightTo] = pair('centroidHz');
  if (Math.abs(Math.log2(brightTo / brightFrom)) > 0.15) {
    out.push(`${brightTo < brightFrom ? 'darker' : 'brighter'} by ${hertz(Math.abs(brightTo - brightFrom))}`);
  }
  const [lengthFrom, lengthTo] = pair('activeSeconds');
  if (Math.abs(lengthTo - lengthFrom) > Math.max(0.05, lengthFrom * 0.1)) {
    out.push(`${seconds(Math.abs(lengthTo - lengthFrom))} ${lengthTo > lengthFrom ? 'longer' : 'shorter'}`);
  }
  const [pitchFrom, pitchTo] = pair('pitchHz');
  const semitones = 12 * Math.log2(pitchTo / pitchFrom);
  if (Math.abs(semitones) > 0.5) {
    out.push(`${semitones < 0 ? 'lower' : 'higher'} by ${Math.abs(semitones).toFixed(1)} st`);
  }
  const [roughFrom, roughTo] = pair('roughness');
  if (Math.abs(roughTo - roughFrom) > 0.1) out.push(roughTo > roughFrom ? 'rougher' : 'smoother');
  const shape = shapeWords(from.contour, shelf.contour(to));
  if (shape !== null) out.push(shape);
  if (from.gesture !== null && from.gesture === shelf.gesture[to]) out.push(`also a ${GESTURES[from.gesture]}`);
  return out;
}

/** Contours this near on the whole (of 255; 1 dB at the top, as contours go by amplitude^0.6) move alike to the ear (common practice, no source). */
const SAME_CONTOUR = 16;
/** A share of the length by which a top must lie apart to be called later. */
const LATER_SHARE = 0.15;
/** Level of the contour (of 255) that counts as having risen: half as loud as the loudest moment. */
const RISEN = 128;

/** How the outlines of loudness compare, each over its own length; null where there is nothing plain to say. */
function shapeWords(from: ArrayLike<number>, to: ArrayLike<number>): string | null {
  let squares = 0;
  for (let i = 0; i < CONTOUR_POINTS; i++) squares += (to[i] - from[i]) ** 2;
  if (Math.sqrt(squares / CONTOUR_POINTS) < SAME_CONTOUR) return 'same contour';
  const later = (risenAt(to) - risenAt(from)) / CONTOUR_POINTS;
  if (Math.abs(later) < LATER_SHARE) return null;
  return later > 0 ? 'rises later' : 'rises earlier';
}

/** Point at which a contour first stands half as loud as its own top; 0 for silence. */
function risenAt(contour: ArrayLike<number>): number {
  let top = 0;
  for (let i = 0; i < CONTOUR_POINTS; i++) top = Math.max(top, contour[i]);
  let at = 0;
  while (at < CONTOUR_POINTS - 1 && contour[at] < (top * RISEN) / 255) at++;
  return at;
}

const hertz = (value: number): string =>
  value >= 1000 ? `${(value / 1000).toFixed(1)} kHz` : `${Math.round(value)} Hz`;
const seconds = (value: number): string => (value < 1 ? `${Math.round(value * 1000)} ms` : `${value.toFixed(1)} s`);
