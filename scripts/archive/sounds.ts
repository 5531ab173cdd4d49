/** The sounds of a recording: stretches that stand above the room's noise, joined where a short or regular pause parts them. */
import { type Envelope, SILENCE_DBFS } from '../../shared/measure/envelope.ts';
import { decibels, powerOf, quantile, RunningMean } from '../../shared/measure/running.ts';
import type { Decibels, Seconds } from '../../shared/sound.ts';
import { type Excess, excessOverRoom, QUICK_STEPS, SLOW_STEPS, STEP_SECONDS } from './room-tone.ts';
import type { SplitOptions } from './split.ts';

/** In hops of the envelope; end exclusive. */
export interface Stretch {
  from: number;
  to: number;
  /** Most that it stands above the room's noise. */
  aboveDb: Decibels;
}

/** A sound goes on while it is this far above the room's noise, and through dips as short as this. */
const LASTS_ABOVE_DB: Decibels = 3;
const DIP_SECONDS: Seconds = 0.08;
/** Where it comes or goes too slowly for that, its slow level tells. */
const LASTS_SLOWLY_ABOVE_DB: Decibels = 0.5;
const SHARP_WITHIN_SECONDS: Seconds = 0.2;
/** Levels are means over this much before and after. */
const AHEAD_SECONDS: Seconds = (QUICK_STEPS * STEP_SECONDS) / 2;
/** Shorter than this and not clearly loud, it is a click or a chair. */
const FAINT_SECONDS: Seconds = 0.1;
const FAINT_DB: Decibels = 16;
const CLEARLY_LONGER = 1.8;
const FAR_LONGER = 3;
const MANY_PAUSES = 2;

/** In order of time, none overlapping. A recording that never rests is one sound. */
export function soundsIn(envelope: Envelope, options: SplitOptions): Stretch[] {
  const hops = (seconds: Seconds): number => Math.round(seconds / envelope.hopSeconds);
  const parts = betweenDigitalSilence(envelope, hops(options.leastPauseSeconds));
  const found = parts.map((part) => {
    const excess = excessOverRoom(envelope, part.from, part.to);
    return excess === null ? null : stretchesAbove(envelope, excess, options);
  });
  const gap = gapBetweenTakes(
    found.flatMap((stretches) => pausesIn(stretches ?? [])),
    hops(options.leastPauseSeconds),
    hops(options.longestPauseSeconds),
  );
  const sounds = parts.flatMap((part, i) => {
    const inside = joined(found[i] ?? [], gap).filter((stretch) => !isFaint(stretch, hops(FAINT_SECONDS)));
    // With one sound in it, a part that was cut out by somebody is left as it was cut.
    return inside.length <= 1 ? [part] : inside;
  });
  return rhythmsJoined(envelope, joined(sounds, gap), hops(options.longestBeatSeconds));
}

/** Shorter, and a recording that never rests is hardly a session. */
const LEAST_SESSION_SECONDS: Seconds = 20;
/** Its events stand this far above what is heard most of the time. */
const EVENT_DB: Decibels = 10;
const EVENT_SECONDS: Seconds = 0.1;
const LEAST_EVENTS = 4;
const BETWEEN_EVENTS_SECONDS: Seconds = 1;

/**
 * Whether it may be a session whose takes cannot be told apart: it is long, rests nowhere in a room's noise (fire, rain,
 * birds), and several events stand out from what is heard most of the time.
 */
export function mayHideTakes(envelope: Envelope): boolean {
  if (envelope.frames * envelope.hopSeconds < LEAST_SESSION_SECONDS) return false;
  if (excessOverRoom(envelope, 0, envelope.frames) !== null) return false;
  const hops = Math.round(EVENT_SECONDS / envelope.hopSeconds);
  const levels = new RunningMean(envelope.levelDb.map(powerOf)).thinned(hops).map(decibels);
  const usual = quantile(levels, 0.5);
  const apart = BETWEEN_EVENTS_SECONDS / EVENT_SECONDS;
  let events = 0;
  let last = Number.NEGATIVE_INFINITY;
  for (const [i, level] of levels.entries()) {
    if (level < usual + EVENT_DB) continue;
    if (i - last > apart) events++;
    last = i;
  }
  return events >= LEAST_EVENTS;
}

function pausesIn(stretches: readonly Stretch[]): number[] {
  return stretches.slice(1).map((stretch, i) => stretch.from - stretches[i].to);
}

/**
 * The pause that parts takes: `least`, or more where the recording has two clearly different kinds of pauses, short ones within
 * phrases and longer ones between takes. The shorter are then at most `longest`, and the longer at least CLEARLY_LONGER
 * times as long where there are MANY_PAUSES of them or more, FAR_LONGER where there is only one to go by.
 */
function gapBetweenTakes(pauses: readonly number[], least: number, longest: number): number {
  const sorted = pauses.filter((pause) => pause >= least).sort((a, b) => a - b);
  let gap = least;
  let widest = 1;
  for (let i = 0; i + 1 < sorted.length && sorted[i] <= longest; i++) {
    const ratio = sorted[i + 1] / sorted[i];
    const longer = sorted.length - i - 1;
    if (ratio < Math.max(widest, longer >= MANY_PAUSES ? CLEARLY_LONGER : FAR_LONGER)) continue;
    widest = ratio;
    gap = Math.round(Math.sqrt(sorted[i] * sorted[i + 1]));
  }
  return gap;
}

function isFaint({ from, to, aboveDb }: Stretch, short: number): boolean {
  return to - from < short && aboveDb < FAINT_DB;
}

