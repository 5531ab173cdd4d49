/**
 * Where a sound strikes. An accent is a sudden rise in level, in the whole sound or in one of its bands where the rest
 * does not mask it. It rises far enough over what went just before; it does so at once (a swelling or trembling sound
 * rises as far, but slowly); it rises further than the sound before it fell by chance (beating partials and grainy
 * noise rise and fall alike); and it leads above what went before, or comes very suddenly.
 */
import type { Accent, Decibels, Seconds } from '../sound.ts';
import type { Envelope } from './envelope.ts';
import { changePoint, riseSteps, settles } from './onset.ts';
import { decibels, decibelsAbove, RunningMean, runningMaximum } from './running.ts';

/** Nothing this far below the loudest 20 ms is an accent of the sound. */
export const ACCENT_RANGE_DB: Decibels = 45;

/** The least rise of an accent; a rise in one band alone must be larger. */
const LEAST_RISE_DB: Decibels = 4;
/** A rise smaller than this must be at once and lead above the past by more than others. */
const MODEST_RISE_DB: Decibels = 6;
const MODEST_STEP_UP_DB: Decibels = 3;
const BAND_HANDICAP_DB: Decibels = 1.5;
/** A rise this large, or one this large at once, is believed without comparison. */
const CERTAIN_RISE_DB: Decibels = 11;
const CERTAIN_AT_ONCE_DB: Decibels = 7;
/** Other rises must lead above all that went before within PAST_SECONDS: coming back from a dip is no strike. */
const LEAST_STEP_UP_DB: Decibels = 2;
const PAST_SECONDS: Seconds = 0.3;
/** Falls by chance are looked for this far back. */
const FALLS_WITHIN_SECONDS: Seconds = 0.6;

/** The rise is that of the loudest 15 ms that begin within 25 ms, over the 50 ms before. */
const BEFORE_SECONDS: Seconds = 0.05;
const AFTER_SECONDS: Seconds = 0.015;
const PEAK_WITHIN_SECONDS: Seconds = 0.04;
/** Longest rise of an accent, see `riseSteps`; under AT_ONCE_SECONDS a rise hardly ever happens by chance. */
const LONGEST_RISE_SECONDS: Seconds = 0.013;
const AT_ONCE_SECONDS: Seconds = 0.006;
/** What a sound reaches later is not the strike's own: the sound swells. */
export const OWN_SECONDS: Seconds = 0.035;
/** Two rises closer than this are one accent: the ear hears a single, broader attack. */
const LEAST_GAP_SECONDS: Seconds = 0.03;
/**
 * How much of the other bands' power (low, middle, high) masks a band: least where a low band stands under a high one. Our own
 * round numbers; the low band takes most, because half-waves and rumble make its level fluctuate by themselves.
 */
const MASKING_SHARES = [
  [0, 0.03, 0.02],
  [0.01, 0, 0.02],
  [0.001, 0.02, 0],
] as const;

export interface Strike extends Accent {
  step: number;
  /** Rise of the whole sound at it; less than the strength where it strikes in one band only. */
  liftDb: Decibels;
  /** Mean square of its loudest 20 ms, within 100 ms of the onset and before the next strike. */
  peakPower: number;
  /** One of the three bands is nowhere louder than at its onset. */
  topsBand: boolean;
}

interface Windows {
  before: number;
  after: number;
  within: number;
}

/** Power that masks a band, mean over [from, to). */
type Mask = (from: number, to: number) => number;

interface Found {
  step: number;
  band: RunningMean;
  rise: Decibels;
}

/** All accents in order of time. `leastPower` (noise floor, or far below the peak) is added to what went before. */
export function findStrikes(envelope: Envelope, whole: RunningMean, leastPower: number): Strike[] {
  const steps = (seconds: Seconds): number => Math.max(1, Math.round(seconds / envelope.hopSeconds));
  const windows = { before: steps(BEFORE_SECONDS), after: steps(AFTER_SECONDS), within: steps(PEAK_WITHIN_SECONDS) };
  const bands = [envelope.lowPower, envelope.midPower, envelope.highPower].map((power) => new RunningMean(power));
  const unmasked = (): number => 0;
  const lift = changes(whole, unmasked, leastPower, windows, 1);
  const found = strikesIn(whole, unmasked, lift, LEAST_RISE_DB, leastPower, windows, steps);
  bands.forEach((band, own) => {
    const shares = MASKING_SHARES[own];
    const [first, second] = [0, 1, 2].filter((other) => other !== own);
    const mask = (from: number, to: number): number =>
      shares[first] * bands[first].mean(from, to) + shares[second] * bands[second].mean(from, to);
    const rises = changes(band, mask, leastPower, windows, 1);
    found.push(...strikesIn(band, mask, rises, LEAST_RISE_DB + BAND_HANDICAP_DB, leastPower, windows, steps));
  });
  const loudest = bands.map((band) => loudestWithin(band, 0, steps(0.02), band.length));
  const topsBand = (step: number): boolean =>
    bands.some((band, i) => loudestWithin(band, step, steps(0.02), step + steps(OWN_SECONDS)) > 0.8 * loudest[i]);
  const apart = strongestApart(found, steps(LEAST_GAP_SECONDS));
  return apart
    .filter(
      ({ band, step }, i) => (apart[i + 1]?.step ?? whole.length) - step < steps(0.1) || settles(band, step, steps),
    )
    .map(({ step, rise }, i, kept) => {
      const until = Math.min(step + steps(0.1), kept[i + 1]?.step ?? whole.length);
      return {
        step,
        seconds: step * envelope.hopSeconds,
        strengthDb: rise,
        liftDb: lift[step],
        peakPower: loudestWithin(whole, step, Math.min(steps(0.02), until - step), until),
        topsBand: topsBand(step),
      };
    });
}

