/**
 * The moment a sound is about: the strike that stands out, the point where a rise breaks off, or, where nothing is sharp, the
 * middle of its broad top.
 */
import type { Decibels, Seconds } from '../sound.ts';
import { OWN_SECONDS, type Strike } from './accents.ts';
import type { ActivePart } from './active.ts';
import { type Approach, approachTo, leadsUp, secondsUntilBelow } from './course.ts';
import { decibels, powerOf, type RunningMean } from './running.ts';

export interface Climax {
  kind: 'strike' | 'stop' | 'top';
  step: number;
  seconds: Seconds;
  strike: Strike | null;
  /** Loudest 50 ms at it, mean square. */
  power: number;
  /** How far its loudest 20 ms stand above the loudest 20 ms before it; null where nothing is before. */
  aboveBeforeDb: Decibels | null;
  approach: Approach;
}

/** A strike tops what leads up to it where its loudest 20 ms are this much louder. */
export const TOPPING_DB: Decibels = 3;
/** A strike is no longer the climax where the sound swells this much louder elsewhere; a weak strike gives way at once. */
const BLOOM_DB: Decibels = 2;
const LEAST_BLOOM_DB: Decibels = 0.5;
const WEAK_STRIKE_DB: Decibels = 8;
/** A struck cymbal's treble blooms after the blow, by so much and within so long; the blow is where another band is loudest. */
const CYMBAL_BLOOM_DB: Decibels = 8;
const CYMBAL_BLOOM_SECONDS: Seconds = 0.25;
const DEAD_STOP_DB: Decibels = 12;
/**
 * A rise breaks off where its level falls so far for good in a small share of the time it took to rise: at once in a dry
 * room, with the room's own decay in another.
 */
const BREAK_DB: Decibels = 12;
export const BREAK_SHARE = 0.15;
const BREAK_SECONDS: Seconds = 0.1;
/** A break is looked for up to this long after the loudest moment. */
const BREAK_WITHIN_SECONDS: Seconds = 0.5;

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
  const loudest = loudestFrom(running, start, end, width);
  const climaxAt = (kind: Climax['kind'], step: number, strike: Strike | null, power: number): Climax => {
    const short = Math.min(steps(0.02), width);
    const before = loudestFrom(running, start, Math.floor(step) - steps(0.01), short);
    return {
      kind,
      step,
      seconds: step * hopSeconds,
      strike,
      power,
      aboveBeforeDb: before.power > 0 ? decibels(strike?.peakPower ?? power) - decibels(before.power) : null,
      approach: approachTo(running, active, step, power, hopSeconds),
    };
  };

  const brief = Math.min(steps(0.02), width);
  const loudestBrief = loudestFrom(running, start, end, brief).power;
  const strikesHome = (strike: Strike): boolean => {
    const rings = strike.topsBand && loudest.step - strike.step < steps(CYMBAL_BLOOM_SECONDS);
    const most = rings ? CYMBAL_BLOOM_DB : BLOOM_DB;
    const bloom = Math.min(most, Math.max(LEAST_BLOOM_DB, strike.strengthDb - WEAK_STRIKE_DB));
    const own = loudestFrom(running, strike.step, Math.min(end, strike.step + steps(OWN_SECONDS)), brief).power;
    return own * powerOf(bloom) >= loudestBrief;
  };
  const main = strikes
    .filter(strikesHome)
    .reduce<Strike | null>((best, s) => (best && salience(best) >= salience(s) ? best : s), null);
  const mainPower = main ? loudestFrom(running, main.step, main.step + steps(0.06) + width, width).power : 0;
  const strike = main ? climaxAt('strike', main.step, main, mainPower) : null;
  const clear = main !== null && main.strengthDb >= WEAK_STRIKE_DB;
  const last = main !== null && loudest.step < main.step + steps(0.08);
  if (strike !== null && (clear || (last && (strike.aboveBeforeDb ?? 0) > TOPPING_DB))) return strike;

  const stop = climaxAt('stop', breakAfter(running, loudest.step, loudest.power, steps), null, loudest.power);
  if (leadsUp(stop.approach) && breaksOff(running, stop, loudest.step + width / 2, end, hopSeconds)) return stop;
  if (strike !== null) return strike;
  return climaxAt('top', broadTop(running, start, end, hopSeconds), null, loudest.power);
}

