/**
 * Colour of sound from one short-time Fourier transform (Hann, 2048 samples every 512 at 48 kHz, channels' powers
 * added). Each frame answers for itself; the sound's answer is the mean of its frames weighted by their energy, over
 * the active part. P[k] is the power in bin k, f[k] its frequency; the constant offset (bin 0) is left out.
 */
import { CEPSTRUM_COEFFICIENTS, type Hertz } from '../sound.ts';
import type { ActivePart } from './active-part.ts';
import { Cepstrum } from './cepstrum.ts';
import { fourierOf, hann } from './fourier.ts';
import { activeFrames, type FrameAnalysis, isSilent } from './frames.ts';
import { doubles, singles } from './growable.ts';
import { ANALYSIS_RATE_HZ } from './resample.ts';

export interface Spectrum {
  /** sum f P / sum P. Hz. */
  centroidHz: Hertz | null;
  /** Root of the energy-weighted mean of sum (f - centroid)^2 P / sum P of each frame. Hz. */
  spreadHz: Hertz | null;
  /** Geometric over arithmetic mean of P between FLATNESS_LOWEST_HZ and FLATNESS_HIGHEST_HZ. 0..1. */
  flatness: number | null;
  /** Frequency below which ROLLOFF_SHARE of a frame's energy lies. Hz. */
  rolloffHz: Hertz | null;
  /** Slope of log2 centroid over time, by least squares weighted with energy. Octaves a second. null under 3 frames. */
  brightnessSlope: number | null;
  /** Mean of each coefficient over the active frames, all frames alike; the first relative to the loudest frame. dB. */
  cepstrumMean: number[] | null;
  /** Standard deviation of each coefficient over the active frames. dB. */
  cepstrumSpread: number[] | null;
}

export const SPECTRUM_FRAME = 2048;
/** A quarter frame: squared Hann windows then add up to a constant, so that a strike weighs the same wherever it falls. */
const SPECTRUM_HOP = 512;
export const ROLLOFF_SHARE = 0.85;
export const FLATNESS_LOWEST_HZ = 50;
/** The top of what every usual rate and codec holds, so that the rate of a file does not change its flatness. */
export const FLATNESS_HIGHEST_HZ = 16_000;
/** Empty bins count as this share of the frame's mean power, so that one of them does not make a noise a tone. */
const FLATNESS_FLOOR = 1e-12;
/** Frames this far below the loudest say nothing about the cepstrum. */
const CEPSTRUM_RANGE_DB = 60;

export class SpectrumAnalysis implements FrameAnalysis {
  readonly frameSize = SPECTRUM_FRAME;
  readonly hopSize = SPECTRUM_HOP;
  readonly #fourier = fourierOf(SPECTRUM_FRAME);
  readonly #window = hann(SPECTRUM_FRAME);
  readonly #power: Float64Array;
  readonly #binHz = ANALYSIS_RATE_HZ / SPECTRUM_FRAME;
  readonly #flatFrom = Math.ceil(FLATNESS_LOWEST_HZ / this.#binHz);
  readonly #flatTo: number;
  readonly #cepstrum: Cepstrum;
  readonly #coefficients = new Float64Array(CEPSTRUM_COEFFICIENTS);

  readonly #energy = doubles();
  readonly #centroidHz = singles();
  readonly #varianceHz2 = singles();
  readonly #flatness = singles();
  readonly #rolloffHz = singles();
  readonly #cepstra = singles();

  /** `sourceRateHz` limits the flatness to what the file can hold. */
  constructor(sourceRateHz: number) {
    this.#power = new Float64Array(this.#fourier.bins);
    this.#flatTo = Math.floor(Math.min(FLATNESS_HIGHEST_HZ, sourceRateHz * 0.45) / this.#binHz);
    this.#cepstrum = new Cepstrum(this.#binHz, this.#fourier.bins);
  }

  analyse(channels: readonly Float32Array[], offset: number): void {
    const power = this.#power;
    power.fill(0);
    if (!isSilent(channels, offset, SPECTRUM_FRAME)) {
      this.#fourier.addPowers(power, channels, offset, SPECTRUM_FRAME, this.#window);
    }
    this.#describe(power);
  }

  #describe(power: Float64Array): void {
    let energy = 0;
    let first = 0;
    let second = 0;
    for (let k = 1; k < power.length; k++) {
      const p = power[k];
      energy += p;
      first += k * p;
      second += k * k * p;
    }
    this.#energy.push(energy);
    const centroid = energy > 0 ? first / energy : 0;
    this.#centroidHz.push(centroid * this.#binHz);
    this.#varianceHz2.push(energy > 0 ? Math.max(0, second / energy - centroid * centroid) * this.#binHz ** 2 : 0);
    this.#flatness.push(this.#flatnessOf(power));
    this.#rolloffHz.push(rolloffBin(power, energy) * this.#binHz);
    this.#cepstrum.compute(power, this.#coefficients);
    for (const value of this.#coefficients) this.#cepstra.push(value);
  }

