/** The edges of what stands above a limit: strong or weak, slow or sharp, in steady or fluctuating noise. */
import type { Decibels } from '../sound.ts';
import { powerOf, type RunningMean } from './running.ts';

/** Long stretches show what is too weak, or the noise too unsteady, for short ones. */
const LONG_WIDTHS = 3;
/** What noise does once in three million times is no sound: standard deviations of a normal distribution. */
const RARE = 5;
/** An edge is slow if it takes this many widths to rise by as much above the limit. */
const SLOW_WIDTHS = 4;
const SLOW_RISE_DB: Decibels = 10;
/** Past the limit the line is followed for this share of the rise. */
const BEYOND = 0.4;
/** Root mean square by which levels may miss the line: an even course, or noise times this. */
const EVEN = 0.1;
const NOISY = 1.1;
/** The line moves the edge by no more than this share of the rise. */
const MOST_MOVED = 0.3;
const FITTING_ROUNDS = 4;

/** 1: towards the end. */
export type Direction = 1 | -1;

export interface Floor {
  power: number;
  /** Standard deviation of the power of stretches of `width` steps, as a share of their mean. */
  variation: number;
}

/**
 * The outermost step about which the mean power, less the floor's, is above the limit: found first where chance cannot do
 * it, then followed outward while it stays above.
 */
export function outermost(
  running: RunningMean,
  direction: Direction,
  floor: Floor,
  limit: number,
  width: number,
): number {
  const half = Math.max(1, width >> 1);
  const above = (i: number, reach = half): number => running.mean(i - reach, i + reach) - floor.power;
  const clear = Math.max(limit, floor.power * rareExcess(floor.variation));
  const longClear = Math.max(limit, floor.power * rareExcess(floor.variation / Math.sqrt(LONG_WIDTHS)));
  const inside = (i: number): boolean => i >= 0 && i <= running.length;
  let position = direction === 1 ? running.length : 0;
  while (inside(position) && above(position) <= clear && above(position, half * LONG_WIDTHS) <= longClear)
    position -= direction;
  for (let i = 0; i < half * LONG_WIDTHS && inside(position - direction) && above(position) <= limit; i++)
    position -= direction;
  while (position > 0 && position < running.length && above(position) > limit) position += direction;
  return position;
}

/**
 * By how much of itself the power of noise rises so rarely as RARE says, for power that varies by `variation`: the chi-square
 * distribution of n = 2 / variation^2 degrees of freedom, by the cube root of Wilson and Hilferty (1931).
 */
function rareExcess(variation: number): number {
  const spread = variation ** 2 / 9;
  return (1 - spread + RARE * Math.sqrt(spread)) ** 3 - 1;
}

/**
 * Where a slow, even edge meets the limit: the straight line in decibels, on top of the floor, that fits the course about
 * `from`. Chance moves a line less than it moves single levels. null where the edge is too steep to need it, or its course
 * is no such line: a roll, a bouncing, a tremolo.
 */
export function meetingPoint(
  running: RunningMean,
  from: number,
  direction: Direction,
  floor: Floor,
  limit: number,
  width: number,
): number | null {
  const half = Math.max(1, width >> 1);
  const inside = (i: number): boolean => i > 0 && i < running.length;
  const high = floor.power + limit * powerOf(SLOW_RISE_DB);
  let inner = from;
  while (inside(inner) && running.mean(inner - half, inner + half) < high) inner -= direction;
  const rise = Math.abs(inner - from);
  if (!inside(from) || !inside(inner) || rise < SLOW_WIDTHS * width) return null;
  const outer = direction === 1 ? running.length : 0;
  const steps = rise + Math.min(Math.abs(outer - from), Math.round(rise * BEYOND));
  const powers = Float64Array.from({ length: Math.floor(steps / width) }, (_, k) => {
    const near = inner + direction * k * width;
    return direction === 1 ? running.mean(near, near + width) : running.mean(near - width, near);
  });
  const line = fitLine(powers, floor.power, limit * powerOf(SLOW_RISE_DB), width / rise);
  if (line === null || line.misfit > Math.max(EVEN, NOISY * floor.variation)) return null;
  const meets = (line.middle(limit) + 0.5) * width;
  if (!(Math.abs(meets - rise) < rise * MOST_MOVED)) return null;
  return Math.min(running.length, Math.max(0, Math.round(inner + direction * meets)));
}

/**
 * Fits floor + exp(level + slope k) to powers[k] by least squares of errors relative to the model (Gauss and Newton's way), from
 * a line that begins at `first` and falls by SLOW_RISE_DB in 1 / `share` values. `middle` tells where it passes a power.
 */
function fitLine(
  powers: Float64Array,
  floor: number,
  first: number,
  share: number,
): { misfit: number; middle: (power: number) => number } | null {
  let level = Math.log(first);
  let slope = -Math.log(powerOf(SLOW_RISE_DB)) * share;
  let misfit = 0;
  for (let round = 0; round < FITTING_ROUNDS; round++) {
    // The normal equations of the two unknowns: [[aa, ab], [ab, bb]] change = [ae, be].
    let [aa, ab, bb, ae, be, ee] = [0, 0, 0, 0, 0, 0];
    for (let k = 0; k < powers.length; k++) {
      const above = Math.exp(level + slope * k);
      const model = floor + above;
      const error = (powers[k] - model) / model;
      const a = above / model;
      const b = a * k;
      aa += a * a;
      ab += a * b;
      bb += b * b;
      ae += a * error;
      be += b * error;
      ee += error * error;
    }
    const determinant = aa * bb - ab * ab;
    if (!(determinant > 0)) return null;
    level += (bb * ae - ab * be) / determinant;
    slope += (aa * be - ab * ae) / determinant;
    misfit = Math.sqrt(ee / powers.length);
  }
  if (!(slope < 0)) return null;
  return { misfit, middle: (power) => (Math.log(power) - level) / slope };
}

/**
 * A sharp edge lies inside the last window: from `from`, back inward to where 5 ms are above the limit and no weaker than
 * 20 dB below the loudest close by.
 */
export function sharpened(
  running: RunningMean,
  from: number,
  direction: Direction,
  floor: Floor,
  limit: number,
  width: number,
): number {
  const fine = Math.max(1, Math.round(width / 10));
  const near = (i: number): number => running.mean(i - Math.floor(fine / 2), i + Math.ceil(fine / 2)) - floor.power;
  let loudest = 0;
  for (let i = from; Math.abs(i - from) < width && i >= 0 && i <= running.length; i -= direction)
    loudest = Math.max(loudest, near(i));
  const enough = Math.max(limit, loudest * 0.01);
  let position = from;
  for (let walked = 0; walked < width && near(position) < enough; walked++) position -= direction;
  return Math.min(running.length, Math.max(0, position));
}
