/** The course of the level over the active part, as the gestures are told by it: approach, body and humps. */
import type { Decibels, Seconds } from '../sound.ts';
import type { ActivePart } from './active.ts';
import { decibels, powerOf, type RunningMean } from './running.ts';

/** What leads up to the climax. */
export interface Approach {
  seconds: Seconds;
  /** Level of its last fifth over its first, and of its last fifth below the climax. */
  riseDb: Decibels;
  belowClimaxDb: Decibels;
  /** Level of its last fifth over its middle one: what is up by then holds. */
  lateRiseDb: Decibels;
  /** Share of the pairs of its tenths that rise, 0..1: 1 rises all the way, 0.5 goes nowhere. */
  steadiness: number;
}

/** A shorter rise is the attack of a swell or of a voice. */
const LEAST_RISE_SECONDS: Seconds = 0.3;

/** A steady rise, longer than an attack, that ends not far below the climax's own level. */
export function leadsUp({ seconds, steadiness, riseDb, lateRiseDb, belowClimaxDb }: Approach): boolean {
  return seconds >= LEAST_RISE_SECONDS && steadiness >= 0.8 && riseDb >= 8 && lateRiseDb >= 2 && belowClimaxDb <= 25;
}

export function approachTo(
  running: RunningMean,
  active: ActivePart,
  climaxStep: number,
  climaxPower: number,
  hopSeconds: Seconds,
): Approach {
  const start = Math.floor(active.startStep);
  const length = Math.floor(climaxStep) - start;
  // A breath before the strike belongs to neither.
  const end = start + length - Math.min(Math.round(0.13 / hopSeconds), Math.floor(length * 0.15));
  const least = Math.max(active.floorPower, climaxPower * powerOf(-45));
  const tenths = tenthsOf(running, start, end, least);
  return {
    seconds: Math.max(0, length * hopSeconds),
    riseDb: (tenths[8] + tenths[9] - tenths[0] - tenths[1]) / 2,
    lateRiseDb: (tenths[8] + tenths[9] - tenths[4] - tenths[5]) / 2,
    belowClimaxDb: decibels(climaxPower) - Math.max(tenths[8], tenths[9]),
    steadiness: risingShare(tenths),
  };
}

/** The part within BODY_RANGE_DB of the loudest, without long tails: its outline in means over a tenth of it. */
export interface Body {
  seconds: Seconds;
  /** Shares of the body spent coming up to, and falling from, 3 dB below its usual high level (90th percentile). */
  riseShare: number;
  fallShare: number;
  highStartStep: number;
  highEndStep: number;
  /** From the climax until 5, 10 and 20 dB below it for good (or to the end of the active part). */
  fall5Seconds: Seconds;
  fall10Seconds: Seconds;
  fall20Seconds: Seconds;
  /** How far below the climax the active part ends. */
  depthDb: Decibels;
  /** Share of the pairs of tenths after the climax that fall, 0..1: 1 falls all the way, 0.5 goes nowhere. */
  fallSteadiness: number;
}

const BODY_RANGE_DB: Decibels = 20;

export function bodyOf(
  running: RunningMean,
  active: ActivePart,
  climaxStep: number,
  climaxPower: number,
  hopSeconds: Seconds,
): Body {
  const start = Math.floor(active.startStep);
  const end = Math.max(start + 1, Math.ceil(active.endStep));
  const width = Math.max(1, Math.min(Math.round(0.3 / hopSeconds), Math.floor((end - start) / 10)));
  const before = width >> 1;
  const stride = Math.max(1, Math.floor(width / 4));
  const levels: number[] = [];
  for (let i = start; i < end; i += stride) {
    levels.push(running.mean(Math.max(start, i - before), Math.min(end, i - before + width)));
  }
  const inside = levels.reduce((most, level) => Math.max(most, level)) * powerOf(-BODY_RANGE_DB);
  const first = levels.findIndex((power) => power >= inside);
  const body = levels.slice(first, levels.findLastIndex((power) => power >= inside) + 1);
  const high = [...body].sort((a, b) => a - b)[Math.floor((body.length - 1) * 0.9)] / 2;
  const highFirst = body.findIndex((power) => power >= high);
  const highLast = body.findLastIndex((power) => power >= high);
  const length = Math.max(1, body.length - 1);
  const atStep = (index: number): number => start + (first + index) * stride;
  const fall = (fallDb: Decibels): Seconds =>
    secondsUntilBelow(running, climaxStep, end, climaxPower * powerOf(-fallDb), hopSeconds);
  const limit = Math.max(active.floorPower, climaxPower * powerOf(-60));
  return {
    seconds: body.length * stride * hopSeconds,
    riseShare: highFirst / length,
    fallShare: (length - highLast) / length,
    highStartStep: atStep(highFirst),
    highEndStep: Math.min(end, atStep(highLast + 1)),
    fall5Seconds: fall(5),
    fall10Seconds: fall(10),
    fall20Seconds: fall(20),
    depthDb: decibels(climaxPower) - decibels(Math.max(limit, running.mean(end - width, end))),
    fallSteadiness: 1 - risingShare(tenthsOf(running, Math.floor(climaxStep), atStep(body.length), active.floorPower)),
  };
}

