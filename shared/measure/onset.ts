/** The fine shape of one onset: exactly when it begins, how quickly it rises, and whether it then settles. */
import type { Seconds } from '../sound.ts';
import { type RunningMean, runningMaximum } from './running.ts';

const STEPS_BEFORE_FILE = 8;

/**
 * The step between `from` and `to` that best divides the powers into a weaker stretch before and a stronger one after: the
 * maximum likelihood change of variance of Gaussian noise, min over k of k ln(mean before) + (n - k) ln(mean after).
 * A few steps before the file count as `leastPower`; where nothing divides, `otherwise`.
 */
export function changePoint(
  band: RunningMean,
  from: number,
  otherwise: number,
  to: number,
  leastPower: number,
): number {
  const start = Math.max(from, -STEPS_BEFORE_FILE);
  const first = Math.max(0, start);
  const end = Math.min(band.length, to);
  let best = otherwise;
  let bestCost = Number.POSITIVE_INFINITY;
  for (let k = first; k < end; k++) {
    const inside = band.mean(first, k) * (k - first) + leastPower * (first - start);
    const quiet = inside / Math.max(1, k - start) + leastPower + Number.MIN_VALUE;
    const loud = band.mean(k, end) + leastPower + Number.MIN_VALUE;
    if (loud <= quiet) continue;
    const cost = (k - start) * Math.log(quiet) + (end - k) * Math.log(loud);
    if (cost < bestCost) {
      bestCost = cost;
      best = k;
    }
  }
  return best;
}

/**
 * Steps that the amplitude takes from a quarter to three quarters of its rise about `step`, from its lowest within 50 ms
 * before to its usual level within 50 ms after (1.15 RMS, at most its highest: the peaks of grain do not count). Peaks
 * are held for 6 steps to both sides, so that the beat of a low tone's half-waves is not taken for movement.
 */
export function riseSteps(band: RunningMean, step: number, steps: (seconds: Seconds) => number): number {
  const within = steps(0.05);
  const means = Float64Array.from({ length: 2 * within + 1 }, (_, k) =>
    band.mean(step - within + k - 2, step - within + k + 2),
  );
  const amplitude = runningMaximum(means, 6, 6).map(Math.sqrt);
  let lowest = within;
  for (let k = within; k >= 0; k--) if (amplitude[k] < amplitude[lowest]) lowest = k;
  let highest = within;
  for (let k = within; k < amplitude.length; k++) if (amplitude[k] > amplitude[highest]) highest = k;
  const high = Math.min(amplitude[highest], Math.sqrt(band.mean(step, step + within)) * 1.15);
  const rise = high - amplitude[lowest];
  let start = lowest;
  while (start < highest && amplitude[start + 1] < amplitude[lowest] + rise / 4) start++;
  let end = start;
  while (end < highest && amplitude[end] < high - rise / 4) end++;
  return end - start;
}

/** False where the level goes on rising for 80 ms after the onset (by 6 dB): that is growth, not a strike. */
export function settles(band: RunningMean, step: number, steps: (seconds: Seconds) => number): boolean {
  const early = band.mean(step + steps(0.008), step + steps(0.023));
  return band.mean(step + steps(0.05), step + steps(0.08)) < early * 4;
}