  #flatnessOf(power: Float64Array): number {
    const count = this.#flatTo - this.#flatFrom + 1;
    let sum = 0;
    for (let k = this.#flatFrom; k <= this.#flatTo; k++) sum += power[k];
    if (sum === 0 || count < 1) return 0;
    // Sixteen powers at a time are multiplied before the logarithm is taken: none can leave the range of a double.
    const scale = count / sum;
    let logSum = 0;
    let product = 1;
    for (let k = this.#flatFrom; k <= this.#flatTo; k++) {
      product *= Math.max(power[k] * scale, FLATNESS_FLOOR);
      if ((k & 15) === 0) {
        logSum += Math.log(product);
        product = 1;
      }
    }
    return Math.exp((logSum + Math.log(product)) / count);
  }

  finish(active: ActivePart | null): Spectrum {
    const energy = this.#energy.values;
    const [from, to] = activeFrames(energy.length, SPECTRUM_HOP / ANALYSIS_RATE_HZ, active);
    let total = 0;
    for (let frame = from; frame < to; frame++) total += energy[frame];
    if (active === null || total <= 0) return NO_SPECTRUM;
    const mean = (values: Float32Array): number => {
      let sum = 0;
      for (let frame = from; frame < to; frame++) sum += energy[frame] * values[frame];
      return sum / total;
    };
    return {
      centroidHz: mean(this.#centroidHz.values),
      spreadHz: Math.sqrt(mean(this.#varianceHz2.values)),
      flatness: Math.min(1, mean(this.#flatness.values)),
      rolloffHz: mean(this.#rolloffHz.values),
      brightnessSlope: slope(energy, this.#centroidHz.values, from, to),
      ...this.#cepstrumOver(from, to),
    };
  }

  #cepstrumOver(from: number, to: number): { cepstrumMean: number[]; cepstrumSpread: number[] } {
    const energy = this.#energy.values;
    const cepstra = this.#cepstra.values;
    let loudest = from;
    for (let frame = from; frame < to; frame++) if (energy[frame] > energy[loudest]) loudest = frame;
    const quietest = energy[loudest] * 10 ** (-CEPSTRUM_RANGE_DB / 10);
    const sums = new Float64Array(CEPSTRUM_COEFFICIENTS);
    const squares = new Float64Array(CEPSTRUM_COEFFICIENTS);
    let count = 0;
    for (let frame = from; frame < to; frame++) {
      if (energy[frame] < quietest) continue;
      count++;
      for (let i = 0; i < CEPSTRUM_COEFFICIENTS; i++) {
        // Relative to the loudest frame the first coefficient does not change with the recording's level.
        const value =
          cepstra[frame * CEPSTRUM_COEFFICIENTS + i] - (i === 0 ? cepstra[loudest * CEPSTRUM_COEFFICIENTS] : 0);
        sums[i] += value;
        squares[i] += value * value;
      }
    }
    const cepstrumMean = Array.from(sums, (sum) => sum / count);
    const cepstrumSpread = cepstrumMean.map((mean, i) => Math.sqrt(Math.max(0, squares[i] / count - mean * mean)));
    return { cepstrumMean, cepstrumSpread };
  }
}

const NO_SPECTRUM: Spectrum = {
  centroidHz: null,
  spreadHz: null,
  flatness: null,
  rolloffHz: null,
  brightnessSlope: null,
  cepstrumMean: null,
  cepstrumSpread: null,
};

function rolloffBin(power: Float64Array, energy: number): number {
  const wanted = energy * ROLLOFF_SHARE;
  let sum = 0;
  for (let k = 1; k < power.length; k++) {
    sum += power[k];
    if (sum >= wanted && sum > 0) return k;
  }
  return 0;
}

function slope(energy: Float64Array, centroidHz: Float32Array, from: number, to: number): number | null {
  let weights = 0;
  let meanSeconds = 0;
  let meanOctaves = 0;
  let frames = 0;
  for (let frame = from; frame < to; frame++) {
    if (energy[frame] <= 0 || centroidHz[frame] <= 0) continue;
    frames++;
    weights += energy[frame];
    meanSeconds += energy[frame] * frame;
    meanOctaves += energy[frame] * Math.log2(centroidHz[frame]);
  }
  if (frames < 3) return null;
  meanSeconds /= weights;
  meanOctaves /= weights;
  let covariance = 0;
  let variance = 0;
  for (let frame = from; frame < to; frame++) {
    if (energy[frame] <= 0 || centroidHz[frame] <= 0) continue;
    covariance += energy[frame] * (frame - meanSeconds) * (Math.log2(centroidHz[frame]) - meanOctaves);
    variance += energy[frame] * (frame - meanSeconds) ** 2;
  }
  return variance > 0 ? ((covariance / variance) * ANALYSIS_RATE_HZ) / SPECTRUM_HOP : null;
}
