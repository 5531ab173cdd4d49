/** Levels at the edges of a sound, for what can only be wrong there: a tail cut off, a background heard by itself. */
import type { Decibels, Seconds } from '../sound.ts';
import type { Envelope } from './envelope.ts';
import type { Movement } from './movement.ts';
import { decibels, powerOf, RunningMean } from './running.ts';

export interface EdgeLevels {
  /** Loudest 20 ms, and the last 20 ms, dBFS. */
  loudestDbfs: Decibels;
  endDbfs: Decibels;
  /** How far the very end lies below those last 20 ms: much where it is faded, however shortly. */
  endFadesByDb: Decibels;
  /**
   * How long the end would go on as it falls, until 60 dB below the loudest: by its last 0.15 s or its last 0.05 s, whichever
   * falls faster. Infinity where it holds.
   */
  leftToFallSeconds: Seconds;
  /** How long the noise floor is heard alone and steady at one edge of the sound; 0 where it never is. */
  backgroundSeconds: Seconds;
}

const LEVEL_SECONDS: Seconds = 0.02;
/** One millisecond, or two where the sound ends early in one. */
const VERY_END_SECONDS: Seconds = 0.001;
/** The rate of falling is told from two stretches of such a length, with three halves of it between them. */
const RATE_SECONDS: readonly Seconds[] = [0.043, 0.014];
const FALL_DB: Decibels = 60;
/** Of what lies outside the sound, the part that is far from it, in so many pieces, is near the floor in each. */
const FAR_SHARE = 2 / 3;
const PIECES = 4;
/** A floor that is left again at the very edge, for digital silence or a lower one, was none. */
const OUTERMOST_SECONDS: Seconds = 0.05;
const LEAST_PIECE_SECONDS: Seconds = 0.025;
const STEADY_DB: Decibels = 3;

export function levelsAtEdges(envelope: Envelope, movement: Movement): EdgeLevels {
  const { levelDb, hopSeconds, hopFrames, frames, audioFrames } = envelope;
  const running = new RunningMean(Float64Array.from(levelDb).map(powerOf));
  const steps = (seconds: Seconds): number => Math.min(frames, Math.max(1, Math.round(seconds / hopSeconds)));
  const width = steps(LEVEL_SECONDS);
  let loudest = 0;
  for (let end = width; end <= frames; end++) loudest = Math.max(loudest, running.mean(end - width, end));
  const endsEarly = audioFrames - (frames - 1) * hopFrames < hopFrames / 2;
  const veryEnd = Math.min(frames, Math.max(1, Math.round(VERY_END_SECONDS / hopSeconds)) + (endsEarly ? 1 : 0));
  const loudestDbfs = decibels(loudest);
  const endDbfs = decibels(running.mean(frames - width, frames));
  const left = Math.max(0, FALL_DB - (loudestDbfs - endDbfs));
  const leftBy = (seconds: Seconds): Seconds => {
    const [part, apart] = [steps(seconds), steps(2.5 * seconds)];
    // Too short to have died away, or not.
    if (part + apart > frames) return 0;
    const before = running.mean(frames - apart - part, frames - apart);
    const fell = decibels(before) - decibels(running.mean(frames - part, frames));
    return fell > 0 ? (left / fell) * 2.5 * seconds : Infinity;
  };
  return {
    loudestDbfs,
    endDbfs,
    endFadesByDb: endDbfs - decibels(running.mean(frames - veryEnd, frames)),
    leftToFallSeconds: Math.min(...RATE_SECONDS.map(leftBy)),
    backgroundSeconds: backgroundSeconds(running, hopSeconds, movement),
  };
}

function backgroundSeconds(running: RunningMean, hopSeconds: Seconds, movement: Movement): Seconds {
  const { noiseFloorDbfs, activeStartSeconds, activeSeconds } = movement;
  if (noiseFloorDbfs === null || activeStartSeconds === null || activeSeconds === null) return 0;
  const head = Math.floor(activeStartSeconds / hopSeconds);
  const tail = running.length - Math.ceil((activeStartSeconds + activeSeconds) / hopSeconds);
  const isSteady = (length: number, fromEnd: boolean): boolean => {
    const piece = Math.floor((length * FAR_SHARE) / PIECES);
    if (piece * hopSeconds < LEAST_PIECE_SECONDS) return false;
    const isNearFloor = (near: number, far: number): boolean => {
      const [from, to] = fromEnd ? [running.length - far, running.length - near] : [near, far];
      return Math.abs(decibels(running.mean(from, to)) - noiseFloorDbfs) <= STEADY_DB;
    };
    const outermost = Math.round(OUTERMOST_SECONDS / hopSeconds);
    return (
      Array.from({ length: PIECES }, (_, k) => k).every((k) => isNearFloor(k * piece, (k + 1) * piece)) &&
      isNearFloor(0, outermost)
    );
  };
  return hopSeconds * Math.max(isSteady(head, false) ? head : 0, isSteady(tail, true) ? tail : 0);
}