/** From `step` until 30 ms means last stand at `power`, or until `end`. */
export function secondsUntilBelow(
  running: RunningMean,
  step: number,
  end: number,
  power: number,
  hopSeconds: Seconds,
): Seconds {
  const from = Math.floor(step);
  const width = Math.max(1, Math.min(Math.round(0.03 / hopSeconds), end - from));
  let until = end;
  while (until > from && running.mean(until - width, until) < power) until--;
  return Math.max(0, until - from) * hopSeconds;
}

/** How humps are told apart: between two of them the level (means over `widthSeconds`) dips this far below the lower. */
export interface HumpScale {
  widthSeconds: Seconds;
  dipDb: Decibels;
}
/** Separate events, each heard as a whole. */
export const EVENTS: HumpScale = { widthSeconds: 0.1, dipDb: 15 };
/** Parts of one line, such as syllables and tongued notes. */
export const PARTS: HumpScale = { widthSeconds: 0.04, dipDb: 10 };
const HUMP_RANGE_DB: Decibels = 16;

export interface Hump {
  seconds: Seconds;
  power: number;
}

/** Peaks within HUMP_RANGE_DB of the loudest with dips between them: separate, however softly they begin. */
export function humpsOf(
  running: RunningMean,
  active: ActivePart,
  hopSeconds: Seconds,
  { widthSeconds, dipDb }: HumpScale = EVENTS,
): Hump[] {
  const dip = powerOf(-dipDb);
  const width = Math.max(1, Math.round(widthSeconds / hopSeconds));
  const humps: Hump[] = [];
  let peak: Hump | null = null;
  let trough = Number.POSITIVE_INFINITY;
  for (let i = Math.floor(active.startStep); i < active.endStep; i += Math.max(1, width >> 4)) {
    const power = Math.max(active.floorPower, running.mean(i - (width >> 1), i + width - (width >> 1)));
    if (peak === null) {
      trough = Math.min(trough, power);
      if (power > trough / dip || humps.length === 0) peak = { seconds: i * hopSeconds, power };
    } else if (power > peak.power) peak = { seconds: i * hopSeconds, power };
    else if (power < peak.power * dip) {
      humps.push(peak);
      peak = null;
      trough = power;
    }
  }
  if (peak !== null) humps.push(peak);
  const loudest = humps.reduce((most, hump) => Math.max(most, hump.power), 0);
  return humps.filter((hump) => hump.power > loudest * powerOf(-HUMP_RANGE_DB));
}

function tenthsOf(running: RunningMean, start: number, end: number, least: number): Decibels[] {
  const at = (k: number): number => start + Math.floor(((end - start) * k) / 10);
  return Array.from({ length: 10 }, (_, k) => decibels(Math.max(least, running.mean(at(k), at(k + 1)))));
}

/** Share of the pairs in which the later is the higher; equals count half. */
export function risingShare(levels: readonly Decibels[]): number {
  let rising = 0;
  let pairs = 0;
  levels.forEach((early, i) => {
    for (const late of levels.slice(i + 1)) {
      pairs++;
      rising += late > early ? 1 : late === early ? 0.5 : 0;
    }
  });
  return pairs > 0 ? rising / pairs : 0.5;
}
