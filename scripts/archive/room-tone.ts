/**
 * The room's own noise through a recording: how loud it is in each band, how much it fluctuates, and how it drifts. A sound is
 * what stands above it in any band, so that neither a rumble nor a hiss hides what the other bands would show.
 */
import type { Envelope } from '../../shared/measure/envelope.ts';
import { decibels, mean, powerOf, quantile, RunningMean } from '../../shared/measure/running.ts';
import type { Decibels, Seconds } from '../../shared/sound.ts';

/** Levels are taken every STEP_SECONDS: quick ones, means over three steps, and slow ones, means over twelve. */
export const STEP_SECONDS: Seconds = 0.02;
export const QUICK_STEPS = 3;
const CLICK_SHARE = 0.5;
export const SLOW_STEPS = 12;

/** At first the room is heard where it is quietest for this long ... */
const REST_SECONDS: Seconds = 0.6;
/** ... and all that stays below this much above that, and this far from anything louder, is the room, too. */
const SURELY_SOUND_DB: Decibels = 9;
const APART_SECONDS: Seconds = 0.3;
/** It is then judged anew every BLOCK_SECONDS, from the block and its neighbours, or more where these hold too little. */
const BLOCK_SECONDS: Seconds = 5;
const LEAST_ROOM_SECONDS: Seconds = 1;
/** It drifts no more than this above its lowest: what is louder for long is a sound. */
const DRIFT_DB: Decibels = 14;

/** A "room" louder than this and less than LEAST_DEPTH_DB below the loudest moment is part of the music. */
const LOUDEST_ROOM_DBFS: Decibels = -40;
const LEAST_DEPTH_DB: Decibels = 30;
/** What is quieter than the room by this much, at either end of a file, is a fade. */
const FADE_DB: Decibels = 2;
/** Nor is it a room that fluctuates or slopes more than this within its quietest stretch. */
const LARGEST_SPREAD_DB: Decibels = 3.5;
const LARGEST_SLOPE_DB: Decibels = 2;

/**
 * A room that never rests (fire, rain, birds) is told from music by this: a session is long, most of it is the room, and
 * that lies LEAST_DEPTH_DB below the loudest moment and strays no more than so much downwards.
 */
const LEAST_RESTLESS_SECONDS: Seconds = 20;
const USUAL_SHARE = 0.4;
const LOW_SHARE = 0.08;
const LARGEST_RESTLESS_SPREAD_DB: Decibels = 9;

/** How far the sound stands above the room's noise in the band where it does most, every STEP_SECONDS. */
export interface Excess {
  hopsAStep: number;
  /** First hop of the envelope that value 0 stands for; a fade before it is left out, as is one at the end. */
  firstHop: number;
  /** Quick level over the room's, in dB, less three times what the room's quick level strays beyond 1 dB. */
  quickDb: Float32Array;
  /** Slow level over the room's, in dB, less three times what the room's slow level strays. */
  slowDb: Float32Array;
}

interface Room {
  level: Decibels;
  /** Standard deviation of its quick levels. */
  spread: Decibels;
}