/** Dead at once, or so soon after the loudest moment that it was cut and what follows is the room. */
function breaksOff(running: RunningMean, stop: Climax, loudestStep: number, end: number, hopSeconds: Seconds): boolean {
  const at = (seconds: Seconds): number => Math.round(stop.step + seconds / hopSeconds);
  const drop = decibels(running.mean(at(-0.06), at(0))) - decibels(running.mean(at(0.005), at(0.035)));
  if (drop > DEAD_STOP_DB) return true;
  const fall = secondsUntilBelow(running, loudestStep, end, stop.power * powerOf(-BREAK_DB), hopSeconds);
  return fall <= Math.max(Math.min(BREAK_SECONDS, stop.approach.seconds / 4), BREAK_SHARE * stop.approach.seconds);
}

/** Level in dB, and half a dB more for each dB of rise up to 12: of two equally loud strikes the one that stands out. */
function salience({ peakPower, strengthDb }: Strike): number {
  return decibels(peakPower) + Math.min(12, strengthDb) / 2;
}

function loudestFrom(running: RunningMean, from: number, to: number, width: number): { step: number; power: number } {
  let loudest = { step: from, power: 0 };
  for (let i = from; i + width <= Math.min(to, running.length); i++) {
    const power = running.mean(i, i + width);
    if (power > loudest.power) loudest = { step: i, power };
  }
  return loudest;
}

/**
 * The step soon after `loudest` where the level breaks off most: first where 60 and 180 ms before it outweigh those after it most,
 * then, near there, the maximum likelihood division into a stronger stretch and a weaker one (see `changePoint`).
 */
function breakAfter(
  running: RunningMean,
  loudest: number,
  loudestPower: number,
  steps: (seconds: Seconds) => number,
): number {
  /** Power over a stretch before `i` over that after it; what lies after the file is silence. */
  const ratioAt = (i: number, width: number): number => {
    const after = (running.mean(i, i + width) * Math.max(0, Math.min(width, running.length - i))) / width;
    return running.mean(i - width, i) / (after + loudestPower * 1e-5);
  };
  const width = steps(0.06);
  let best = loudest;
  let most = 0;
  for (let i = loudest + steps(0.02); i <= Math.min(running.length, loudest + steps(BREAK_WITHIN_SECONDS)); i++) {
    if (running.mean(i - width, i) < loudestPower / 2) continue;
    const ratio = ratioAt(i, width) * ratioAt(i, 3 * width);
    if (ratio > most) {
      most = ratio;
      best = i;
    }
  }
  const from = Math.max(0, best - steps(0.05));
  const to = best + steps(0.05);
  let step = best;
  let leastCost = Number.POSITIVE_INFINITY;
  // Deeper than 20 dB below, how it dies away tells nothing of when it broke off.
  const least = loudestPower * 0.01;
  for (let k = from + 1; k < Math.min(to, running.length + 1); k++) {
    const loud = running.mean(from, k) + least;
    const quiet = (running.mean(k, to) * Math.max(0, Math.min(to, running.length) - k)) / (to - k) + least;
    const cost = (k - from) * Math.log(loud) + (to - k) * Math.log(quiet);
    if (quiet < loud && cost < leastCost) {
      leastCost = cost;
      step = k;
    }
  }
  return step;
}

/**
 * Middle of the stretch about the loudest moment in which means over a fourteenth of the active part (0.04 to 0.8 s) stay within
 * half a decibel of the largest of them. What a mean takes in beyond the active part counts as silence.
 */
function broadTop(running: RunningMean, start: number, end: number, hopSeconds: Seconds): number {
  const half = Math.max(1, Math.round(Math.min(0.4 / hopSeconds, Math.max(0.02 / hopSeconds, (end - start) / 28))));
  const level = (i: number): number => {
    const from = Math.max(start, i - half);
    const to = Math.min(end, i + half);
    return running.mean(from, to) * (to - from);
  };
  let top = start;
  for (let i = start; i < end; i++) if (level(i) > level(top)) top = i;
  const enough = level(top) * powerOf(-0.5);
  let from = top;
  while (from > start && level(from - 1) > enough) from--;
  let to = top;
  while (to < end && level(to + 1) > enough) to++;
  return (from + to) / 2;
}
