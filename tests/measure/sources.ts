/** What the made-up sounds are made of: sustained material, struck material, rooms and room noise. */
import type { Random } from './random.ts';

export const MATERIALS = ['white noise', 'coloured noise', 'tone', 'chord', 'struck plate', 'thud'] as const;
export type Material = (typeof MATERIALS)[number];

/** Steady material of RMS 1. */
export function sustained(random: Random, material: Material, frames: number, rate: number): Float32Array {
  const samples = new Float32Array(frames);
  if (material === 'white noise') for (let i = 0; i < frames; i++) samples[i] = random.normal();
  if (material === 'coloured noise') resonantNoise(random, samples, rate);
  const partials =
    (material === 'tone' && harmonics(random)) || (material === 'chord' && chord(random)) || plate(random);
  if (material === 'tone' || material === 'chord' || material === 'struck plate') {
    for (const { hertz, level, phase } of partials) addSine(samples, hertz / rate, level, phase, 1);
  }
  if (material === 'thud') addSine(samples, random.between(40, 90) / rate, 1, random.between(0, 6.28), 1);
  return scaledTo(samples, rootMeanSquare(samples, 0, frames), 1);
}

/** Struck material: attack of `attackSeconds`, then dying away 60 dB in `dyingSeconds`; peak RMS over 20 ms is 1. */
export function struck(
  random: Random,
  material: Material,
  rate: number,
  attackSeconds: number,
  dyingSeconds: number,
): Float32Array {
  const frames = Math.ceil((attackSeconds + dyingSeconds * 1.15) * rate);
  const falling = Math.exp(-6.9078 / (dyingSeconds * rate));
  let samples: Float32Array = new Float32Array(frames);
  if (material === 'struck plate') {
    for (const { hertz, level, phase } of plate(random)) {
      // Upper modes die sooner, as they do in metal and wood.
      addSine(samples, hertz / rate, level, phase, falling ** (1 + hertz / 2500));
    }
  } else if (material === 'thud') {
    let phase = 0;
    const hertz = random.between(40, 90);
    for (let i = 0; i < frames; i++) {
      phase += (2 * Math.PI * hertz * (1 + 2 * Math.exp(-i / (0.02 * rate)))) / rate;
      samples[i] = Math.sin(phase) * falling ** i;
    }
  } else {
    samples = sustained(random, material, frames, rate);
    let level = 1;
    for (let i = 0; i < frames; i++, level *= falling) samples[i] *= level;
  }
  const attack = Math.max(1, attackSeconds * rate);
  for (let i = 0; i < attack && i < frames; i++) samples[i] *= i / attack;
  const fadeOut = Math.min(frames, Math.round(0.005 * rate));
  for (let i = 0; i < fadeOut; i++) samples[frames - 1 - i] *= i / fadeOut;
  return scaledTo(samples, loudest20ms(samples, rate), 1);
}

/** A room of eight delay lines mixed by a Householder matrix; returns the reverberation alone, left and right. */
export function reverberation(
  random: Random,
  dry: readonly Float32Array[],
  rate: number,
  seconds: number,
): Float32Array[] {
  const frames = dry[0].length;
  const lines = Array.from(
    { length: 8 },
    (_, k) => new Float32Array(Math.round(rate * (0.011 + 0.006 * k + random.between(0, 0.004)))),
  );
  const gains = lines.map((line) => 10 ** ((-3 * line.length) / (seconds * rate)));
  const damped = new Float64Array(8);
  const position = new Int32Array(8);
  const wet = dry.map(() => new Float32Array(frames));
  const out = new Float64Array(8);
  for (let i = 0; i < frames; i++) {
    let sum = 0;
    for (let k = 0; k < 8; k++) {
      damped[k] += 0.6 * (lines[k][position[k]] * gains[k] - damped[k]);
      out[k] = damped[k];
      sum += out[k];
    }
    for (let k = 0; k < 8; k++) {
      const input = dry[k % dry.length][i];
      lines[k][position[k]] = input + out[k] - sum / 4 + 1e-20;
      if (++position[k] === lines[k].length) position[k] = 0;
      wet[k % dry.length][i] += out[k] * 0.5;
    }
  }
  return wet;
}

