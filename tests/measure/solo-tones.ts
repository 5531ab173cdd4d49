/**
 * Tones with vibrato, with weak or missing lowest partials, and blows with a lone partial: all by formula, so that the
 * note is known by construction. The note of a tone with vibrato is the middle of its swing (common practice, no source).
 */
import { Random } from './random.ts';

export const RATE = 48_000;
const HIGHEST_HZ = 18_000;

export interface Vibrato {
  rateHz: number;
  /** Of the swing to either side. */
  cents: number;
}

/** Amplitude of the n-th partial; `partialHz` for spectra with a formant. */
export type Spectrum = (number: number, partialHz: number) => number;

export const SOLO_SPECTRA: Record<string, Spectrum> = {
  sine: (n) => (n === 1 ? 1 : 0),
  'saw, as bowed strings': (n) => 1 / n,
  'odd partials, as a clarinet': (n) => (n % 2) / n,
  'falling 12 dB an octave, as a flute': (n) => 1 / n ** 2,
  'two formants, as a voice': (n, hz) =>
    (1 / n) * (0.05 + Math.exp(-(((hz - 650) / 250) ** 2)) + 0.5 * Math.exp(-(((hz - 1_150) / 300) ** 2))),
  'equal up to the twelfth, as a reed': (n) => (n <= 12 ? 0.5 : 0),
};

/**
 * sum a[n] sin(n phase), phase[k + 1] = phase[k] + 2 pi hz 2^(cents sin(2 pi rate t) / 1200) / RATE. The amplitudes are
 * those at the middle of the swing.
 */
export function soloTone(hz: number, seconds: number, spectrum: Spectrum, vibrato: Vibrato | null): Float32Array {
  const partials: [number, number][] = [];
  for (let n = 1; n * hz * 1.06 < HIGHEST_HZ && n <= 60; n++) partials.push([n, spectrum(n, n * hz)]);
  const level = Math.sqrt(partials.reduce((sum, [, amplitude]) => sum + amplitude ** 2, 0));
  const samples = new Float32Array(Math.round(seconds * RATE));
  let phase = 0;
  for (let k = 0; k < samples.length; k++) {
    const edge = Math.min(1, k / 1_500, (samples.length - 1 - k) / 1_500);
    let sum = 0;
    for (const [n, amplitude] of partials) if (amplitude !== 0) sum += amplitude * Math.sin(n * phase);
    samples[k] = (0.2 / level) * edge * sum;
    const cents = vibrato === null ? 0 : vibrato.cents * Math.sin((2 * Math.PI * vibrato.rateHz * k) / RATE);
    phase += (2 * Math.PI * hz * 2 ** (cents / 1200)) / RATE;
  }
  return samples;
}

/** Euler-Bernoulli bar, free at both ends (Fletcher & Rossing, The Physics of Musical Instruments, section 2.15; from memory). */
export const FREE_BAR = [1, 2.756, 5.404, 8.933] as const;

export interface Mode {
  ratio: number;
  amplitude: number;
  /** Fall by 60 dB. */
  fallSeconds: number;
}

/** Modes of a struck body, and the click of the blow: noise that falls 60 dB in `blowSeconds`. */
export function struckModes(
  hz: number,
  seconds: number,
  modes: readonly Mode[],
  blow: { level: number; fallSeconds: number },
  random: Random = new Random(1),
): Float32Array {
  const samples = new Float32Array(Math.round(seconds * RATE));
  const phases = modes.map(() => random.between(0, 2 * Math.PI));
  for (let k = 0; k < samples.length; k++) {
    const time = k / RATE;
    let sum = blow.level * random.normal() * 10 ** ((-3 * time) / blow.fallSeconds);
    modes.forEach(({ ratio, amplitude, fallSeconds }, i) => {
      const fall = 10 ** ((-3 * time) / fallSeconds);
      sum += amplitude * fall * Math.sin(2 * Math.PI * hz * ratio * time + phases[i]);
    });
    samples[k] = 0.1 * sum;
  }
  return samples;
}
