/**
 * The level at which a recording rests: its noise floor.
 *
 * It lies flat at the edges of the recording or between events. A decay that is cut off before it rests anywhere has no
 * floor, nor has a drone that fills the file.
 */
import type { Decibels, Seconds } from '../sound.ts';
import { decibels, mean, quantile, type RunningMean } from './running.ts';

/** A resting level must lie this far below the loudest moment, and last this long: at an edge, or between events. */
const LEAST_FLOOR_DEPTH_DB: Decibels = 10;
/** Louder than this, and less than 30 dB below the loudest moment, is no noise floor but a held sound. */
const LOUDEST_FLOOR_DBFS: Decibels = -36;
/** How far levels may scatter about a resting level: noise of a room's rumble, or steady noise. */
const RESTING_RANGES_DB: readonly Decibels[] = [4, 2];
const LEAST_EDGE_REST_SECONDS: Seconds = 0.08;
const LEAST_INNER_REST_SECONDS: Seconds = 0.25;
/** How long the floor beyond a bend may have lasted when the recording ends, longest first. */
const BEND_SECONDS: readonly Seconds[] = [0.48, 0.32, 0.24, 0.16, 0.12, 0.08, 0.06];
/** The level falls this much on its way to the bend, and past it goes on falling by less than this share of that. */
const LEAST_FALL_DB: Decibels = 3;
const MOST_LEFT_OF_FALL = 0.55;
/** Within the floor halves differ by no more than this, nor by more than MOST_SLOPE of what was left of the fall. */
const FLAT_DB: Decibels = 0.8;
const MOST_SLOPE = 0.25;
/** What halves of steady noise differ by, for all its flatness. */
const CHANCE_DB: Decibels = 0.2;

export interface RestingLevel {
  level: Decibels;
  /** Standard deviation of the power of stretches of `width` steps, as a share of their mean. */
  variation: number;
}

/**
 * The resting level of a sound whose loudest moment is `peakDb`, judged over `width` steps at a time; null where it rests
 * nowhere.
 */
export function findRestingLevel(
  running: RunningMean,
  peakDb: Decibels,
  width: number,
  hopSeconds: Seconds,
): RestingLevel | null {
  const stride = Math.max(1, Math.floor(width / 5));
  const levels = Float64Array.from({ length: Math.max(1, Math.floor((running.length - width) / stride) + 1) }, (_, k) =>
    decibels(running.mean(k * stride, k * stride + width)),
  );
  const lowest = quantile(levels, 0.01);
  if (!isQuiet(lowest, peakDb)) return null;
  const crowd = crowdAtLowerEnd(levels, lowest, stride * hopSeconds, width * hopSeconds);
  return crowd ?? beyondBend(running, peakDb, width, hopSeconds);
}

function isQuiet(level: Decibels, peakDb: Decibels): boolean {
  return level <= peakDb - LEAST_FLOOR_DEPTH_DB && (level <= LOUDEST_FLOOR_DBFS || level <= peakDb - 30);
}

/**
 * Levels of a pure decay are spread evenly over decibels; a resting level shows as a crowd at their lower end that is
 * flat in time.
 */
function crowdAtLowerEnd(
  levels: Float64Array,
  lowest: Decibels,
  strideSeconds: Seconds,
  windowSeconds: Seconds,
): RestingLevel | null {
  for (const range of RESTING_RANGES_DB) {
    const crowd = levels.filter((level) => level < lowest + range).length;
    const next = levels.filter((level) => level < lowest + 2 * range).length - crowd;
    // A pure decay slopes by half the range from the first half of its last stretch to the second.
    const flat = range * (next < crowd * 0.6 ? 0.375 : 0.25);
    const rests = stretchesBelow(levels, lowest + range).filter(({ from, to }) => {
      const seconds = (to - from - 1) * strideSeconds + windowSeconds;
      const atEdge = from === 0 || to === levels.length;
      if (seconds < (atEdge ? LEAST_EDGE_REST_SECONDS : LEAST_INNER_REST_SECONDS)) return false;
      const half = Math.floor((to - from) / 2);
      return Math.abs(mean(levels.subarray(to - half, to)) - mean(levels.subarray(from, from + half))) < flat;
    });
    if (rests.length === 0) continue;
    const resting = rests.flatMap(({ from, to }) => Array.from(levels.subarray(from, to)));
    const level = quantile(resting, 0.5);
    const spread = Math.sqrt(mean(resting.map((value) => (value - level) ** 2)));
    return { level, variation: (spread * Math.LN10) / 10 };
  }
  return null;
}

function stretchesBelow(levels: Float64Array, limit: Decibels): { from: number; to: number }[] {
  const stretches: { from: number; to: number }[] = [];
  for (let i = 0; i < levels.length; i++) {
    if (levels[i] >= limit) continue;
    const from = i;
    while (i < levels.length && levels[i] < limit) i++;
    stretches.push({ from, to: i });
  }
  return stretches;
}

/**
 * A floor reached just before the recording ends (or left just after it begins): of three stretches of equal length, the
 * first falls steeply to the second, the second little to the third, and the third hardly within itself. A straight decay
 * falls as much each time; one with two slopes goes on falling within the third.
 */
function beyondBend(
  running: RunningMean,
  peakDb: Decibels,
  judgedWidth: number,
  hopSeconds: Seconds,
): RestingLevel | null {
  for (const seconds of BEND_SECONDS) {
    const width = Math.round(seconds / hopSeconds);
    if (3 * width > running.length) continue;
    for (const fromEnd of [true, false]) {
      const level = (outer: number, inner: number): Decibels => {
        const [near, far] = [Math.round(outer * width), Math.round(inner * width)];
        return decibels(fromEnd ? running.mean(running.length - far, running.length - near) : running.mean(near, far));
      };
      const last = level(0, 1);
      const falls = level(2, 3) - level(1, 2);
      const left = level(1, 2) - last;
      const within = level(0.5, 1) - level(0, 0.5);
      if (falls < LEAST_FALL_DB || left > MOST_LEFT_OF_FALL * falls || left < -FLAT_DB) continue;
      if (Math.abs(within) > Math.min(FLAT_DB, MOST_SLOPE * Math.max(0, left) + CHANCE_DB) || !isQuiet(last, peakDb))
        continue;
      const start = fromEnd ? running.length - width : 0;
      return { level: last, variation: variationWithin(running, start, start + width, judgedWidth) };
    }
  }
  return null;
}

/** As RestingLevel has it, from pieces of a fifth of `width`: too few whole ones fit in a short stretch. */
function variationWithin(running: RunningMean, from: number, to: number, width: number): number {
  const piece = Math.max(1, Math.floor(width / 5));
  const powers = Float64Array.from({ length: Math.floor((to - from) / piece) }, (_, k) =>
    running.mean(from + k * piece, from + (k + 1) * piece),
  );
  const middle = mean(powers);
  const deviation = Math.sqrt(mean(powers.map((power) => (power - middle) ** 2)));
  return middle > 0 ? (deviation / middle) * Math.sqrt(piece / width) : 0;
}