/** Noise of a room and its machines of the given RMS, independent in every channel. */
export function roomNoise(random: Random, frames: number, rate: number, level: number): Float32Array {
  const noise = new Float32Array(frames);
  const darkness = random.pick([0, 0.9, 0.98]);
  let state = 0;
  for (let i = 0; i < frames; i++) {
    state = darkness * state + random.normal();
    noise[i] = state;
  }
  const hum = random.chance(0.3) ? random.between(0.2, 0.7) : 0;
  const scale = rootMeanSquare(noise, 0, frames);
  for (let i = 0; i < frames; i++) {
    noise[i] =
      noise[i] / scale +
      hum * (Math.sin((2 * Math.PI * 50 * i) / rate) + 0.4 * Math.sin((2 * Math.PI * 150 * i) / rate));
  }
  return scaledTo(noise, rootMeanSquare(noise, 0, frames), level);
}

export function rootMeanSquare(samples: Float32Array, from: number, to: number): number {
  let sum = 0;
  const start = Math.max(0, from);
  const end = Math.min(samples.length, to);
  for (let i = start; i < end; i++) sum += samples[i] * samples[i];
  return end > start ? Math.sqrt(sum / (to - from)) : 0;
}

/** RMS of the loudest 20 ms, on a grid of 5 ms. */
export function loudest20ms(samples: Float32Array, rate: number): number {
  let loudest = 0;
  const step = Math.round(0.005 * rate);
  for (let i = 0; i < samples.length; i += step) loudest = Math.max(loudest, rootMeanSquare(samples, i, i + 4 * step));
  return loudest;
}

interface Partial {
  hertz: number;
  level: number;
  phase: number;
}

function harmonics(random: Random): Partial[] {
  const fundamental = random.logBetween(70, 900);
  return Array.from({ length: random.whole(1, 12) }, (_, n) => ({
    hertz: fundamental * (n + 1),
    level: 1 / (n + 1) ** random.between(0.7, 1.5),
    phase: random.between(0, 6.28),
  }));
}

function chord(random: Random): Partial[] {
  return Array.from({ length: random.whole(2, 4) }, () => harmonics(random).slice(0, 5)).flat();
}

function plate(random: Random): Partial[] {
  const lowest = random.logBetween(80, 1200);
  return Array.from({ length: random.whole(8, 24) }, () => ({
    hertz: Math.min(15000, lowest * random.logBetween(1, 14)),
    level: random.between(0.1, 1),
    phase: random.between(0, 6.28),
  }));
}

/** Adds a sine that is multiplied by `falling` every sample (a rotating, shrinking phasor). */
function addSine(samples: Float32Array, cyclesPerFrame: number, level: number, phase: number, falling: number): void {
  const re = Math.cos(2 * Math.PI * cyclesPerFrame) * falling;
  const im = Math.sin(2 * Math.PI * cyclesPerFrame) * falling;
  let x = level * Math.cos(phase);
  let y = level * Math.sin(phase);
  for (let i = 0; i < samples.length; i++) {
    samples[i] += y;
    [x, y] = [x * re - y * im, x * im + y * re];
    if (Math.abs(x) + Math.abs(y) < 1e-12) return;
  }
}

function resonantNoise(random: Random, samples: Float32Array, rate: number): void {
  const hertz = random.logBetween(200, 6000);
  const radius = Math.exp((-Math.PI * hertz * random.between(0.2, 1)) / rate);
  const a1 = 2 * radius * Math.cos((2 * Math.PI * hertz) / rate);
  let y1 = 0;
  let y2 = 0;
  for (let i = 0; i < samples.length; i++) {
    const y = random.normal() + a1 * y1 - radius * radius * y2;
    y2 = y1;
    y1 = y;
    samples[i] = y;
  }
}

function scaledTo<T extends Float32Array>(samples: T, from: number, to: number): T {
  if (from > 0) for (let i = 0; i < samples.length; i++) samples[i] *= to / from;
  return samples;
}
