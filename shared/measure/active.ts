/**
 * Where the sound itself begins and ends, against its own noise floor.
 *
 * The active part runs from the first to the last moment at which the sound, with the floor's power taken away, stands
 * above the floor, and no more than AUDIBLE_RANGE_DB below its own loudest 20 ms: the usual meeting point of decay and
 * background noise (ISO 3382-1 cuts decays there, too). Moments are means over LEVEL_SECONDS; an even decay is taken as a line
 * in decibels, and a sharp edge to 5 ms.
 */
import type { Decibels, Seconds } from '../sound.ts';
import { type Floor, meetingPoint, outermost, sharpened } from './active-edges.ts';
import { SILENCE_DBFS } from './envelope.ts';
import { findRestingLevel } from './noise-floor.ts';
import { decibels, powerOf, type RunningMean } from './running.ts';

export const AUDIBLE_RANGE_DB: Decibels = 60;
/** Levels are judged over this long (less in short sounds). */
const LEVEL_SECONDS: Seconds = 0.05;
/** The floor is measured over this long at least, past a tail that falls by SETTLING_DB after it met the floor. */
const LEAST_REST_SECONDS: Seconds = 0.06;
const SETTLING_DB: Decibels = 10;
/** How steeply the tail falls is told from where it was this far above the floor. */
const SLOPE_DB: Decibels = 6;
/** The floor changes no further than this: what lies outside may be a sound nobody foresaw. */
const MOST_RAISED = 1.1;
const MOST_LOWERED = 0.5;

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

  const rest = findRestingLevel(running, decibels(peakPower), width, hopSeconds);
  const rests = rest !== null && rest.level > SILENCE_DBFS + 1;
  let floor: Floor = { power: rests ? powerOf(rest.level) : 0, variation: rest?.variation ?? 0 };
  if (rests) floor = settledFloor(running, floor, width, hopSeconds);
  const limit = Math.max(floor.power, peakPower * powerOf(-AUDIBLE_RANGE_DB));
  const [startStep, endStep] = ([-1, 1] as const).map((direction) => {
    const edge = outermost(running, direction, floor, limit, width);
    return (
      meetingPoint(running, edge, direction, floor, limit, width) ??
      sharpened(running, edge, direction, floor, limit, width)
    );
  });
  const found = { noiseFloorDbfs: rests ? decibels(floor.power) : null, floorPower: floor.power, peakPower };
  // Where nothing is clear, or all is shorter than a step, the whole file is the sound.
  return startStep < endStep ? { ...found, startStep, endStep } : { ...found, startStep: 0, endStep: length };
}

/**
 * The floor as mean power of what lies outside the sound, past its tails: as Lundeby et al. measure the noise of a decay, past
 * where the line has fallen by another 10 dB (Acustica 81, 1995; from memory). Of two sides the quieter counts, or both
 * where they agree within what chance allows; `floor` itself where nothing lies outside.
 */
function settledFloor(running: RunningMean, floor: Floor, width: number, hopSeconds: Seconds): Floor {
  const least = LEAST_REST_SECONDS / hopSeconds;
  const half = Math.max(1, width >> 1);
  const sides = ([-1, 1] as const).flatMap((direction) => {
    const edge = outermost(running, direction, floor, floor.power, width);
    const outer = direction === 1 ? running.length : 0;
    const room = Math.abs(outer - edge);
    if (room < least) return [];
    let inner = edge;
    while (
      inner > 0 &&
      inner < running.length &&
      running.mean(inner - half, inner + half) < floor.power * (1 + powerOf(SLOPE_DB))
    )
      inner -= direction;
    const settling = half + (Math.abs(edge - inner) * SETTLING_DB) / SLOPE_DB;
    const steps = Math.round(Math.max(least, room / 2, room - settling));
    return [{ steps, power: direction === 1 ? running.mean(outer - steps, outer) : running.mean(0, steps) }];
  });
  const quietest = sides.reduce((low, side) => (side.power < low.power ? side : low), { steps: 0, power: Infinity });
  let steps = 0;
  let energy = 0;
  for (const side of sides) {
    const chance = floor.variation * Math.sqrt(width / side.steps + width / quietest.steps);
    if (side.power > quietest.power * (1 + 2 * chance)) continue;
    steps += side.steps;
    energy += side.power * side.steps;
  }
  const power = steps > 0 ? energy / steps : floor.power;
  return { ...floor, power: Math.min(floor.power * MOST_RAISED, Math.max(floor.power * MOST_LOWERED, power)) };
}
