/**
 * Timecode: hours, minutes, seconds and frames at the frame rates film and television use.
 *
 * Source: SMPTE ST 12-1. At 30000/1001 frames a second the count runs slow against the clock by 0.1 %, so drop-frame
 * counting leaves out frame NUMBERS 00 and 01 (no pictures) at the start of every minute except each tenth one.
 */
import type { Seconds } from './sound.ts';

export const FRAME_RATE_NAMES = ['23.976', '24', '25', '29.97', '29.97df', '30'] as const;
export type FrameRateName = (typeof FRAME_RATE_NAMES)[number];

interface FrameRate {
  /** Frames a second as counted. */
  counted: number;
  /** True rate = counted * 1000 / divisor. */
  divisor: 1000 | 1001;
  dropFrame: boolean;
}

const FRAME_RATES: Readonly<Record<FrameRateName, FrameRate>> = {
  '23.976': { counted: 24, divisor: 1001, dropFrame: false },
  '24': { counted: 24, divisor: 1000, dropFrame: false },
  '25': { counted: 25, divisor: 1000, dropFrame: false },
  '29.97': { counted: 30, divisor: 1001, dropFrame: false },
  '29.97df': { counted: 30, divisor: 1001, dropFrame: true },
  '30': { counted: 30, divisor: 1000, dropFrame: false },
};

const DROPPED_PER_MINUTE = 2;

/** True frames a second: 30000/1001 for both kinds of 29.97. */
export function framesPerSecond(rate: FrameRateName): number {
  const { counted, divisor } = FRAME_RATES[rate];
  return (counted * 1000) / divisor;
}

/** The nearest whole frame to a time. */
export function secondsToFrames(seconds: Seconds, rate: FrameRateName): number {
  return Math.round(seconds * framesPerSecond(rate));
}

export function framesToSeconds(frames: number, rate: FrameRateName): Seconds {
  const { counted, divisor } = FRAME_RATES[rate];
  return (frames * divisor) / (counted * 1000);
}

/**
 * A frame count as `hh:mm:ss:ff`, or `hh:mm:ss;ff` in drop-frame counting. Times before zero carry a minus sign;
 * hours run on past 24.
 */
export function framesToTimecode(frames: number, rate: FrameRateName): string {
  const { counted, dropFrame } = FRAME_RATES[rate];
  const whole = Math.abs(Math.round(frames));
  const label = dropFrame ? whole + droppedNumbersBefore(whole, counted) : whole;
  const frame = label % counted;
  const seconds = Math.floor(label / counted);
  const fields = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  const sign = frames < 0 && whole > 0 ? '-' : '';
  return `${sign}${fields.map(twoDigits).join(':')}${dropFrame ? ';' : ':'}${twoDigits(frame)}`;
}

export function secondsToTimecode(seconds: Seconds, rate: FrameRateName): string {
  return framesToTimecode(secondsToFrames(seconds, rate), rate);
}

/** Frame count of a timecode; null where it is no timecode or names a frame that drop-frame counting leaves out. */
export function timecodeToFrames(timecode: string, rate: FrameRateName): number | null {
  const match = /^(-?)(\d{1,3}):(\d{2}):(\d{2})[:;.](\d{2})$/.exec(timecode.trim());
  if (!match) return null;
  const { counted, dropFrame } = FRAME_RATES[rate];
  const [hours = 0, minutes = 0, seconds = 0, frame = 0] = match.slice(2).map(Number);
  if (minutes > 59 || seconds > 59 || frame >= counted) return null;
  let frames = (hours * 3600 + minutes * 60 + seconds) * counted + frame;
  if (dropFrame) {
    if (minutes % 10 !== 0 && seconds === 0 && frame < DROPPED_PER_MINUTE) return null;
    const totalMinutes = hours * 60 + minutes;
    frames -= DROPPED_PER_MINUTE * (totalMinutes - Math.floor(totalMinutes / 10));
  }
  return match[1] && frames > 0 ? -frames : frames;
}

export function timecodeToSeconds(timecode: string, rate: FrameRateName): Seconds | null {
  const frames = timecodeToFrames(timecode, rate);
  return frames === null ? null : framesToSeconds(frames, rate);
}

/** How many frame numbers have been left out before the given frame. */
function droppedNumbersBefore(frames: number, counted: number): number {
  const inMinute = counted * 60 - DROPPED_PER_MINUTE;
  const inTenMinutes = counted * 600 - DROPPED_PER_MINUTE * 9;
  const tens = Math.floor(frames / inTenMinutes);
  const rest = frames % inTenMinutes;
  // The first minute of ten keeps all its numbers, so it is longer by the dropped pair.
  const minutes = rest < counted * 60 ? 0 : 1 + Math.floor((rest - counted * 60) / inMinute);
  return DROPPED_PER_MINUTE * (tens * 9 + minutes);
}

function twoDigits(value: number): string {
  return String(value).padStart(2, '0');
}