/** null where the part never rests in a room's noise: it is one sound as a whole. */
export function excessOverRoom(envelope: Envelope, fromHop: number, toHop: number): Excess | null {
  const hopsAStep = Math.max(1, Math.round(STEP_SECONDS / envelope.hopSeconds));
  const thin = (power: Float32Array): RunningMean => new RunningMean(new RunningMean(power).thinned(hopsAStep));
  const levels = thin(envelope.levelDb.subarray(fromHop, toHop).map(powerOf)).smoothed(QUICK_STEPS).map(decibels);
  const restSteps = Math.round(REST_SECONDS / STEP_SECONDS);
  const unfaded = withoutFades(levels, restSteps);
  const whole = levels.subarray(unfaded.from, unfaded.to);
  if (whole.length < 2 * restSteps) return null;
  const isRestful = restsSomewhere(whole, restSteps);
  if (!isRestful && !isRestlessRoom(whole)) return null;
  const firstHop = fromHop + unfaded.from * hopsAStep;
  const lastHop = Math.min(toHop, fromHop + unfaded.to * hopsAStep);

  const bands = [envelope.lowPower, envelope.midPower, envelope.highPower].map((power) => {
    const running = thin(power.subarray(firstHop, lastHop));
    const single = running.smoothed(1);
    // A click shorter than the quick mean counts, too, if it is so much louder.
    const quick = running.smoothed(QUICK_STEPS).map((power, i) => decibels(Math.max(power, single[i] * CLICK_SHARE)));
    return { quick, slow: running.smoothed(SLOW_STEPS).map(decibels) };
  });
  const isRoom = surelyRoom(
    bands.map(({ quick }) => quick),
    restSteps,
  );
  const quickDb = new Float32Array(whole.length).fill(-120);
  const slowDb = new Float32Array(whole.length).fill(-120);
  for (const { quick, slow } of bands) {
    const rooms = isRestful ? roomOverTime(quick, isRoom) : [restlessRoom(quick)];
    const slowRoom = isRestful ? null : restlessRoom(slow);
    for (let i = 0; i < quick.length; i++) {
      const { level, spread } = roomAt(rooms, i);
      quickDb[i] = Math.max(quickDb[i], quick[i] - level - 3 * Math.max(0, spread - 1));
      const slowExcess =
        slowRoom === null
          ? slow[i] - level - 3 * spread * Math.sqrt(QUICK_STEPS / SLOW_STEPS)
          : slow[i] - slowRoom.level - 3 * slowRoom.spread;
      slowDb[i] = Math.max(slowDb[i], slowExcess);
    }
  }
  return { hopsAStep, firstHop, quickDb, slowDb };
}

/**
 * Fades, and what a coder puts before and after, are quieter than the room and would pass for it: both ends are left out
 * up to where the level comes within FADE_DB of the quietest stretch that is even; nothing where none is.
 */
function withoutFades(levels: Float64Array, restSteps: number): { from: number; to: number } {
  const raised = levels.map((level) => level + 200);
  const running = new RunningMean(raised);
  const squares = new RunningMean(raised.map((level) => level ** 2));
  const half = restSteps >> 1;
  let quietest = Number.POSITIVE_INFINITY;
  for (let i = 0; i + restSteps <= levels.length; i++) {
    const level = running.mean(i, i + restSteps);
    if (level >= quietest || squares.mean(i, i + restSteps) - level ** 2 > LARGEST_SPREAD_DB ** 2) continue;
    const slope = running.mean(i + restSteps - half, i + restSteps) - running.mean(i, i + half);
    if (Math.abs(slope) <= LARGEST_SLOPE_DB) quietest = level;
  }
  if (quietest === Number.POSITIVE_INFINITY) return { from: 0, to: levels.length };
  const isHeard = (level: number): boolean => level >= quietest - FADE_DB;
  return { from: Math.max(0, raised.findIndex(isHeard)), to: raised.findLastIndex(isHeard) + 1 };
}

/** The quietest stretch must be quiet, flat and even. */
function restsSomewhere(levels: Float64Array, restSteps: number): boolean {
  const at = quietestStretch(levels, restSteps);
  const rest = levels.subarray(at, at + restSteps);
  const level = mean(rest);
  const half = restSteps >> 1;
  const slope = mean(rest.subarray(restSteps - half)) - mean(rest.subarray(0, half));
  const spread = Math.sqrt(mean(rest.map((value) => (value - level) ** 2)));
  const loudest = levels.reduce((a, b) => Math.max(a, b), -120);
  if (level > LOUDEST_ROOM_DBFS && loudest - level < LEAST_DEPTH_DB) return false;
  return spread <= LARGEST_SPREAD_DB && Math.abs(slope) <= LARGEST_SLOPE_DB;
}

function isRestlessRoom(levels: Float64Array): boolean {
  const { level, spread } = restlessRoom(levels);
  const loudest = levels.reduce((a, b) => Math.max(a, b), -120);
  const isLong = levels.length * STEP_SECONDS >= LEAST_RESTLESS_SECONDS;
  return isLong && level <= loudest - LEAST_DEPTH_DB && spread <= LARGEST_RESTLESS_SPREAD_DB;
}

