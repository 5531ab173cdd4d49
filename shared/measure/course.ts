/**
 * The course of the level over the active part, as the gestures are told by it: its climax, what leads up to it, how
 * it falls away, and its body.
 */
import type { Decibels, Seconds } from '../sound.ts';
import type { Strike } from './accents.ts';
import type { ActivePart } from './active.ts';
import { decibels, powerOf, type RunningMean } from './running.ts';

export interface Climax {
  step: number;
  /** A strike or a dead stop: a moment that can be put on a beat. False for the broad top of a swell or drone. */
  sharp: boolean;
  strike: Strike | null;
  /** Loudest 50 ms at it, mean square. */
  power: number;
}

/** What leads up to the climax. */
export interface Approach {
  seconds: Seconds;
  /** Level of its last fifth over its first, and of its last fifth below the climax. */
  riseDb: Decibels;
  belowClimaxDb: Decibels;
  /** Share of the pairs of its tenths that rise, 0..1: 1 rises all the way, 0.5 goes nowhere. */
  steadiness: number;
}

/** The part within BODY_RANGE_DB of the loudest, without the rumble of tails: its outline in means over a tenth of it. */
export interface Body {
  startStep: number;
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
  /** Share of the pairs of tenths after the climax that fall, 0..1: 1 falls all the way, 0.5 goes nowhere. */
  fallSteadiness: number;
}

const BODY_RANGE_DB: Decibels = 20;
/** A strike is no longer the climax where the sound swells this much louder elsewhere; a weak strike gives way at once. */
const BLOOM_DB: Decibels = 4;
const LEAST_BLOOM_DB: Decibels = 0.5;
const WEAK_STRIKE_DB: Decibels = 8;
/** A stop falls by this much within 40 ms. */
const STOP_DB: Decibels = 7;

export function findClimax(
  running: RunningMean,
  active: ActivePart,
  strikes: readonly Strike[],
  hopSeconds: Seconds,
): Climax {
  const steps = (seconds: Seconds): number => Math.max(1, Math.round(seconds / hopSeconds));
  const start = Math.floor(active.startStep);
  const end = Math.max(start + 1, Math.ceil(active.endStep));
  const width = Math.min(steps(0.05), end - start);
  let loudest = start;
  let loudestPower = 0;
  for (let i = start; i + width <= end; i++) {
    const power = running.mean(i, i + width);
    if (power > loudestPower) {
      loudestPower = power;
      loudest = i;
    }
  }
  const main = strikes.reduce<Strike | null>((best, s) => (best && salience(best) >= salience(s) ? best : s), null);
  if (main !== null) {
    let power = 0;
    for (let i = main.step; i < main.step + steps(0.06); i++) power = Math.max(power, running.mean(i, i + width));
    const bloom = Math.min(BLOOM_DB, Math.max(LEAST_BLOOM_DB, main.strengthDb - WEAK_STRIKE_DB));
    if (power * powerOf(bloom) >= loudestPower) return { step: main.step, sharp: true, strike: main, power };
  }
  const stop = deadStop(running, loudest, loudestPower, steps);
  if (stop !== null) {
    const climax = { step: stop, sharp: true, strike: null, power: loudestPower };
    if (leadsUp(approachTo(running, active, climax, hopSeconds))) return climax;
  }
  return { step: broadTop(running, start, end, hopSeconds), sharp: false, strike: null, power: loudestPower };
}

/** A steady rise of a quarter second or more that ends near the climax's own level. */
export function leadsUp({ seconds, steadiness, riseDb, belowClimaxDb }: Approach): boolean {
  return seconds >= 0.12 && steadiness >= 0.8 && riseDb >= 5 && belowClimaxDb <= 25;
}

/** Level in dB, and half a dB more for each dB of rise up to 12: of two equally loud strikes the one that stands out. */
function salience({ peakPower, strengthDb }: Strike): number {
  return decibels(peakPower) + Math.min(12, strengthDb) / 2;
}

/** The step soon after `loudest` at which the sound breaks off, or null. */
function deadStop(
  running: RunningMean,
  loudest: number,
  loudestPower: number,
  steps: (s: Seconds) => number,
): number | null {
  let best = { step: 0, fall: 0 };
  for (let i = loudest + steps(0.02); i <= Math.min(running.length, loudest + steps(0.3)); i++) {
    const before = running.mean(i - steps(0.03), i);
    if (before < loudestPower / 4) continue;
    const after = running.mean(i + steps(0.005), i + steps(0.035));
    const fall = decibels(before) - decibels(after);
    const sharpness = running.mean(i - steps(0.005), i) / (running.mean(i, i + steps(0.005)) + 1e-12);
    const score = fall + Math.min(20, decibels(sharpness));
    if (fall > STOP_DB && score > best.fall) best = { step: i, fall: score };
  }
  return best.fall > 0 ? best.step : null;
}

