/** Test signals whose answers are known by thought. Deterministic: noise comes from a seed. */
import { Resampler } from '../../shared/measure/resample.ts';

export function sine(hz: number, seconds: number, rateHz: number, amplitude = 1, phase = 0): Float32Array {
  return Float32Array.from(
    { length: Math.round(seconds * rateHz) },
    (_, n) => amplitude * Math.sin((2 * Math.PI * hz * n) / rateHz + phase),
  );
}

export function amplitudeOf(dbfs: number): number {
  return 10 ** (dbfs / 20);
}

/** Numbers 0..1 (mulberry32, a small public-domain generator). */
export function randomNumbers(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Gaussian white noise of the given root mean square. */
export function whiteNoise(seconds: number, rateHz: number, rms: number, seed = 1): Float32Array {
  const random = randomNumbers(seed);
  return Float32Array.from({ length: Math.round(seconds * rateHz) }, () => {
    const radius = Math.sqrt(-2 * Math.log(1 - random()));
    return rms * radius * Math.cos(2 * Math.PI * random());
  });
}

/** Sum of the harmonics below `limitHz`, each with the amplitude `weight(n)`. */
export function harmonics(
  hz: number,
  seconds: number,
  rateHz: number,
  weight: (number: number) => number,
  limitHz = rateHz / 2,
): Float32Array {
  const samples = new Float32Array(Math.round(seconds * rateHz));
  for (let number = 1; number * hz < limitHz; number++) {
    const amplitude = weight(number);
    if (amplitude === 0) continue;
    const step = (2 * Math.PI * hz * number) / rateHz;
    for (let n = 0; n < samples.length; n++) samples[n] += amplitude * Math.sin(step * n);
  }
  return samples;
}

/** Straight ramps at both ends, so that the edges add no click to the spectrum. */
export function faded(samples: Float32Array, rateHz: number, seconds = 0.02): Float32Array {
  const ramp = Math.round(seconds * rateHz);
  return samples.map((x, n) => x * Math.min(1, n / ramp, (samples.length - 1 - n) / ramp));
}

export function scaled(samples: Float32Array, gain: number): Float32Array {
  return samples.map((x) => x * gain);
}

export function joined(...parts: readonly Float32Array[]): Float32Array {
  const whole = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

/** The sound in blocks of uneven length, as a decoder gives them. */
export function* inBlocks(
  channels: readonly Float32Array[],
  sizes: readonly number[] = [65_536],
): Generator<Float32Array[]> {
  const frames = channels[0]?.length ?? 0;
  for (let from = 0, turn = 0; from < frames; turn++) {
    const to = Math.min(frames, from + sizes[turn % sizes.length]);
    yield channels.map((samples) => samples.subarray(from, to));
    from = to;
  }
}

/** A whole sound at another rate. */
export function resampled(channels: readonly Float32Array[], fromHz: number, toHz = 48_000): Float32Array[] {
  const resampler = new Resampler(channels.length, fromHz, toHz);
  const start = resampler.push(channels);
  const rest = resampler.finish();
  return start.map((first, channel) => joined(first, rest[channel]));
}
