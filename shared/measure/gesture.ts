/**
 * Which of the seven gestures a sound makes. In this order: a rise into a climax that then falls at once or rings over; events
 * that repeat evenly; several events, told by deep gaps or by strikes; else the shape of the one event or of the one texture (many small strikes that make up one sound: a chain drawn, a
 * door that creaks).
 */
import type { Decibels, Gesture, Seconds } from '../sound.ts';
import type { Strike } from './accents.ts';
import { BREAK_SHARE, type Climax, TOPPING_DB } from './climax.ts';
import { type Body, type Hump, leadsUp, risingShare } from './course.ts';
import type { Pulse } from './periodicity.ts';
import { decibels, mean, quantile } from './running.ts';

export interface Course {
  activeSeconds: Seconds;
  climax: Climax;
  body: Body;
  humps: readonly Hump[];
  /** By the finer scale of PARTS. */
  parts: readonly Hump[];
  strikes: readonly Strike[];
  pulse: Pulse | null;
}

/** Strikes weaker than this below the strongest are no events of their own, nor are those that hardly lift the whole. */
const EVENT_RANGE_DB: Decibels = 16;
const LEAST_LIFT_DB: Decibels = 6.5;
/** In a sound that holds its level, grain and beating lift as much; an event must lift more. */
const CLEAR_LIFT_DB: Decibels = 8;
/** Events closer than this are a flam or a bounce: one event. */
const FLAM_SECONDS: Seconds = 0.12;
/** Two events closer than this are a double hit. */
const DOUBLE_SECONDS: Seconds = 0.17;
/** Parts of one line follow each other no faster; what does is grain. */
const LEAST_PART_GAP_SECONDS: Seconds = 0.08;
/** Nor much slower. */
const MOST_PART_GAP_SECONDS: Seconds = 1;
/** A struck sound shorter than this is a hit, however it holds or swells; shorter than that nothing but a hit is heard. */
const SHORT_SECONDS: Seconds = 0.45;
const VERY_SHORT_SECONDS: Seconds = 0.2;
/** Nothing shorter is heard to hold. */
const LEAST_DRONE_SECONDS: Seconds = 0.6;
/** A top reached sooner is an attack. */
const SUDDEN_SECONDS: Seconds = 0.1;
const BLOOM_SECONDS: Seconds = 0.25;
/** After its top a riser falls 10 dB within this, or within this share of the time it took to rise; */
const RISER_FALL_SECONDS: Seconds = 0.12;
const RISER_FALL_SHARE = 0.2;
/** where a strike tops it, that may ring on so long. */
const STRIKE_RING_SECONDS: Seconds = 0.6;
const STRIKE_RING_SHARE = 0.6;
/** A rise without a strike that is over sooner is heard as the beginning of one body. */
const LEAST_RISER_SECONDS: Seconds = 0.4;
/** A texture: at least so many strikes, so close, and typically no stronger than that. */
const TEXTURE_STRIKES = 8;
const TEXTURE_GAP_SECONDS: Seconds = 0.25;
const TEXTURE_DB: Decibels = 20;
/** A body spends less than this share on rising and falling if it holds, and this share of that on rising if it only falls. */
const HOLDING_SHARE = 0.33;
const STARTS_FULL_SHARE = 0.15;

