/**
 * A take in its place in the score: where the clip must begin so that its accent lands on the beat, what of its head is
 * cut, which bars it takes, and when everything beside it (clicks, a cue) is heard.
 *
 * Score time counts seconds from bar 1 beat 1 and is negative before it:
 *
 *   clip = target − accent / rate        heard at score time t: the recording's second (t − clip) · rate
 *
 * Bars are heard whole: from the one in which the take begins, and at least from the one before the target (a beat is not
 * felt without others before it), to the one in which it ends.
 */
import { barSeconds, beatSeconds, type Metre, type Position, secondsAt, type Tempo } from './music.ts';
import type { Seconds } from './sound.ts';

/** Times as recorded. */
export interface TakeToPlace {
  durationSeconds: Seconds;
  /** Where the sound begins: a head of room tone before it is cut. */
  soundingFromSeconds: Seconds;
  /** What is to stand on the target. */
  accentSeconds: Seconds;
}

export interface Score {
  tempo: Tempo;
  metre: Metre | null;
  /** Where the accent lands. */
  target: Position;
}

/** Bars before bar 1: where the take begins there; always one before the first bar else heard; none, its head is cut. */
export type CountIn = 'needed' | 'always' | 'none';

export interface Placing {
  rate: number;
  targetSeconds: Seconds;
  /** Where the first sample of the uncut recording would stand. */
  clipSeconds: Seconds;
  /** Cut from the head, as recorded; and what of that is not silence. */
  trimSeconds: Seconds;
  soundingTrimSeconds: Seconds;
  /** First and last moment at which the take is heard. */
  enterSeconds: Seconds;
  leaveSeconds: Seconds;
  /** The bars heard: whole ones, in score time. `firstBar` counts from 1, as bars do; 0 is the bar before it. */
  startSeconds: Seconds;
  endSeconds: Seconds;
  firstBar: number;
  bars: number;
}

/** A count-in longer than both is not waited for: the head is cut instead. Short bars count in by time, long ones by bars. */
export const MOST_COUNT_IN_BARS = 4;
export const MOST_COUNT_IN_SECONDS: Seconds = 12;
/** Left of the head, so that no onset is met by the edge of the cut. */
export const LEAD_IN_SECONDS: Seconds = 0.01;
/** Times this close are one: sums of bars are not exact. */
const SAME_SECONDS = 1e-6;

/** Tempo and rate must be above 0; an accent outside the recording is brought to its nearer end. */
export function placeTake(take: TakeToPlace, score: Score, rate: number, countIn: CountIn = 'needed'): Placing {
  const bar = barSeconds(score.tempo, score.metre);
  const duration = Math.max(0, take.durationSeconds);
  const accent = Math.max(0, Math.min(duration, take.accentSeconds));
  const sounding = Math.max(0, Math.min(accent, take.soundingFromSeconds));
  const target = secondsAt(score.target, score.tempo, score.metre);
  const clip = target - accent / rate;
  const leave = clip + duration / rate;
  const begun = Math.floor((clip + sounding / rate + SAME_SECONDS) / bar);
  const landing = Math.floor((target + SAME_SECONDS) / bar);
  const first = firstBarFrom(Math.min(begun, Math.max(0, landing - 1)), countIn, bar);
  const start = first * bar;
  const last = Math.max(first + 1, landing + 1, Math.ceil((leave - SAME_SECONDS) / bar));
  const enter = Math.max(clip + Math.max(0, sounding - LEAD_IN_SECONDS) / rate, start);
  const trim = (enter - clip) * rate;
  return {
    rate,
    targetSeconds: target,
    clipSeconds: clip,
    trimSeconds: trim,
    soundingTrimSeconds: Math.max(0, trim - sounding),
    enterSeconds: enter,
    leaveSeconds: leave,
    startSeconds: start,
    endSeconds: last * bar,
    firstBar: first + 1,
    bars: last - first,
  };
}

/** `wanted` and the answer count bars from 0. */
function firstBarFrom(wanted: number, countIn: CountIn, bar: Seconds): number {
  if (countIn === 'none') return Math.max(0, wanted);
  const most = Math.max(MOST_COUNT_IN_BARS, Math.floor(MOST_COUNT_IN_SECONDS / bar));
  const needed = Math.max(-most, wanted);
  return countIn === 'always' ? needed - 1 : needed;
}

/** The same bars for takes that are heard in turn: the first to begin and the last to end set them. */
export function heardTogether(placing: Placing, other: Placing | null): Placing {
  if (!other) return placing;
  const first = Math.min(placing.firstBar, other.firstBar);
  const startSeconds = Math.min(placing.startSeconds, other.startSeconds);
  const endSeconds = Math.max(placing.endSeconds, other.endSeconds);
  const end = Math.max(placing.firstBar + placing.bars, other.firstBar + other.bars);
  return { ...placing, startSeconds, endSeconds, firstBar: first, bars: end - first };
}

