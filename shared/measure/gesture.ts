/** Which of the seven gestures a sound makes, from its climax, its approach to it, its body, and its strikes. */
import type { Decibels, Gesture, Seconds } from '../sound.ts';
import type { Strike } from './accents.ts';
import { type Approach, type Body, type Climax, type Hump, leadsUp, risingShare } from './course.ts';
import type { Pulse } from './periodicity.ts';
import { decibels, mean } from './running.ts';

export interface Course {
  activeSeconds: Seconds;
  climax: Climax;
  approach: Approach;
  body: Body;
  humps: readonly Hump[];
  strikes: readonly Strike[];
  pulse: Pulse | null;
}

/** Strikes weaker than this below the strongest are no events of their own. */
const EVENT_RANGE_DB: Decibels = 16;
/** Nor are strikes that hardly lift the whole. */
const LEAST_LIFT_DB: Decibels = 5;
/** In a sound that holds its level, grain and beating lift as much; an event must lift more. */
const CLEAR_LIFT_DB: Decibels = 8;
/** A struck sound shorter than this is a hit, however it holds or swells. */
const SHORT_SECONDS: Seconds = 0.45;
/** Shorter than this nothing but a hit is heard. */
const VERY_SHORT_SECONDS: Seconds = 0.2;
/** Two events closer than this are a double hit. */
const DOUBLE_SECONDS: Seconds = 0.4;

export function gestureOf(course: Course): Gesture {
  const { activeSeconds, climax, body, pulse, approach, humps } = course;
  const events = eventsOf(course.strikes);
  if (isRiser(course, events)) return 'riser';
  if (pulse !== null && (pulse.kind === 'grid' ? events.length >= 8 : Math.max(events.length, humps.length) >= 4))
    return 'pulse';
  // Grace notes and the stick's own noise before a strike are part of it.
  const riseShare = climax.strike !== null && approach.seconds < 0.25 ? 0 : body.riseShare;
  const holds = riseShare + body.fallShare < 0.33;
  const distinct = holds ? events.filter((event) => event.liftDb > CLEAR_LIFT_DB) : events;
  if (distinct.length >= 3 || humps.length >= 3 || farApart(humps)) return 'phrase';
  if (activeSeconds < VERY_SHORT_SECONDS || (climax.strike !== null && body.seconds < SHORT_SECONDS)) return 'hit';
  if (holds) return 'drone';
  if (riseShare > 0.15 * (riseShare + body.fallShare)) {
    return climax.strike !== null && climax.strike.strengthDb > CLEAR_LIFT_DB ? 'riser' : 'swell';
  }
  if (body.fallSteadiness < 0.75) return 'drone';
  return fallsSlowly(body) ? 'fade' : 'hit';
}

/** Strikes near the strongest in level and at least 120 ms apart: a flam or a bounce is one event. */
function eventsOf(strikes: readonly Strike[]): Strike[] {
  const strongest = strikes.reduce((most, strike) => Math.max(most, strike.peakPower), 0);
  const events: Strike[] = [];
  for (const strike of strikes) {
    if (strike.liftDb < LEAST_LIFT_DB || strike.peakPower < strongest * 10 ** (-EVENT_RANGE_DB / 10)) continue;
    const previous = events[events.length - 1];
    if (previous && strike.seconds - previous.seconds < 0.12) {
      if (strike.peakPower > previous.peakPower) events[events.length - 1] = strike;
    } else events.push(strike);
  }
  return events;
}

/**
 * A steady rise of a quarter second or more leads into a sharp climax. Where the rise is itself made of strikes they must be
 * a roll: many, and growing.
 */
function isRiser({ climax, approach, body, strikes }: Course, events: readonly Strike[]): boolean {
  if (!climax.sharp || body.fall10Seconds > Math.max(0.8, 3 * approach.seconds)) return false;
  const before = events.filter((event) => event.step < climax.step - 20);
  if (before.length < 2) return leadsUp(approach);
  const roll = strikes.filter((strike) => strike.step < climax.step);
  return approach.belowClimaxDb < 25 && isGrowingRoll(roll);
}

function farApart(humps: readonly Hump[]): boolean {
  return humps.length === 2 && humps[1].seconds - humps[0].seconds > DOUBLE_SECONDS;
}

/** Five strikes or more, typically less than a quarter second apart, whose last third is 3 dB above the first. */
function isGrowingRoll(strikes: readonly Strike[]): boolean {
  if (strikes.length < 5) return false;
  const intervals = strikes.slice(1).map((strike, i) => strike.seconds - strikes[i].seconds);
  const typical = intervals.sort((a, b) => a - b)[intervals.length >> 1];
  const levels = strikes.map((strike) => decibels(strike.peakPower));
  const third = Math.floor(levels.length / 3);
  return typical < 0.25 && risingShare(levels) > 0.75 && mean(levels.slice(-third)) > mean(levels.slice(0, third)) + 3;
}

/**
 * A struck thing dies away evenly in decibels or quicker at first, so that 20 dB take twice as long as 10 or longer; a
 * fade that is drawn or played holds back at first and ends sooner. Even fading slower than 5 dB a second is a fade, too.
 */
function fallsSlowly({ fall5Seconds, fall10Seconds, fall20Seconds }: Body): boolean {
  if (fall10Seconds > 2 && fall5Seconds > 0.7) return true;
  return fall10Seconds > 0.7 && fall20Seconds < 1.5 * fall10Seconds;
}
