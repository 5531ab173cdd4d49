/**
 * Where a sound strikes. An accent is a sudden rise in level, in the whole sound or in one of its bands where the rest
 * does not mask it. Three things make it one, all stated below: it rises far enough over what went just before, it
 * does so at once (a swelling or trembling sound rises as far, but slowly), and it rises further than the sound
 * around it falls by chance (beating partials and grainy noise rise and fall alike).
 */
import type { Accent, Decibels, Seconds } from '../sound.ts';
import type { Envelope } from './envelope.ts';
import { decibels, powerOf, RunningMean, runningMaximum } from './running.ts';

/** The least rise of an accent. */
export const LEAST_RISE_DB: Decibels = 5;
/** A rise in one band alone must be larger by this. */
const BAND_HANDICAP_DB: Decibels = 1.5;
/** A rise this large needs no comparison with the falls around it. */
const CERTAIN_RISE_DB: Decibels = 11;
/** Smaller rises must also lead above all that went before within PAST_SECONDS: coming back from a dip is no strike. */
const LEAST_STEP_UP_DB: Decibels = 2;
const PAST_SECONDS: Seconds = 0.3;
const FALLS_WITHIN_SECONDS: Seconds = 0.6;
/** Nothing this far below the loudest 20 ms is an accent of the sound. */
export const ACCENT_RANGE_DB: Decibels = 45;

const BEFORE_SECONDS: Seconds = 0.05;
const AFTER_SECONDS: Seconds = 0.015;
/** A strike reaches its loudest within this time of its onset. */
const PEAK_WITHIN_SECONDS: Seconds = 0.04;
/** From a quarter to three quarters of its rise in amplitude an accent takes less than this. */
const LONGEST_RISE_SECONDS: Seconds = 0.02;
/** A rise this fast hardly ever happens by chance. */
const AT_ONCE_SECONDS: Seconds = 0.006;
/** Two rises closer than this are one accent: the ear hears a single, broader attack. */
const LEAST_GAP_SECONDS: Seconds = 0.03;
/** How far below the whole sound a band still counts: its share of the other bands' power masks it. */
const MASKING_SHARE = 0.02;

export interface Strike extends Accent {
  step: number;
  /** Rise of the whole sound at it; less than the strength where it strikes in one band only. */
  liftDb: Decibels;
  /** Mean square of its loudest 20 ms, within 100 ms of the onset and before the next strike. */
  peakPower: number;
  band: number;
}

interface Windows {
  before: number;
  after: number;
  within: number;
}

/** All accents in order of time. `leastPower` (noise floor, or far below the peak) is added to what went before. */
export function findStrikes(envelope: Envelope, whole: RunningMean, leastPower: number): Strike[] {
  const steps = (seconds: Seconds): number => Math.max(1, Math.round(seconds / envelope.hopSeconds));
  const windows = { before: steps(BEFORE_SECONDS), after: steps(AFTER_SECONDS), within: steps(PEAK_WITHIN_SECONDS) };
  const bands = [whole, ...[envelope.lowPower, envelope.midPower, envelope.highPower].map((b) => new RunningMean(b))];
  const rises = bands.map((band) => changes(band, whole, leastPower, windows, 1));
  const falls = bands.map((band) => changes(band, whole, leastPower, windows, -1));
  const near = steps(FALLS_WITHIN_SECONDS);
  const fallsNear = falls.map((fall) => runningMaximum(fall, near, 0));
  const gap = steps(LEAST_GAP_SECONDS);
  const strikes: Strike[] = [];
  const candidates = rises.flatMap((rise, b) => peaksOf(rise, gap).map((at) => ({ at, band: b, rise: rise[at] })));
  candidates.sort((a, b) => b.rise - a.rise);
  const taken: number[] = [];
  for (const { at, band, rise } of candidates) {
    const chance = Math.min(CERTAIN_RISE_DB, fallsNear[band][at]);
    if (rise < Math.max(LEAST_RISE_DB + (band > 0 ? BAND_HANDICAP_DB : 0), chance * 0.8)) continue;
    const step = changePoint(bands[band], at, steps(0.03), loudestAfter(bands[band], at, windows) + windows.after);
    if (taken.some((other) => Math.abs(other - step) < gap)) continue;
    const riseSeconds = riseSteps(bands[band], step, steps(0.05)) * envelope.hopSeconds;
    if (riseSeconds > LONGEST_RISE_SECONDS) continue;
    if (riseSeconds > AT_ONCE_SECONDS && rise < chance * 1.1) continue;
    if (rise < CERTAIN_RISE_DB && stepUp(bands[band], step, steps) < LEAST_STEP_UP_DB) continue;
    taken.push(step);
    strikes.push({
      step,
      seconds: step * envelope.hopSeconds,
      strengthDb: rise,
      liftDb: rises[0][step],
      peakPower: 0,
      band,
    });
  }
  strikes.sort((a, b) => a.step - b.step);
  const kept = strikes.filter((strike, i) =>
    settles(bands[strike.band], strike.step, (strikes[i + 1]?.step ?? Infinity) - strike.step),
  );
  strikes.length = 0;
  strikes.push(...kept);
  strikes.forEach((strike, i) => {
    const until = Math.min(strike.step + steps(0.1), strikes[i + 1]?.step ?? whole.length);
    strike.peakPower = loudest(whole, strike.step, Math.min(steps(0.02), until - strike.step), until);
  });
  return strikes;
}

