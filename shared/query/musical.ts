/**
 * Placing one take: how far it misses a musical target, what varispeed makes it exact, and where to start the clip.
 */
import {
  beatSeconds,
  formatPosition,
  type Metre,
  nearestNote,
  type Position,
  positionAt,
  secondsAt,
  semitonesToRate,
  type Tempo,
  varispeedFor,
} from '../music.ts';
import type { Hertz, Seconds, Semitones } from '../sound.ts';
import { FRAME_RATE_NAMES, type FrameRateName, secondsToTimecode, timecodeToSeconds } from '../timecode.ts';
import { exactReach } from './fit.ts';

/** The times and pitch of one sound; null where it has no such thing. */
export interface TakeTimes {
  durationSeconds: Seconds;
  activeStartSeconds: Seconds | null;
  activeSeconds: Seconds | null;
  climaxSeconds: Seconds | null;
  pitchHz: Hertz | null;
}

export interface MusicalTarget {
  /** From where the take should begin to where its accent (or its end) should fall. */
  seconds: Seconds;
  part: 'accent' | 'length';
  tempo: Tempo | null;
  metre: Metre | null;
  /** Where in the score the take should begin; bar 1 beat 1 unless given. */
  from?: Position;
  /** Where bar 1 beat 1 stands against picture, as a timecode of `rate`. */
  barOne?: { timecode: string; rate: FrameRateName };
}

export interface ClipStart {
  /** After bar 1 beat 1; negative where the clip must begin before it. */
  seconds: Seconds;
  /** `bar:beat`; null without a tempo. */
  position: string | null;
  /** At each frame rate, to the nearest frame, counted from 00:00:00:00 at bar 1 or from where bar 1 stands. */
  timecodes: Record<FrameRateName, string>;
}

export interface MusicalFit {
  /** Positive: the accent comes late, or the take is too long. From where the sound begins to be heard. */
  missSeconds: Seconds;
  missMilliseconds: number;
  /** In beats as the tempo and metre count them; null without a tempo. */
  missBeats: number | null;
  /** True where the miss is too small to be noticed. */
  fits: boolean;
  /** The silent head: to cut before placing. No part of the sound, so that cutting it changes nothing. */
  trimSeconds: Seconds;
  /** How long it still sounds after what stands on the target, at its own speed; 0 where it has ended by then. */
  ringsOnSeconds: Seconds;
  /** null without a tempo. */
  ringsOnBeats: number | null;
  /** Where to start the clip, its head trimmed, at its own speed, so that the accent (or the end) lands exactly. */
  start: ClipStart;
  /** The varispeed that makes it exact when started at `from`; 0 where it is exact already, null where none can. */
  varispeedSemitones: Semitones | null;
  /** Length without its silent head, and pitch under that varispeed. */
  bentDurationSeconds: Seconds | null;
  bentPitchHz: Hertz | null;
  /** The nearest note to that pitch. */
  bentNote: string | null;
}

/** null where the take has no accent to place. */
export function fitMusically(take: TakeTimes, target: MusicalTarget): MusicalFit | null {
  const part = measuredPart(take, target);
  if (!part) return null;
  const { miss, landing } = part;
  const trim = Math.max(0, take.activeStartSeconds ?? 0);
  const unnoticed = exactReach(target.seconds).fits;
  const beats = (seconds: Seconds) => target.tempo && seconds / beatSeconds(target.tempo, target.metre);
  const ringsOn = Math.max(0, soundingEnd(take) - landing);
  const semitones = miss === 0 ? 0 : varispeedFor(target.seconds + miss, target.seconds);
  const rate = semitones === null ? null : semitonesToRate(semitones);
  const pitchHz = rate === null || take.pitchHz === null ? null : take.pitchHz * rate;
  return {
    missSeconds: miss,
    missMilliseconds: miss * 1000,
    missBeats: beats(miss),
    fits: Math.abs(miss) <= unnoticed,
    trimSeconds: trim,
    ringsOnSeconds: ringsOn,
    ringsOnBeats: beats(ringsOn),
    start: clipStart(landing - trim, target),
    varispeedSemitones: semitones,
    bentDurationSeconds: rate === null ? null : (take.durationSeconds - trim) / rate,
    bentPitchHz: pitchHz,
    bentNote: pitchHz === null ? null : (nearestNote(pitchHz)?.name ?? null),
  };
}

/** Where the sounding part ends; the whole where no part stands out. */
function soundingEnd({ activeStartSeconds, activeSeconds, durationSeconds }: TakeTimes): Seconds {
  return activeSeconds === null ? durationSeconds : (activeStartSeconds ?? 0) + activeSeconds;
}

interface MeasuredPart {
  miss: Seconds;
  /** Time in the untrimmed take that should stand on the target. */
  landing: Seconds;
}

function measuredPart(take: TakeTimes, target: MusicalTarget): MeasuredPart | null {
  const landing = target.part === 'accent' ? take.climaxSeconds : soundingEnd(take);
  return landing === null ? null : { miss: landing - (take.activeStartSeconds ?? 0) - target.seconds, landing };
}

/** `landing`: time in the trimmed take that should stand on the target. */
function clipStart(landing: Seconds, target: MusicalTarget): ClipStart {
  const { tempo, metre, from, barOne } = target;
  const begin = tempo && from ? secondsAt(from, tempo, metre) : 0;
  const seconds = begin + target.seconds - landing;
  const barOneSeconds = barOne ? (timecodeToSeconds(barOne.timecode, barOne.rate) ?? 0) : 0;
  const timecodes = Object.fromEntries(
    FRAME_RATE_NAMES.map((rate) => [rate, secondsToTimecode(barOneSeconds + seconds, rate)]),
  ) as Record<FrameRateName, string>;
  return { seconds, position: tempo && formatPosition(positionAt(seconds, tempo, metre)), timecodes };
}