/** What is heard most of the time, and how far that strays: seen downwards, where no take is. */
function restlessRoom(levels: Float64Array): Room {
  const level = quantile(levels, USUAL_SHARE);
  return { level, spread: Math.max(1, level - quantile(levels, LOW_SHARE)) };
}

function quietestStretch(levels: Float64Array, width: number): number {
  const running = new RunningMean(levels.map((level) => level + 200));
  let quietest = 0;
  for (let i = 0; i + width <= levels.length; i++) {
    if (running.mean(i, i + width) < running.mean(quietest, quietest + width)) quietest = i;
  }
  return quietest;
}

/** Steps at which no band stands clearly above its quietest rest nearby, nor does so shortly before or after. */
function surelyRoom(bands: readonly Float64Array[], restSteps: number): boolean[] {
  const length = bands[0].length;
  const blockSteps = Math.round((2 * BLOCK_SECONDS) / STEP_SECONDS);
  const apart = Math.round(APART_SECONDS / STEP_SECONDS);
  const room = new Array<boolean>(length).fill(true);
  for (const levels of bands) {
    const rests: Decibels[] = [];
    for (let from = 0; from < length; from += blockSteps) {
      const part = levels.subarray(Math.max(0, from - restSteps), Math.min(length, from + blockSteps + restSteps));
      const at = quietestStretch(part, Math.min(part.length, restSteps));
      rests.push(mean(part.subarray(at, at + restSteps)));
    }
    const lowest = Math.min(...rests);
    for (let i = 0; i < length; i++) {
      const block = Math.floor(i / blockSteps);
      const near = Math.min(...rests.slice(Math.max(0, block - 1), block + 2));
      if (levels[i] < Math.min(near, lowest + DRIFT_DB) + SURELY_SOUND_DB) continue;
      room.fill(false, Math.max(0, i - apart), i + apart + 1);
    }
  }
  return room;
}

/** Median and spread of the room's levels in every block. */
function roomOverTime(levels: Float64Array, isRoom: readonly boolean[]): Room[] {
  const blockSteps = Math.round(BLOCK_SECONDS / STEP_SECONDS);
  const room = levels.filter((_, i) => isRoom[i]);
  const before = countsBefore(isRoom);
  const needed = Math.max(1, Math.min(LEAST_ROOM_SECONDS / STEP_SECONDS, room.length));
  const nowhere = room.length === 0 ? { level: quantile(levels, 0.05), spread: 1 } : null;
  const rooms = Array.from({ length: Math.ceil(levels.length / blockSteps) }, (_, block): Room => {
    if (nowhere !== null) return nowhere;
    for (let around = 1; ; around++) {
      const from = Math.max(0, (block - around) * blockSteps);
      const to = Math.min(levels.length, (block + around + 1) * blockSteps);
      // Counted before anything is copied: where the room is heard once in hours, most blocks reach far for it.
      if (before[to] - before[from] < needed) continue;
      const heard = room.subarray(before[from], before[to]);
      return { level: quantile(heard, 0.5), spread: (quantile(heard, 0.84) - quantile(heard, 0.16)) / 2 };
    }
  });
  const lowest = rooms.reduce((least, { level }) => Math.min(least, level), Number.POSITIVE_INFINITY);
  return rooms.map((room) => ({ ...room, level: Math.min(room.level, lowest + DRIFT_DB) }));
}

/** How many of the steps before each are room; one more entry for the end. */
function countsBefore(isRoom: readonly boolean[]): Uint32Array {
  const counts = new Uint32Array(isRoom.length + 1);
  for (let i = 0; i < isRoom.length; i++) counts[i + 1] = counts[i] + (isRoom[i] ? 1 : 0);
  return counts;
}

/** The room at one step, drifting evenly from the middle of one block to the middle of the next. */
function roomAt(rooms: readonly Room[], step: number): Room {
  const position = Math.max(0, Math.min(rooms.length - 1, (step * STEP_SECONDS) / BLOCK_SECONDS - 0.5));
  const before = rooms[Math.floor(position)];
  const after = rooms[Math.ceil(position)];
  const share = position - Math.floor(position);
  return {
    level: before.level + share * (after.level - before.level),
    spread: before.spread + share * (after.spread - before.spread),
  };
}
