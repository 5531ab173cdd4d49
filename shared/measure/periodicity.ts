/** What repeats in a sound: the rate of its strikes, and the slow trembling of a sustained tone. */
import type { Hertz, Seconds } from '../sound.ts';
import type { Strike } from './accents.ts';

export interface Pulse {
  periodSeconds: Seconds;
  /** Share 0..1 of the strikes that fall on the grid of the period. */
  regularity: number;
}

/** The period that the intervals between strikes keep to; null with fewer than four strikes. */
export function pulseOf(strikes: readonly Strike[]): Pulse | null {
  if (strikes.length < 4) return null;
  const intervals = strikes.slice(1).map((strike, i) => strike.seconds - strikes[i].seconds);
  let best: Pulse | null = null;
  for (const candidate of intervals) {
    const near = intervals.filter((interval) => Math.abs(interval / candidate - 1) < 0.08);
    const regularity = near.length / intervals.length;
    const periodSeconds = near.reduce((sum, interval) => sum + interval, 0) / near.length;
    if (best === null || regularity > best.regularity) best = { periodSeconds, regularity };
  }
  return best;
}

/**
 * Rate of amplitude modulation between 0.5 and 20 Hz: the strongest line in the spectrum of the amplitude about its slow
 * course; null where none stands out or the modulation is shallower than one decibel.
 */
export function tremoloOf(amplitude: Float64Array, stepSeconds: Seconds): Hertz | null {
  const seconds = amplitude.length * stepSeconds;
  if (seconds < 0.5) return null;
  const mean = amplitude.reduce((sum, value) => sum + value, 0) / amplitude.length;
  if (mean <= 0) return null;
  const windowed = amplitude.map(
    (value, i) => (value / mean - 1) * (1 - Math.cos((2 * Math.PI * (i + 0.5)) / amplitude.length)),
  );
  let strongest = { hertz: 0, depth: 0 };
  let sum = 0;
  let count = 0;
  for (let hertz = Math.max(0.5, 3 / seconds); hertz <= 20; hertz += 0.25 / Math.min(seconds, 20)) {
    let re = 0;
    let im = 0;
    for (let i = 0; i < windowed.length; i++) {
      const phase = 2 * Math.PI * hertz * stepSeconds * i;
      re += windowed[i] * Math.cos(phase);
      im += windowed[i] * Math.sin(phase);
    }
    const depth = (2 * Math.hypot(re, im)) / windowed.length;
    sum += depth;
    count++;
    if (depth > strongest.depth) strongest = { hertz, depth };
  }
  const stands = count > 0 && strongest.depth > 0.06 && strongest.depth > 5 * (sum / count);
  return stands ? strongest.hertz : null;
}