/** Parts with anything in them, parted by digital silence of at least `least` hops. */
function betweenDigitalSilence(envelope: Envelope, least: number): Stretch[] {
  const parts: Stretch[] = [];
  for (let i = 0; i < envelope.frames; i++) {
    if (envelope.levelDb[i] <= SILENCE_DBFS) continue;
    const last = parts[parts.length - 1];
    if (last && i - last.to < least) last.to = i + 1;
    else parts.push({ from: i, to: i + 1, aboveDb: Number.POSITIVE_INFINITY });
  }
  return parts;
}

function stretchesAbove(envelope: Envelope, excess: Excess, options: SplitOptions): Stretch[] {
  const { quickDb, slowDb, hopsAStep, firstHop } = excess;
  const found: Stretch[] = [];
  let after = 0;
  for (let i = 0; i < quickDb.length; i++) {
    if (quickDb[i] < options.startAboveRoomDb) continue;
    const from = slowly(slowDb, quickly(quickDb, i, -1, after), -1, after);
    const to = slowly(slowDb, quickly(quickDb, i, 1, quickDb.length - 1), 1, quickDb.length - 1) + 1;
    const loudest = quickDb.subarray(from, to).reduce((a, b) => Math.max(a, b), 0);
    i = to;
    after = to;
    found.push({
      from: sharpStart(envelope, firstHop + from * hopsAStep, Math.round(SHARP_WITHIN_SECONDS / envelope.hopSeconds)),
      to: Math.min(envelope.frames, firstHop + to * hopsAStep),
      aboveDb: loudest,
    });
  }
  return found;
}

/** Walks from `start` while the quick level lasts, over short dips; the last step of it. */
function quickly(quickDb: Float32Array, start: number, direction: 1 | -1, limit: number): number {
  const dip = Math.round(DIP_SECONDS / STEP_SECONDS);
  let last = start;
  for (let i = start; direction * (limit - i) >= 0 && Math.abs(i - last) <= dip; i += direction) {
    if (quickDb[i] >= LASTS_ABOVE_DB) last = i;
  }
  return last;
}

/** Walks on while the slow level lasts; not at all where that goes no further than its own window reaches. */
function slowly(slowDb: Float32Array, start: number, direction: 1 | -1, limit: number): number {
  let last = start;
  while (direction * (limit - last) > 0 && slowDb[last + direction] >= LASTS_SLOWLY_ABOVE_DB) last += direction;
  return Math.abs(last - start) > SLOW_STEPS / 2 + 1 ? last : start;
}

/**
 * Levels over 60 ms show a sharp onset early, and a gust of the room's noise just before it may have been taken in: the start
 * moves on to where 5 ms come within 25 dB of what follows and 6 dB above what went before, if all until there is no
 * more than the room. A slow start stays.
 */
function sharpStart(envelope: Envelope, from: number, window: number): number {
  const level = (start: number, end: number): Decibels => {
    let power = 0;
    for (let i = Math.max(0, start); i < Math.min(end, envelope.frames); i++) power += powerOf(envelope.levelDb[i]);
    return decibels(power / (end - start));
  };
  let loudest = SILENCE_DBFS;
  for (let i = from; i < from + window; i += 5) loudest = Math.max(loudest, level(i, i + 5));
  const before = level(from - 150, from);
  const wanted = Math.max(loudest - 25, before + 6);
  let start = from;
  while (start < from + window && level(start, start + 5) < wanted) start++;
  const sharp = start < from + window && (start - from < 60 || level(from, start) < before + 3);
  if (sharp) return start;
  // The quick level at `from` is that of 60 ms about it: what begins there may begin half of that later.
  let first = from;
  while (first < from + AHEAD_SECONDS / envelope.hopSeconds && level(first, first + 10) < before + LASTS_ABOVE_DB)
    first++;
  return first;
}

function joined(stretches: readonly Stretch[], leastGap: number): Stretch[] {
  const takes: Stretch[] = [];
  for (const stretch of stretches) {
    const last = takes[takes.length - 1];
    if (last && stretch.from - last.to < leastGap) {
      last.to = Math.max(last.to, stretch.to);
      last.aboveDb = Math.max(last.aboveDb, stretch.aboveDb);
    } else takes.push({ ...stretch });
  }
  return takes;
}

/**
 * A pulse slower than the gap rule allows: four sounds or more that are alike (level within 6 dB in every band, length within
 * a third) and begin at even intervals (within 6 %) of at most `longestBeat` hops are one take.
 */
function rhythmsJoined(envelope: Envelope, sounds: readonly Stretch[], longestBeat: number): Stretch[] {
  const bands = [envelope.lowPower, envelope.midPower, envelope.highPower].map((power) => new RunningMean(power));
  const profiles = sounds.map(({ from, to }) => bands.map((band) => decibels(band.mean(from, to))));
  const alike = (a: number, b: number): boolean =>
    profiles[a].every((level, band) => Math.abs(level - profiles[b][band]) < 6) &&
    Math.abs(Math.log((sounds[a].to - sounds[a].from) / (sounds[b].to - sounds[b].from))) < 0.3;
  const takes: Stretch[] = [];
  for (let i = 0; i < sounds.length; ) {
    let last = i;
    // All intervals so far, added up.
    let beats = 0;
    while (last + 1 < sounds.length && alike(i, last + 1)) {
      const beat = sounds[last + 1].from - sounds[last].from;
      const even = last === i || Math.abs(beat / (beats / (last - i)) - 1) < 0.06;
      if (beat > longestBeat || !even) break;
      beats += beat;
      last++;
    }
    if (last - i < 3) last = i;
    takes.push({ ...sounds[i], to: sounds[last].to });
    i = last + 1;
  }
  return takes;
}
