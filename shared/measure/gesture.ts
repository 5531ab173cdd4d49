/** Which of the seven gestures a sound makes, from its climax, its approach to it, its body, and its strikes. */
import type { Decibels, Gesture } from '../sound.ts';
import type { Strike } from './accents.ts';
import type { Approach, Body, Climax } from './course.ts';
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

export function gestureOf(course: Course): Gesture {
  const { climax, body, pulse } = course;
  const events = eventsOf(course.strikes);
  if (isRiser(course, events)) return 'riser';
  if (pulse !== null && pulse.regularity > 0.7 && events.length >= 4) return 'pulse';
  if (events.length >= 3) return 'phrase';
  if (climax.strike !== null && body.seconds < 0.3) return 'hit';
  if (body.riseShare + body.fallShare < 0.33) return 'drone';
  if (body.riseShare < 0.15 * (body.riseShare + body.fallShare)) return fallsSlowly(body) ? 'fade' : 'hit';
  return 'swell';
}

/** Strikes near the strongest in level and at least 120 ms apart: a flam or a bounce is one event. */
function eventsOf(strikes: readonly Strike[]): Strike[] {
  const strongest = strikes.reduce((most, strike) => Math.max(most, strike.peakPower), 0);
  const events: Strike[] = [];
  for (const strike of strikes) {
    if (strike.peakPower < strongest * 10 ** (-EVENT_RANGE_DB / 10)) continue;
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
function isRiser({ climax, approach, strikes }: Course, events: readonly Strike[]): boolean {
  if (!climax.sharp || approach.seconds < 0.25) return false;
  if (approach.steadiness < 0.8 || approach.riseDb < 5 || approach.belowClimaxDb > 25) return false;
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
  return fall10Seconds > 0.5 && fall20Seconds < 1.7 * fall10Seconds;
}
