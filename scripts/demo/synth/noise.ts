/** Noise of several colours. Levels are RMS near 1 before any filter, so callers scale by what they mean. */
import type { Random } from './random.ts';

/** White noise, uniform in -sqrt(3)..sqrt(3): RMS 1. xorshift32 (Marsaglia 2003), seeded by one draw. */
export function whiteNoise(frames: number, random: Random): Float32Array {
  const noise = new Float32Array(frames);
  let state = Math.floor(random.unit() * 4294967295) + 1;
  const scale = Math.sqrt(3) / 2147483648;
  for (let index = 0; index < frames; index += 1) {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    noise[index] = (state | 0) * scale;
  }
  return noise;
}

/**
 * Noise falling about 3 dB an octave: white noise through three leaky integrators spread over the audible range and
 * summed (Paul Kellet's economy filter; common practice, good to about 0.5 dB at 44.1 kHz and close enough elsewhere).
 */
export function pinkNoise(frames: number, random: Random): Float32Array {
  const noise = whiteNoise(frames, random);
  let low = 0;
  let middle = 0;
  let high = 0;
  for (let index = 0; index < frames; index += 1) {
    const white = noise[index];
    low = 0.99765 * low + white * 0.099046;
    middle = 0.963 * middle + white * 0.2965164;
    high = 0.57 * high + white * 1.0526913;
    noise[index] = 0.37 * (low + middle + high + white * 0.1848);
  }
  return noise;
}

/** Pink noise for each of `count` microphones in one place: half of its power common to all, half its own. */
export function pinkPair(count: number, frames: number, random: Random): Float32Array[] {
  const common = pinkNoise(frames, random);
  return Array.from({ length: count }, () => {
    const own = pinkNoise(frames, random);
    for (let index = 0; index < frames; index += 1) own[index] = Math.SQRT1_2 * (own[index] + common[index]);
    return own;
  });
}

/** A smooth wandering curve between -1 and 1, changing about `changesHz` times a second: for hands, gusts and breath. */
export function wander(changesHz: number, seconds: number, random: Random): (seconds: number) => number {
  const knots = Float32Array.from({ length: Math.ceil(seconds * changesHz) + 3 }, () => random.range(-1, 1));
  return (at) => {
    const position = Math.min(knots.length - 2, Math.max(0, at * changesHz));
    const index = Math.floor(position);
    const part = position - index;
    const ease = part * part * (3 - 2 * part);
    return knots[index] + (knots[Math.min(knots.length - 1, index + 1)] - knots[index]) * ease;
  };
}
