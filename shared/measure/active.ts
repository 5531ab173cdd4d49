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
import { decibels, powerOf, quantile, type RunningMean } from './running.ts';

export const AUDIBLE_RANGE_DB: Decibels = 60;
const COARSE_SECONDS: Seconds = 0.02;
/** A floor in the middle or at one edge must lie this far below the loudest moment. */
const LEAST_FLOOR_DEPTH_DB: Decibels = 10;
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
  const width = Math.max(1, Math.min(Math.round(COARSE_SECONDS / hopSeconds), Math.floor(running.length / 16)));
  const coarse = running.thinned(width);
  const peakPower = running.smoothed(width).reduce((a, b) => Math.max(a, b), 0);
  if (decibels(peakPower) <= SILENCE_DBFS) return null;
  const floor = restingLevel(coarse.map(decibels), decibels(peakPower));
  const noiseFloorDbfs = floor === null || floor.level <= SILENCE_DBFS + 1 ? null : floor.level;
  const floorPower = noiseFloorDbfs === null ? 0 : powerOf(noiseFloorDbfs);
  const limit = Math.max(floorPower, peakPower * powerOf(-AUDIBLE_RANGE_DB));
  const clear = limit * powerOf(Math.max(CLEARLY_ABOVE_DB, 3.5 * (floor?.spread ?? 0)));
  let first = 0;
  while (first < coarse.length && coarse[first] < clear) first++;
  let last = coarse.length - 1;
  while (last >= 0 && coarse[last] < clear) last--;
  if (first > last) return { noiseFloorDbfs, floorPower, peakPower, startStep: 0, endStep: running.length };
  return {
    noiseFloorDbfs,
    floorPower,
    peakPower,
    startStep: edge(running, first * width, -1, width, floorPower, limit),
    endStep: edge(running, (last + 1) * width, 1, width, floorPower, limit),
  };
}

/**
 * The level the recording rests at, and how much 20 ms levels scatter about it; null where it rests nowhere. Levels of a
 * pure decay are spread evenly over decibels; a floor shows as a crowd at the lower end.
 */
function restingLevel(levels: Float64Array, peakDb: Decibels): { level: Decibels; spread: Decibels } | null {
  const lowest = quantile(levels, 0.02);
  const low = Array.from(levels.filter((level) => level < lowest + 6));
  const crowd = low.filter((level) => level < lowest + 3);
  if (low.length - crowd.length > crowd.length * 0.6) return null;
  const level = decibels(crowd.reduce((sum, value) => sum + powerOf(value), 0) / crowd.length);
  if (peakDb - level < LEAST_FLOOR_DEPTH_DB) return null;
  const spread = Math.sqrt(crowd.reduce((sum, value) => sum + (value - level) ** 2, 0) / crowd.length);
  return { level, spread };
}

/**
 * Walks outward from a clearly audible step until the sound (power less the floor's) has fallen to `limit`, looking
 * through windows that widen with the distance walked, so that sharp edges stay sharp and slow ones are not cut by chance.
 */
function edge(
  running: RunningMean,
  from: number,
  direction: 1 | -1,
  width: number,
  floorPower: number,
  limit: number,
): number {
  const outermost = direction === 1 ? running.length : 0;
  let position = from - direction * width;
  for (; position !== outermost; position += direction) {
    const walked = Math.abs(position - from);
    const window = Math.max(3, Math.round(walked / 4));
    const power =
      direction === 1 ? running.mean(position, position + window) : running.mean(position - window, position);
    if (power - floorPower < limit) break;
  }
  return position;
}
