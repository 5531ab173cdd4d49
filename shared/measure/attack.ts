/** How quickly a sound rises and how long it takes to die away. */
import type { Seconds } from '../sound.ts';
import { powerOf, type RunningMean } from './running.ts';

/**
 * Attack time: from 20 % to 90 % of the amplitude envelope's maximum (the fixed thresholds of Peeters, "A large set of audio
 * features", 2004; MPEG-7's LogAttackTime is its log10): from the last time below 20 % before the envelope first reaches
 * 90 %. A riser's attack is thus its whole rise, a hit's a few milliseconds.
 *
 * The envelope is the square root of a running mean of power. Its window shrinks from a tenth of the active part until it
 * is a fifth of the attack found, or `hopSeconds`: wide enough for grain not to count, narrow enough not to blunt.
 * A wider window than the attack itself only ever lengthens it.
 */
export function attackSeconds(running: RunningMean, startStep: number, endStep: number, hopSeconds: Seconds): Seconds {
  const start = Math.max(0, Math.floor(startStep));
  const end = Math.min(running.length, Math.ceil(endStep));
  let width = Math.max(1, Math.min(Math.round(0.25 / hopSeconds), Math.floor((end - start) / 10)));
  for (;;) {
    const steps = attackSteps(running, start, end, width);
    if (width <= 2 || steps > 5 * width) return Math.max(0, steps) * hopSeconds;
    width = Math.max(1, Math.floor(width / 2));
  }
}

function attackSteps(running: RunningMean, start: number, end: number, width: number): number {
  const before = width >> 1;
  const amplitude = (i: number): number => Math.sqrt(running.mean(i - before, i - before + width));
  let highest = 0;
  for (let i = start; i < end; i++) highest = Math.max(highest, amplitude(i));
  let top = start;
  while (top < end && amplitude(top) < 0.9 * highest) top++;
  let foot = top;
  while (foot > start && amplitude(foot - 1) > 0.2 * highest) foot--;
  const reached = (i: number, share: number): number => {
    const low = amplitude(i - 1);
    const high = amplitude(i);
    return i > 0 && high > low ? i - 1 + Math.min(1, Math.max(0, (share * highest - low) / (high - low))) : i;
  };
  return foot === top ? 0 : reached(top, 0.9) - reached(foot, 0.2);
}

/**
 * Decay time: from the climax until the level (30 ms means) last stands less than 20 dB below the loudest 10 ms at
 * the climax, or until the active part ends where it ends sooner. An exponential decay of amplitude time constant tau takes 2.303 tau.
 */
export function decaySeconds(running: RunningMean, climaxStep: number, endStep: number, hopSeconds: Seconds): Seconds {
  const short = Math.max(1, Math.round(0.01 / hopSeconds));
  let peakPower = 0;
  for (let i = Math.floor(climaxStep) - 5 * short; i < climaxStep + 10 * short && i + short <= running.length; i++) {
    peakPower = Math.max(peakPower, running.mean(i, i + short));
  }
  const width = Math.max(1, Math.round(0.03 / hopSeconds));
  const enough = peakPower * powerOf(-20);
  let until = Math.ceil(endStep);
  while (until > climaxStep && running.mean(until - (width >> 1), until + (width >> 1) + 1) < enough) until--;
  return Math.max(0, until - climaxStep) * hopSeconds;
}