/**
 * Middle of the stretch about the loudest moment in which means over a fourteenth of the active part (0.1 to 0.8 s) stay within
 * half a decibel of the largest of them.
 */
function broadTop(running: RunningMean, start: number, end: number, hopSeconds: Seconds): number {
  const half = Math.round(Math.min(0.4 / hopSeconds, Math.max(0.05 / hopSeconds, (end - start) / 28)));
  const level = (i: number): number => running.mean(Math.max(start, i - half), Math.min(end, i + half));
  let top = start;
  for (let i = start; i < end; i++) if (level(i) > level(top)) top = i;
  const enough = level(top) * powerOf(-0.5);
  let from = top;
  while (from > start && level(from - 1) > enough) from--;
  let to = top;
  while (to < end && level(to + 1) > enough) to++;
  return (from + to) / 2;
}

export function approachTo(running: RunningMean, active: ActivePart, climax: Climax, hopSeconds: Seconds): Approach {
  const start = Math.floor(active.startStep);
  const length = Math.floor(climax.step) - start;
  const seconds = Math.max(0, length * hopSeconds);
  // A breath before the strike belongs to neither.
  const end = start + length - Math.min(Math.round(0.13 / hopSeconds), Math.floor(length * 0.15));
  const least = Math.max(active.floorPower, climax.power * powerOf(-45));
  const tenths = tenthsOf(running, start, end, least);
  return {
    seconds,
    riseDb: (tenths[8] + tenths[9] - tenths[0] - tenths[1]) / 2,
    belowClimaxDb: decibels(climax.power) - Math.max(tenths[8], tenths[9]),
    steadiness: risingShare(tenths),
  };
}

export function bodyOf(running: RunningMean, active: ActivePart, climax: Climax, hopSeconds: Seconds): Body {
  const start = Math.floor(active.startStep);
  const end = Math.max(start + 1, Math.ceil(active.endStep));
  const width = Math.max(1, Math.min(Math.round(0.3 / hopSeconds), Math.floor((end - start) / 10)));
  const level = (i: number): number =>
    running.mean(Math.max(start, i - (width >> 1)), Math.min(end, i + width - (width >> 1)));
  const stride = Math.max(1, Math.floor(width / 4));
  const levels: number[] = [];
  for (let i = start; i < end; i += stride) levels.push(level(i));
  const loudest = Math.max(...levels);
  const inside = loudest * powerOf(-BODY_RANGE_DB);
  const first = levels.findIndex((power) => power >= inside);
  const last = levels.findLastIndex((power) => power >= inside);
  const body = levels.slice(first, last + 1);
  const sorted = [...body].sort((a, b) => a - b);
  const high = sorted[Math.floor((sorted.length - 1) * 0.9)] / 2;
  const length = Math.max(1, body.length - 1);
  const from = Math.floor(climax.step);
  const fallSeconds = (fallDb: Decibels): Seconds => {
    const enough = climax.power * powerOf(-fallDb);
    const fine = Math.max(1, Math.min(Math.round(0.03 / hopSeconds), end - from));
    let until = end;
    while (until > from && running.mean(until - fine, until) < enough) until--;
    return Math.max(0, until - from) * hopSeconds;
  };
  const highFirst = body.findIndex((power) => power >= high);
  const highLast = body.findLastIndex((power) => power >= high);
  const atStep = (index: number): number => start + (first + index) * stride;
  return {
    startStep: atStep(0),
    seconds: body.length * stride * hopSeconds,
    riseShare: highFirst / length,
    fallShare: (length - highLast) / length,
    highStartStep: atStep(highFirst),
    highEndStep: atStep(highLast + 1),
    fall5Seconds: fallSeconds(5),
    fall10Seconds: fallSeconds(10),
    fall20Seconds: fallSeconds(20),
    fallSteadiness: 1 - risingShare(tenthsOf(running, from, atStep(body.length), active.floorPower)),
  };
}

/** Between two humps the level (100 ms means) dips this far below the lower of them. */
const DIP_DB: Decibels = 15;
const HUMP_RANGE_DB: Decibels = 16;

export interface Hump {
  seconds: Seconds;
  power: number;
}

/** Peaks within HUMP_RANGE_DB of the loudest with dips of DIP_DB between them: separate events, however softly they begin. */
export function humpsOf(running: RunningMean, active: ActivePart, hopSeconds: Seconds): Hump[] {
  const dip = powerOf(-DIP_DB);
  const width = Math.max(1, Math.round(0.1 / hopSeconds));
  const humps: Hump[] = [];
  let peak: Hump | null = null;
  let trough = Number.POSITIVE_INFINITY;
  for (let i = Math.floor(active.startStep); i < active.endStep; i += Math.max(1, width >> 2)) {
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
