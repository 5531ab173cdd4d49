/**
 * Nearest by ear: weighted Euclidean distance between likeness vectors (see ../vectors.ts), exact over every sound,
 * optionally only among those that are darker, longer, lower ... than the one asked from.
 */
import type { NumericField, Shelf } from '../shelf.ts';
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
const STEPS: Record<Direction, { field: NumericField; beyond: (from: number, to: number) => boolean }> = {
  darker: { field: 'centroidHz', beyond: (from, to) => to < from * 0.9 },
  brighter: { field: 'centroidHz', beyond: (from, to) => to > from * 1.1 },
  longer: { field: 'activeSeconds', beyond: (from, to) => to > from * 1.1 },
  shorter: { field: 'activeSeconds', beyond: (from, to) => to < from * 0.9 },
  rougher: { field: 'roughness', beyond: (from, to) => to > from + 0.03 },
  smoother: { field: 'roughness', beyond: (from, to) => to < from - 0.03 },
  lower: { field: 'pitchHz', beyond: (from, to) => to < from * 0.97 },
  higher: { field: 'pitchHz', beyond: (from, to) => to > from * 1.03 },
};

export interface Neighbour {
  index: number;
  /** 0 = the same in everything measured; about 1 = as far as two sounds drawn at random. */
  distance: number;
}

/** Squared distance of every sound to `target`. */
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

/** The `limit` sounds nearest to sound `from`, nearest first, without itself. Ties go to the lower index. */
export function nearestTo(
  shelf: Shelf,
  from: number,
  limit: number,
  weights: LikenessWeights = EQUAL_WEIGHTS,
  directions: readonly Direction[] = [],
): Neighbour[] {
  const squared = squaredDistances(shelf, shelf.vector(from), weights);
  squared[from] = Number.POSITIVE_INFINITY;
  for (const direction of directions) {
    const { field, beyond } = STEPS[direction];
    const values = shelf.number(field);
    for (let i = 0; i < squared.length; i++) {
      // A comparison with NaN is false: a sound without the value is not "darker" than anything.
      if (!beyond(values[from], values[i])) squared[i] = Number.POSITIVE_INFINITY;
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
    if (value === Number.POSITIVE_INFINITY) continue;
    if (kept.length === limit && value >= values[kept[limit - 1]]) continue;
    let at = kept.length;
    while (at > 0 && values[kept[at - 1]] > value) at--;
    kept.splice(at, 0, i);
    if (kept.length > limit) kept.pop();
  }
  return kept;
}

/** In plain words, how sound `to` differs from sound `from`: the two or three differences that matter. */
export function differences(shelf: Shelf, from: number, to: number): string[] {
  const out: string[] = [];
  const pair = (field: NumericField): [number, number] => [shelf.number(field)[from], shelf.number(field)[to]];
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
  if (shelf.gesture[from] === shelf.gesture[to]) out.push(`also a ${shelf.gestureOf(to) ?? 'sound without gesture'}`);
  return out;
}

const hertz = (value: number): string =>
  value >= 1000 ? `${(value / 1000).toFixed(1)} kHz` : `${Math.round(value)} Hz`;
const seconds = (value: number): string => (value < 1 ? `${Math.round(value * 1000)} ms` : `${value.toFixed(1)} s`);