/**
 * Change of level in dB at every step: the loudest `after` steps soon after it over the mean of the `before` steps in
 * front of it; with direction -1 the same backwards in time, which tells how far the sound falls.
 */
function changes(
  band: RunningMean,
  whole: RunningMean,
  leastPower: number,
  { before, after, within }: Windows,
  direction: 1 | -1,
): Float64Array {
  const length = band.length;
  const ahead = new Float64Array(length);
  const meanAfter = (i: number, width: number): number =>
    direction === 1 ? band.mean(i, i + width) : band.mean(i - width, i);
  for (let i = 0; i < length; i++) ahead[i] = meanAfter(i, after);
  const reach = within - after;
  const soon = direction === 1 ? runningMaximum(ahead, 0, reach) : runningMaximum(ahead, reach, 0);
  return ahead.map((_, i) => {
    const earlier = direction === 1 ? band.mean(i - before, i) : band.mean(i, i + before);
    const around = direction === 1 ? whole.mean(i - before, i) : whole.mean(i, i + before);
    const mask = leastPower + (band === whole ? 0 : MASKING_SHARE * around);
    return decibels((soon[i] + mask) / (earlier + mask + 1e-12));
  });
}

/** Where the loudest `after` steps begin that make the rise at `at`. */
function loudestAfter(band: RunningMean, at: number, { after, within }: Windows): number {
  let loudest = at;
  for (let i = at; i <= at + within - after; i++)
    if (band.mean(i, i + after) > band.mean(loudest, loudest + after)) loudest = i;
  return loudest;
}

/** Steps at which `values` is largest within `gap` steps to both sides (the last of equals). */
function peaksOf(values: Float64Array, gap: number): number[] {
  const highest = runningMaximum(values, gap, gap);
  const peaks: number[] = [];
  for (let i = 0; i < values.length; i++) {
    if (values[i] < LEAST_RISE_DB || values[i] < highest[i]) continue;
    if (peaks.length > 0 && i - peaks[peaks.length - 1] < gap) peaks[peaks.length - 1] = i;
    else peaks.push(i);
  }
  return peaks;
}

/**
 * The step near `around` that best divides the powers into a weaker stretch before and a stronger one after: the maximum
 * likelihood change of variance of Gaussian noise, min over k of k ln(mean before) + (n - k) ln(mean after).
 */
function changePoint(band: RunningMean, around: number, before: number, end: number): number {
  const from = Math.max(0, around - before);
  const to = Math.min(band.length, end);
  const least = powerOf(-120);
  let best = around;
  let bestCost = Number.POSITIVE_INFINITY;
  for (let k = from; k < to; k++) {
    const quiet = Math.max(least, k === from ? band.mean(from - 10, from) : band.mean(from, k));
    const loud = Math.max(least, band.mean(k, to));
    if (loud <= quiet) continue;
    const cost = (k - from) * Math.log(quiet) + (to - k) * Math.log(loud);
    if (cost < bestCost) {
      bestCost = cost;
      best = k;
    }
  }
  return best;
}

/**
 * Steps that the amplitude takes from a quarter to three quarters of its rise about `step`. Peaks are held for 6 steps to
 * both sides, so that the beat of a low tone's half-waves is not taken for movement.
 */
function riseSteps(band: RunningMean, step: number, within: number): number {
  const means = Float64Array.from({ length: 2 * within + 1 }, (_, k) =>
    band.mean(step - within + k - 2, step - within + k + 2),
  );
  const amplitude = runningMaximum(means, 6, 6).map(Math.sqrt);
  let lowest = within;
  for (let k = within; k >= 0; k--) if (amplitude[k] < amplitude[lowest]) lowest = k;
  let highest = within;
  for (let k = within; k < amplitude.length; k++) if (amplitude[k] > amplitude[highest]) highest = k;
  const rise = amplitude[highest] - amplitude[lowest];
  let start = lowest;
  while (start < highest && amplitude[start + 1] < amplitude[lowest] + rise / 4) start++;
  let end = start;
  while (end < highest && amplitude[end] < amplitude[highest] - rise / 4) end++;
  return end - start;
}

/** Loudest 15 ms within 40 ms after the onset over the loudest 50 ms of the past before it, in dB. */
function stepUp(band: RunningMean, step: number, steps: (seconds: Seconds) => number): Decibels {
  let past = 0;
  for (let i = step - steps(PAST_SECONDS); i <= step - steps(0.05); i += 5)
    past = Math.max(past, band.mean(i, i + steps(0.05)));
  let after = 0;
  for (let i = step; i < step + steps(0.025); i++) after = Math.max(after, band.mean(i, i + steps(0.015)));
  return decibels(after) - decibels(past);
}

/** False where the level goes on rising for 70 ms after the onset: that is growth, not a strike. */
function settles(band: RunningMean, step: number, untilNext: number): boolean {
  if (untilNext < 100) return true;
  return band.mean(step + 50, step + 80) < band.mean(step + 8, step + 23) * 4;
}

function loudest(whole: RunningMean, from: number, width: number, until: number): number {
  let peak = 0;
  for (let i = from; i + width <= until && i < whole.length; i++) peak = Math.max(peak, whole.mean(i, i + width));
  return peak;
}