/** The strikes that one band (or the whole) shows. */
function strikesIn(
  band: RunningMean,
  mask: Mask,
  rises: Float64Array,
  leastRise: Decibels,
  leastPower: number,
  windows: Windows,
  steps: (seconds: Seconds) => number,
): Found[] {
  const falls = runningMaximum(changes(band, mask, leastPower, windows, -1), steps(FALLS_WITHIN_SECONDS), 0);
  return peaksOf(rises, steps(LEAST_GAP_SECONDS), leastRise).flatMap((at) => {
    const step = strikeAt(band, at, rises[at], falls[at], leastPower, windows, steps);
    return step === null ? [] : [{ step, band, rise: rises[at] }];
  });
}

/** The onset of the strike that makes the rise at `at`, or null where the rise is no strike. */
function strikeAt(
  band: RunningMean,
  at: number,
  rise: Decibels,
  fallBefore: Decibels,
  leastPower: number,
  windows: Windows,
  steps: (seconds: Seconds) => number,
): number | null {
  const chance = Math.min(CERTAIN_RISE_DB, fallBefore);
  if (rise < chance * 0.8) return null;
  const step = changePoint(band, at - steps(0.03), at, loudestAfter(band, at, windows) + windows.after, leastPower);
  const slowness = riseSteps(band, step, steps);
  if (slowness > steps(LONGEST_RISE_SECONDS)) return null;
  const atOnce = slowness <= steps(AT_ONCE_SECONDS);
  if (!atOnce && rise < chance * 1.1) return null;
  if (
    rise < MODEST_RISE_DB &&
    (!atOnce || rise < chance * 1.3 || stepUp(band, step, windows, steps) < MODEST_STEP_UP_DB)
  )
    return null;
  const certain = rise >= CERTAIN_RISE_DB || (atOnce && rise >= CERTAIN_AT_ONCE_DB);
  return certain || stepUp(band, step, windows, steps) >= LEAST_STEP_UP_DB ? step : null;
}

/** The strongest of those found, none closer than `gap` to a stronger, in order of time. */
function strongestApart(found: Found[], gap: number): Found[] {
  // A stretch of `gap` steps holds one at most, so only three stretches need be looked at, however many there are.
  const kept = new Map<number, Found>();
  for (const one of found.sort((a, b) => b.rise - a.rise)) {
    const stretch = Math.floor(one.step / gap);
    const near = [kept.get(stretch - 1), kept.get(stretch), kept.get(stretch + 1)];
    if (near.every((other) => !other || Math.abs(other.step - one.step) >= gap)) kept.set(stretch, one);
  }
  return [...kept.values()].sort((a, b) => a.step - b.step);
}

/**
 * Change of level in dB at every step: the loudest `after` steps soon after it over the mean of the `before` steps in
 * front of it; with direction -1 the same backwards in time, which tells how far the sound falls.
 */
function changes(
  band: RunningMean,
  mask: Mask,
  leastPower: number,
  { before, after, within }: Windows,
  direction: 1 | -1,
): Float64Array {
  const length = band.length;
  const ahead = new Float64Array(length);
  for (let i = 0; i < length; i++) ahead[i] = direction === 1 ? band.mean(i, i + after) : band.mean(i - after, i);
  const reach = within - after;
  const soon = direction === 1 ? runningMaximum(ahead, 0, reach) : runningMaximum(ahead, reach, 0);
  for (let i = 0; i < length; i++) {
    const from = direction === 1 ? i - before : i;
    const masked = mask(from, from + before);
    const earlier = Math.max(band.mean(from, from + before), leastPower) + masked;
    ahead[i] = decibelsAbove(Math.max(soon[i], leastPower) + masked, earlier);
  }
  return ahead;
}

/** Steps at which `values` is at least `least` and largest within `gap` steps to both sides (the last of equals). */
function peaksOf(values: Float64Array, gap: number, least: number): number[] {
  const highest = runningMaximum(values, gap, gap);
  const peaks: number[] = [];
  for (let i = 0; i < values.length; i++) {
    if (values[i] < least || values[i] < highest[i]) continue;
    if (peaks.length > 0 && i - peaks[peaks.length - 1] < gap) peaks[peaks.length - 1] = i;
    else peaks.push(i);
  }
  return peaks;
}

/** Where the loudest `after` steps begin that make the rise at `at`. */
function loudestAfter(band: RunningMean, at: number, { after, within }: Windows): number {
  let loudest = at;
  for (let i = at; i <= at + within - after; i++) {
    if (band.mean(i, i + after) > band.mean(loudest, loudest + after)) loudest = i;
  }
  return loudest;
}

/** Loudest 15 ms within 40 ms after the onset over the loudest 50 ms of the past before it, in dB. */
function stepUp(
  band: RunningMean,
  step: number,
  { before, after, within }: Windows,
  steps: (seconds: Seconds) => number,
): Decibels {
  const past = loudestWithin(band, step - steps(PAST_SECONDS), before, step);
  return decibels(loudestWithin(band, step, after, step + within)) - decibels(past);
}

/** Largest mean of `width` steps inside [from, until). */
function loudestWithin(band: RunningMean, from: number, width: number, until: number): number {
  let loudest = 0;
  for (let i = from; i + width <= until && i < band.length; i++) loudest = Math.max(loudest, band.mean(i, i + width));
  return loudest;
}
