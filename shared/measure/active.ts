/**
 * Where the sound itself begins and ends, against its own noise floor.
 *
 * The floor is a level at which the recording rests: at its edges or between events it lies flat there. A decay that is
 * cut off before it rests anywhere has no floor, nor has a drone that fills the file. The active part runs from the
 * first to the last moment at which the sound, with the floor's power taken away, stands above the floor, and no
 * more than AUDIBLE_RANGE_DB below its own loudest 20 ms: the usual meeting point of decay and background noise
 * (ISO 3382-1 cuts decays there, too).
 */
import type { Decibels, Seconds } from '../sound.ts';
import { SILENCE_DBFS } from './envelope.ts';
import { decibels, mean, powerOf, quantile, type RunningMean } from './running.ts';

export const AUDIBLE_RANGE_DB: Decibels = 60;
/** Levels are judged over this long (less in short sounds), every fifth of it. */
const LEVEL_SECONDS: Seconds = 0.05;
/** A resting level must lie this far below the loudest moment, and last this long: at an edge, or between events. */
const LEAST_FLOOR_DEPTH_DB: Decibels = 10;
/** Louder than this, and less than 30 dB below the loudest moment, is no noise floor but a held sound. */
const LOUDEST_FLOOR_DBFS: Decibels = -36;
/** How far levels may scatter about a resting level: noise of a room's rumble, or steady noise. */
const RESTING_RANGES_DB: readonly Decibels[] = [4, 2];
const LEAST_EDGE_REST_SECONDS: Seconds = 0.08;
const LEAST_INNER_REST_SECONDS: Seconds = 0.25;
/** Above the floor by this much it is no chance fluctuation of the noise (raised for noise that fluctuates more). */
const CLEARLY_ABOVE_DB: Decibels = 4;

export interface ActivePart {
  /** null where the sound never rests, or rests in digital silence. */
  noiseFloorDbfs: Decibels | null;
  /** Power of the floor, 0 where there is none. */
  floorPower: number;
  /** Loudest 20 ms. */
  peakPower: number;
  /** In steps of the envelope, with fractions; end exclusive. */
  startStep: number;
  endStep: number;
}

/** null for silence: nothing ever above SILENCE_DBFS. */
export function findActivePart(running: RunningMean, hopSeconds: Seconds): ActivePart | null {
  const length = running.length;
  const width = Math.max(1, Math.min(Math.round(LEVEL_SECONDS / hopSeconds), Math.floor(length / 16)));
  let peakPower = 0;
  const short = Math.max(1, Math.round((width * 2) / 5));
  for (let i = 0; i < length; i++)
    peakPower = Math.max(peakPower, running.mean(i, i + short) * (Math.min(short, length - i) / short));
  if (decibels(peakPower) <= SILENCE_DBFS) return null;

  const stride = Math.max(1, Math.floor(width / 5));
  const levels = Float64Array.from({ length: Math.max(1, Math.floor((length - width) / stride) + 1) }, (_, k) =>
    decibels(running.mean(k * stride, k * stride + width)),
  );
  const rest = restingLevel(levels, decibels(peakPower), stride * hopSeconds, width * hopSeconds);
  const noiseFloorDbfs = rest === null || rest.level <= SILENCE_DBFS + 1 ? null : rest.level;
  const floorPower = noiseFloorDbfs === null ? 0 : powerOf(noiseFloorDbfs);
  const limit = Math.max(floorPower, peakPower * powerOf(-AUDIBLE_RANGE_DB));
  const clear = limit * powerOf(Math.max(CLEARLY_ABOVE_DB, 3.5 * (rest?.spread ?? 0)));
  const isClear = (from: number): boolean =>
    running.mean(from, from + width) > clear || running.mean(from, from + short) > clear * 4;
  const fine = Math.max(1, Math.round(width / 10));
  let first = 0;
  while (first < length && !isClear(first)) first++;
  let last = length;
  while (last > first && !isClear(last - width)) last--;
  const edges = { floorPower, limit, width, fine };
  const startStep = edge(running, loudestIn(running, first, Math.min(last, first + width), fine), -1, edges);
  const endStep = edge(running, loudestIn(running, Math.max(first, last - width), last, fine), 1, edges);
  // Where nothing is clear, or all is shorter than a step, the whole file is the sound.
  return startStep < endStep
    ? { noiseFloorDbfs, floorPower, peakPower, startStep, endStep }
    : { noiseFloorDbfs, floorPower, peakPower, startStep: 0, endStep: length };
}

/** Middle of the loudest `width` steps within [from, to). */
function loudestIn(running: RunningMean, from: number, to: number, width: number): number {
  let loudest = from;
  for (let i = from; i + width <= to; i++)
    if (running.mean(i, i + width) > running.mean(loudest, loudest + width)) loudest = i;
  return loudest + (width >> 1);
}

/**
 * The level the recording rests at, and how much levels scatter about it; null where it rests nowhere. Levels of a pure
 * decay are spread evenly over decibels; a resting level shows as a crowd at their lower end that is flat in time.
 */
function restingLevel(
  levels: Float64Array,
  peakDb: Decibels,
  strideSeconds: Seconds,
  windowSeconds: Seconds,
): { level: Decibels; spread: Decibels } | null {
  const lowest = quantile(levels, 0.01);
  if (lowest > peakDb - LEAST_FLOOR_DEPTH_DB) return null;
  if (lowest > LOUDEST_FLOOR_DBFS && lowest > peakDb - 30) return null;
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
    return { level, spread: Math.sqrt(mean(resting.map((value) => (value - level) ** 2))) };
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
 * Walks outward from a clearly audible step while the mean power about the position, less the floor's, is above `limit`:
 * a slow edge is where the sound's course meets the limit, whatever chance does. A sharp edge lies inside the last
 * window; there the walk turns back inward to where 5 ms are no weaker than 20 dB below the loudest close by.
 */
function edge(
  running: RunningMean,
  from: number,
  direction: 1 | -1,
  { floorPower, limit, width, fine }: { floorPower: number; limit: number; width: number; fine: number },
): number {
  const outermost = direction === 1 ? running.length : 0;
  let position = from;
  for (; position !== outermost; position += direction) {
    const half = Math.round(Math.min(width * 1.5, Math.max(width / 2, Math.abs(position - from) / 6)));
    const start = Math.max(0, position - half);
    const end = Math.min(running.length, position + half);
    if (running.mean(start, end) - floorPower < limit) break;
  }
  const near = (i: number): number => running.mean(i - Math.floor(fine / 2), i + Math.ceil(fine / 2));
  let loudest = 0;
  for (let i = position; Math.abs(i - position) < width && i >= 0 && i <= running.length; i -= direction) {
    loudest = Math.max(loudest, near(i) - floorPower);
  }
  const enough = Math.max(limit, loudest * 0.01);
  for (let walked = 0; walked < width && near(position) - floorPower < enough && position !== from; walked++)
    position -= direction;
  return position;
}