export function gestureOf(course: Course): Gesture {
  const { activeSeconds, climax, body, pulse, humps, parts, strikes } = course;
  const events = eventsOf(strikes);
  if (isRiser(course, events)) return 'riser';
  if (pulse !== null && keepsUp(pulse, strikes, events, humps)) return 'pulse';

  // Grace notes and the stick's own noise before a strike are part of it.
  const riseShare = climax.kind === 'strike' && climax.approach.seconds < FLAM_SECONDS ? 0 : body.riseShare;
  const holds = riseShare + body.fallShare < HOLDING_SHARE;
  const texture = isTexture(strikes);
  const distinct = holds ? events.filter(isClear) : events;
  const parted = partedBy(parts, humps);
  if (hasSeveralParts(parted, texture) || (!texture && strikesSeveralTimes(parted, distinct, holds))) return 'phrase';
  // A double hit may last longer by as much as its strikes lie apart.
  const apart = texture || distinct.length < 2 ? 0 : distinct[distinct.length - 1].seconds - distinct[0].seconds;
  const short = body.seconds < SHORT_SECONDS + apart;
  const sudden = climax.kind === 'strike' || (climax.kind === 'top' && beginsAtOnce(climax, body));
  if (activeSeconds < VERY_SHORT_SECONDS || (sudden && short)) return 'hit';
  if (holds && body.seconds > LEAST_DRONE_SECONDS) return 'drone';
  if (riseShare > STARTS_FULL_SHARE * (riseShare + body.fallShare)) return 'swell';
  if (body.fallSteadiness < 0.75 && body.fall10Seconds > body.seconds / 2) return 'drone';
  return texture || !sudden || fallsSlowly(body, climax.kind === 'strike') ? 'fade' : 'hit';
}

/** The top is reached as by an attack, or soon after the level was nearly there from the first moment, as bells bloom. */
function beginsAtOnce({ approach }: Climax, { riseShare, seconds }: Body): boolean {
  if (approach.seconds < SUDDEN_SECONDS) return true;
  return approach.seconds < BLOOM_SECONDS && riseShare * seconds < SUDDEN_SECONDS / 2;
}

/** Enough events, and no mere trembling. */
function keepsUp(
  { kind }: Pulse,
  strikes: readonly Strike[],
  events: readonly Strike[],
  humps: readonly Hump[],
): boolean {
  if (kind === 'humps') return humps.length >= 3;
  if (kind === 'grid') return strikes.length >= 8;
  const lifts = events.map((event) => event.liftDb);
  return events.length >= 4 && quantile(lifts, 0.5) > CLEAR_LIFT_DB;
}

/** Strikes near the strongest in level and some way apart. */
function eventsOf(strikes: readonly Strike[]): Strike[] {
  const strongest = strikes.reduce((most, strike) => Math.max(most, strike.peakPower), 0);
  const events: Strike[] = [];
  for (const strike of strikes) {
    if (strike.liftDb < LEAST_LIFT_DB || strike.peakPower < strongest * 10 ** (-EVENT_RANGE_DB / 10)) continue;
    const previous = events[events.length - 1];
    if (previous && strike.seconds - previous.seconds < FLAM_SECONDS) {
      if (strike.peakPower > previous.peakPower) events[events.length - 1] = strike;
    } else events.push(strike);
  }
  return events;
}

function isTexture(strikes: readonly Strike[]): boolean {
  if (strikes.length < TEXTURE_STRIKES) return false;
  const strengths = strikes.map((strike) => strike.strengthDb);
  return quantile(gapsOf(strikes), 0.5) < TEXTURE_GAP_SECONDS && quantile(strengths, 0.5) < TEXTURE_DB;
}

function gapsOf(strikes: readonly { seconds: Seconds }[]): number[] {
  return strikes.slice(1).map((strike, i) => strike.seconds - strikes[i].seconds);
}

/**
 * A steady rise that breaks off, or that leads into a strike which tops it or ends it; it falls far sooner than it rose, and no
 * other part follows or goes before. Where the rise is itself made of events they must be a roll that grows.
 */
function isRiser({ climax, body, strikes, parts }: Course, events: readonly Strike[]): boolean {
  if (climax.kind === 'top') return false;
  const { approach } = climax;
  const isGrowing = isGrowingRoll(strikes.filter((strike) => strike.step < climax.step));
  const isApart = (part: Hump): boolean => Math.abs(part.seconds - climax.seconds) > DOUBLE_SECONDS;
  const others = parts.filter((part) => isApart(part) && (part.seconds > climax.seconds || !isGrowing));
  if (others.length > 0) return false;
  const isTopped = topsAll(climax);
  if (!isTopped && approach.seconds < LEAST_RISER_SECONDS) return false;
  const fall = isTopped
    ? Math.max(STRIKE_RING_SECONDS, STRIKE_RING_SHARE * approach.seconds)
    : Math.max(RISER_FALL_SECONDS, RISER_FALL_SHARE * approach.seconds);
  if (body.fall10Seconds > fall) return false;
  if (climax.kind === 'stop') return true;
  if (!isTopped && body.fall10Seconds > BREAK_SHARE * approach.seconds) return false;
  const before = events.filter((event) => event.step < climax.step - 20);
  if (before.length < 2) return leadsUp(approach);
  return approach.belowClimaxDb < 25 && isGrowing;
}

