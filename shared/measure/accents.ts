/**
 * Where a sound strikes. An accent is a sudden rise in level, in the whole sound or in one of its bands where the rest
 * does not mask it: the level just after over the level just before, whatever slow rise it rides on.
 */
import type { Accent, Decibels, Seconds } from '../sound.ts';
import type { Envelope } from './envelope.ts';
import { decibels, powerOf, RunningMean, runningMaximum } from './running.ts';

/** A rise smaller than this is no accent. */
export const LEAST_RISE_DB: Decibels = 5;
const BEFORE_SECONDS: Seconds = 0.05;
const AFTER_SECONDS: Seconds = 0.012;
/** The strike's loudest moment comes within this time of its onset. */
const PEAK_WITHIN_SECONDS: Seconds = 0.04;
/** Two rises closer than this are one accent: the ear hears a single, broader attack. */
const LEAST_GAP_SECONDS: Seconds = 0.05;
/** How far below the whole sound a band still counts: its share of the other bands' power masks it. */
const MASKING_SHARE = 0.02;

export interface Strike extends Accent {
  step: number;
  /** Loudest 20 ms within 100 ms of the onset, mean square. */
  peakPower: number;
}

/** All accents of the sound in order of time. `floorPower` is what no rise is counted from below. */
export function findStrikes(envelope: Envelope, whole: RunningMean, floorPower: number): Strike[] {
  const hop = envelope.hopSeconds;
  const steps = (seconds: Seconds): number => Math.max(1, Math.round(seconds / hop));
  const bands = [whole, ...[envelope.lowPower, envelope.midPower, envelope.highPower].map((b) => new RunningMean(b))];
  const rises = bands.map((band, index) =>
    riseOf(
      band,
      index === 0 ? null : whole,
      floorPower,
      steps(BEFORE_SECONDS),
      steps(AFTER_SECONDS),
      steps(PEAK_WITHIN_SECONDS),
    ),
  );
  const rise = rises[0].map((value, i) => Math.max(value, rises[1][i], rises[2][i], rises[3][i]));
  const gap = steps(LEAST_GAP_SECONDS);
  const highest = runningMaximum(rise, gap, gap);
  const strikes: Strike[] = [];
  for (let i = 0; i < rise.length; i++) {
    if (rise[i] < LEAST_RISE_DB || rise[i] < highest[i]) continue;
    const band = bands[rises.findIndex((values) => values[i] === rise[i])];
    const step = changePoint(band, i, steps(0.03), steps(PEAK_WITHIN_SECONDS));
    if (strikes.length > 0 && step - strikes[strikes.length - 1].step < gap / 2) continue;
    strikes.push({
      step,
      seconds: step * hop,
      strengthDb: rise[i],
      peakPower: loudest(whole, step, steps(0.02), steps(0.1)),
    });
  }
  return strikes;
}

/** Rise in dB at every step: loudest `after` steps soon after it over the mean of the `before` steps. */
function riseOf(
  band: RunningMean,
  whole: RunningMean | null,
  floorPower: number,
  before: number,
  after: number,
  within: number,
): Float64Array {
  const ahead = new Float64Array(band.length);
  for (let i = 0; i < ahead.length; i++)
    ahead[i] = band.mean(i, i + after) * (Math.min(after, band.length - i) / after);
  const soon = runningMaximum(ahead, 0, within - after);
  return ahead.map((_, i) => {
    const mask = floorPower + (whole === null ? 0 : MASKING_SHARE * whole.mean(i - before, i));
    const earlier = i === 0 ? 0 : band.mean(i - before, i);
    return decibels((soon[i] + mask) / (earlier + mask + 1e-12));
  });
}

/**
 * The step near `around` that best divides the powers into a weaker stretch before and a stronger one after: the maximum
 * likelihood change of variance of Gaussian noise, min over k of k ln(mean before) + (n - k) ln(mean after).
 */
function changePoint(band: RunningMean, around: number, before: number, after: number): number {
  const from = Math.max(0, around - before);
  let to = Math.min(band.length, around + after);
  let peak = 0;
  for (let i = around; i < to; i++) {
    if (band.mean(i, i + 3) > peak) peak = band.mean(i, i + 3);
    else if (band.mean(i, i + 5) < peak * 0.25) to = i;
  }
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

function loudest(whole: RunningMean, from: number, width: number, within: number): number {
  let peak = 0;
  for (let i = from; i < from + within && i < whole.length; i++) peak = Math.max(peak, whole.mean(i, i + width));
  return peak;
}