/** Place in the recording heard at a score time; null before the take is heard and after it. */
export function placeInTake(placing: Placing, scoreSeconds: Seconds): Seconds | null {
  const { clipSeconds, enterSeconds, leaveSeconds, rate } = placing;
  if (scoreSeconds < enterSeconds - SAME_SECONDS || scoreSeconds >= leaveSeconds) return null;
  return Math.max(0, (scoreSeconds - clipSeconds) * rate);
}

export interface Click {
  scoreSeconds: Seconds;
  downbeat: boolean;
}

/** Every beat as tempo and metre count it, from `from` (included) to `to` (not included); each bar begins anew. */
export function clicksBetween(score: Pick<Score, 'tempo' | 'metre'>, from: Seconds, to: Seconds): Click[] {
  const bar = barSeconds(score.tempo, score.metre);
  const beat = beatSeconds(score.tempo, score.metre);
  const clicks: Click[] = [];
  for (let count = Math.floor((from + SAME_SECONDS) / bar); count * bar < to - SAME_SECONDS; count++) {
    for (let step = 0; step === 0 || step * beat < bar - SAME_SECONDS; step++) {
      const scoreSeconds = count * bar + step * beat;
      if (scoreSeconds >= from - SAME_SECONDS && scoreSeconds < to - SAME_SECONDS)
        clicks.push({ scoreSeconds, downbeat: step === 0 });
    }
  }
  return clicks;
}

/** A recording of the music itself, at its own speed. */
export interface CueToPlace {
  durationSeconds: Seconds;
  /** Its time at bar 1 beat 1; negative where the recording begins later. */
  barOneSeconds: Seconds;
}

/** One passage through the bars: what begins when, in score time, and from where in its recording. */
export interface Passage {
  take: { scoreSeconds: Seconds; fromSeconds: Seconds } | null;
  cue: { scoreSeconds: Seconds; fromSeconds: Seconds; lengthSeconds: Seconds } | null;
  clicks: Click[];
}

/** The passage from `from` to the end of the bars. */
export function passageFrom(placing: Placing, score: Score, cue: CueToPlace | null, from: Seconds): Passage {
  const takeFrom = Math.max(from, placing.enterSeconds);
  const inTake = placeInTake(placing, takeFrom);
  return {
    take: inTake === null ? null : { scoreSeconds: takeFrom, fromSeconds: inTake },
    cue: cue && cuePassage(placing, cue, from),
    clicks: clicksBetween(score, from, placing.endSeconds),
  };
}

function cuePassage(placing: Placing, cue: CueToPlace, from: Seconds): Passage['cue'] {
  const begin = Math.max(from, -cue.barOneSeconds);
  const end = Math.min(placing.endSeconds, cue.durationSeconds - cue.barOneSeconds);
  if (end - begin < SAME_SECONDS) return null;
  return { scoreSeconds: begin, fromSeconds: begin + cue.barOneSeconds, lengthSeconds: end - begin };
}

/** How score time runs against the clock of what plays: passages through the bars, one after the other where looped. */
export interface ScoreClock {
  /** Clock time at which the first passage stands, or would have stood, at `startSeconds`. */
  originSeconds: Seconds;
  startSeconds: Seconds;
  endSeconds: Seconds;
  loop: boolean;
}

/** The clock that stands at `scoreSeconds` when its own time is `clockSeconds`. */
export function clockFrom(
  { startSeconds, endSeconds }: Pick<Placing, 'startSeconds' | 'endSeconds'>,
  loop: boolean,
  clockSeconds: Seconds,
  scoreSeconds: Seconds,
): ScoreClock {
  return { originSeconds: clockSeconds - (scoreSeconds - startSeconds), startSeconds, endSeconds, loop };
}

/** Clock time of a score time in a passage (0 is the first). Multiplied, not summed: the hundredth is as exact. */
export function clockAt(clock: ScoreClock, scoreSeconds: Seconds, passage: number): Seconds {
  const { originSeconds, startSeconds, endSeconds } = clock;
  return originSeconds + passage * (endSeconds - startSeconds) + (scoreSeconds - startSeconds);
}

/** Score time at a clock time; null once the last passage is over. Before the first it stands at its beginning. */
export function scoreAt(clock: ScoreClock, clockSeconds: Seconds): Seconds | null {
  const { originSeconds, startSeconds, endSeconds, loop } = clock;
  const length = endSeconds - startSeconds;
  const since = Math.max(0, clockSeconds - originSeconds);
  if (since >= length && !loop) return null;
  return startSeconds + (since % length);
}
