/** Which of the seven gestures a sound makes, from its climax, its approach to it, its body, and its strikes. */
import type { Decibels, Gesture, Seconds } from '../sound.ts';
import type { Strike } from './accents.ts';
import { type Approach, type Body, type Climax, leadsUp } from './course.ts';
import type { Pulse } from './periodicity.ts';

export interface Course {
  climax: Climax;
  approach: Approach;
  body: Body;
  strikes: readonly Strike[];
  pulse: Pulse | null;
}

/** Strikes weaker than this below the strongest are no events of their own. */
const EVENT_RANGE_DB: Decibels = 16;
/** Nor are strikes that hardly lift the whole. */
const LEAST_LIFT_DB: Decibels = 5;
/** A struck sound shorter than this is a hit, however it holds or swells. */
const SHORT_SECONDS: Seconds = 0.45;

export function gestureOf(course: Course): Gesture {
  const { climax, body, pulse, approach } = course;
  const events = eventsOf(course.strikes);
  if (isRiser(course, events)) return 'riser';
  if (pulse !== null && pulse.regularity > 0.7 && events.length >= 4) return 'pulse';
  if (events.length >= 3) return 'phrase';
  if (climax.strike !== null && body.seconds < SHORT_SECONDS) return 'hit';
  // Grace notes and the stick's own noise before a strike are part of it.
  const riseShare = climax.strike !== null && approach.seconds < 0.25 ? 0 : body.riseShare;
  if (riseShare + body.fallShare < 0.33) return 'drone';
  if (riseShare > 0.15 * (riseShare + body.fallShare)) return 'swell';
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
  if (!climax.sharp || !leadsUp(approach)) return false;
  if (body.fall10Seconds > Math.max(0.8, 3 * approach.seconds)) return false;
  const before = events.filter((event) => event.step < climax.step - 20);
  if (before.length < 2) return true;
  const roll = strikes.filter((strike) => strike.step < climax.step);
  return roll.length >= 5 && growing(roll) > 0.7;
}

/** Share of pairs in which the later strike is the stronger. */
function growing(strikes: readonly Strike[]): number {
  let stronger = 0;
  let pairs = 0;
  strikes.forEach((early, i) => {
    for (const late of strikes.slice(i + 1)) {
      pairs++;
      if (late.peakPower > early.peakPower) stronger++;
    }
  });
  return pairs > 0 ? stronger / pairs : 0;
}

/**
 * A struck thing dies away evenly in decibels or quicker at first, so that 20 dB take twice as long as 10 or longer; a
 * fade that is drawn or played holds back at first and ends sooner. Even fading slower than 6 dB a second is a fade, too.
 */
function fallsSlowly({ fall5Seconds, fall10Seconds, fall20Seconds }: Body): boolean {
  if (fall10Seconds > 1.8 && fall5Seconds > 0.7) return true;
  return fall10Seconds > 0.7 && fall20Seconds < 1.5 * fall10Seconds;
}