function topsAll({ kind, aboveBeforeDb }: Climax): boolean {
  return kind === 'strike' && (aboveBeforeDb ?? 0) > TOPPING_DB;
}

/** Five strikes or more, typically less than a quarter second apart, whose last third is 3 dB above the first. */
function isGrowingRoll(strikes: readonly Strike[]): boolean {
  if (strikes.length < 5) return false;
  const levels = strikes.map((strike) => decibels(strike.peakPower));
  const third = Math.floor(levels.length / 3);
  const growth = mean(levels.slice(-third)) - mean(levels.slice(0, third));
  return quantile(gapsOf(strikes), 0.5) < 0.25 && risingShare(levels) > 0.75 && growth > 3;
}

/**
 * Where gaps lie far apart they must be deep and long: noise and beating dip now and then by chance.
 */
function partedBy(parts: readonly Hump[], humps: readonly Hump[]): readonly Hump[] {
  return several(parts) && quantile(gapsOf(parts), 0.5) > MOST_PART_GAP_SECONDS ? humps : parts;
}

/** Gaps part a sound whatever strikes in it, unless a texture is only frayed by them. */
function hasSeveralParts(parts: readonly Hump[], texture: boolean): boolean {
  if (!texture) return several(parts);
  return parts.length >= 3 && quantile(gapsOf(parts), 0.5) >= LEAST_PART_GAP_SECONDS;
}

/** Struck anew without a gap: into what rings, or beside parts. In what falls and rises two clear strikes are enough. */
function strikesSeveralTimes(parts: readonly Hump[], distinct: readonly Strike[], holds: boolean): boolean {
  if (distinct.length >= 3 || (!holds && several(distinct.filter(isClear)))) return true;
  return parts.length >= 2 && together(parts, distinct).length >= 3;
}

function isClear(event: Strike): boolean {
  return event.liftDb > CLEAR_LIFT_DB;
}

/** Parts, and strikes that belong to none of them. */
function together(parts: readonly Hump[], strikes: readonly Strike[]): { seconds: Seconds }[] {
  const others = strikes.filter((strike) =>
    parts.every(
      (part) => strike.seconds < part.seconds - DOUBLE_SECONDS || strike.seconds > part.seconds + FLAM_SECONDS,
    ),
  );
  return [...parts, ...others];
}

/** Three or more, or two that are no double hit. */
function several(events: readonly { seconds: Seconds }[]): boolean {
  return events.length >= 3 || (events.length === 2 && events[1].seconds - events[0].seconds > DOUBLE_SECONDS);
}

/**
 * A struck thing dies away evenly in decibels or quicker at first: 20 dB take twice as long as 10, or longer, and four times as
 * long as 5. A fade that is drawn or played holds back at first and ends sooner, the more surely if nothing strikes at its beginning; even
 * falling slower than some 5 dB a second is a fade, too.
 */
function fallsSlowly({ fall5Seconds, fall10Seconds, fall20Seconds, depthDb }: Body, struck: boolean): boolean {
  if (fall10Seconds > 1.85 && fall5Seconds > 0.7) return true;
  const heldBack = fall5Seconds > 0.6 * fall20Seconds;
  if (heldBack && fall10Seconds > 0.35) return true;
  const ratio = depthDb > 22 ? fall20Seconds / fall10Seconds : fall10Seconds / Math.max(fall5Seconds, 1e-9);
  return struck ? fall10Seconds > 1 && ratio < 1.65 : fall10Seconds > 0.7 && ratio < 1.9;
}
