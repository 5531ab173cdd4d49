/**
 * Envelopes of the ear's critical bands, from one long transform: the bins of a band alone, transformed back, give the
 * band's analytic signal at a low rate; its absolute value is the envelope, whose own spectrum tells the modulation.
 */
import FFT from 'fft.js';
import { hann } from './fourier.ts';

/** Zwicker's critical bands, Hz (Zwicker & Fastl; from memory). The band above 12 kHz is left out. */
const EDGES_HZ = [
  20, 100, 200, 300, 400, 510, 630, 770, 920, 1080, 1270, 1480, 1720, 2000, 2320, 2700, 3150, 3700, 4400, 5300, 6400,
  7700, 9500, 12000,
] as const;

/** Slower changes than this are the course of the sound, not roughness. */
const SMOOTHING_SECONDS = 0.03;

export interface BandModulation {
  energy: number;
  /** Depth of the amplitude modulation, weighted: 1 = down to zero at the rate of weight 1. */
  depth: number;
}

interface Band {
  firstBin: number;
  bins: number;
  size: number;
}

export class BandEnvelopes {
  readonly #frameSize: number;
  readonly #binHz: number;
  readonly #window: Float64Array;
  readonly #transform: FFT;
  readonly #input: Float64Array;
  readonly #spectrum: Float64Array;
  readonly #bands: Band[];
  readonly #small = new Map<number, { transform: FFT; input: Float64Array; output: Float64Array }>();
  readonly #powers: Float64Array;
  readonly #sums: Float64Array;
  readonly #results: BandModulation[];

  constructor(frameSize: number, sampleRateHz: number) {
    this.#frameSize = frameSize;
    this.#binHz = sampleRateHz / frameSize;
    this.#window = hann(frameSize);
    this.#transform = new FFT(frameSize);
    this.#input = new Float64Array(frameSize * 2);
    this.#spectrum = new Float64Array(frameSize * 2);
    this.#bands = EDGES_HZ.slice(1).map((high, index) => {
      const firstBin = Math.ceil(EDGES_HZ[index] / this.#binHz);
      const bins = Math.ceil(high / this.#binHz) - firstBin;
      // Twice the band's width, since the square of a band signal is twice as wide as the band.
      return { firstBin, bins, size: Math.max(256, 2 ** Math.ceil(Math.log2(bins * 2))) };
    });
    for (const { size } of this.#bands) {
      if (this.#small.has(size)) continue;
      this.#small.set(size, {
        transform: new FFT(size),
        input: new Float64Array(size * 2),
        output: new Float64Array(size * 2),
      });
    }
    this.#powers = new Float64Array(Math.max(...this.#bands.map((band) => band.size)));
    this.#sums = new Float64Array(this.#powers.length + 1);
    this.#results = this.#bands.map(() => ({ energy: 0, depth: 0 }));
  }

  /** The result is overwritten by the next call. `weight` is that of a modulation rate, on its power. */
  measure(
    left: Float32Array,
    right: Float32Array | null,
    offset: number,
    weight: (modulationHz: number) => number,
  ): readonly BandModulation[] {
    for (let n = 0; n < this.#frameSize; n++) {
      this.#input[2 * n] = left[offset + n] * this.#window[n];
      this.#input[2 * n + 1] = right === null ? 0 : right[offset + n] * this.#window[n];
    }
    this.#transform.transform(this.#spectrum, this.#input);
    this.#bands.forEach((band, index) => {
      this.#measureBand(band, this.#results[index], weight);
    });
    return this.#results;
  }

  #measureBand(band: Band, result: BandModulation, weight: (modulationHz: number) => number): void {
    const { size } = band;
    const small = this.#small.get(size);
    if (small === undefined) return;
    // Bins k and N - k of the pair's spectrum hold the analytic signals L + iR and the conjugate of L - iR: the sum of
    // their powers is twice the sum of the channels' powers at every moment.
    const powers = this.#powers;
    powers.fill(0, 0, size);
    for (const mirrored of [false, true]) {
      small.input.fill(0);
      for (let bin = 0; bin < band.bins; bin++) {
        const k = mirrored ? this.#frameSize - band.firstBin - bin : band.firstBin + bin;
        small.input[2 * bin] = this.#spectrum[2 * k];
        small.input[2 * bin + 1] = (mirrored ? -1 : 1) * this.#spectrum[2 * k + 1];
      }
      small.transform.transform(small.output, small.input);
      for (let n = 0; n < size; n++) powers[n] += small.output[2 * n] ** 2 + small.output[2 * n + 1] ** 2;
    }
    let energy = 0;
    for (let n = 0; n < size; n++) {
      energy += powers[n];
      powers[n] = Math.sqrt(powers[n]);
    }
    result.energy = energy / size;
    this.#flutter(powers, size, small.input);
    small.transform.transform(small.output, small.input);
    let modulation = 0;
    // One step of the envelope's spectrum is one bin of the long one.
    for (let k = 1; k < size / 2; k++) {
      modulation += weight(k * this.#binHz) * (small.output[2 * k] ** 2 + small.output[2 * k + 1] ** 2);
    }
    // A tone modulated to depth m flutters with m^2 / 2 of its energy; both halves of the spectrum count (Parseval).
    result.depth = energy > 0 ? Math.sqrt((2 * 2 * modulation) / size / energy) : 0;
  }

  /**
   * The envelope minus its mean over SMOOTHING_SECONDS before, around or after, whichever comes nearest: beats remain,
   * a single attack or a plain decay leaves next to nothing, so that a hit is not called rough for being a hit.
   */
  #flutter(envelope: Float64Array, size: number, output: Float64Array): void {
    const width = Math.max(3, Math.round(SMOOTHING_SECONDS * size * this.#binHz));
    const sums = this.#sums;
    for (let n = 0; n < size; n++) sums[n + 1] = sums[n] + envelope[n];
    const mean = (from: number, to: number): number => {
      const start = Math.max(0, from);
      const end = Math.min(size, to);
      return end > start ? (sums[end] - sums[start]) / (end - start) : 0;
    };
    const half = Math.floor(width / 2);
    for (let n = 0; n < size; n++) {
      const before = envelope[n] - mean(n - width + 1, n + 1);
      const around = envelope[n] - mean(n - half, n - half + width);
      const after = envelope[n] - mean(n, n + width);
      const nearer = Math.abs(before) < Math.abs(after) ? before : after;
      output[2 * n] = Math.abs(around) < Math.abs(nearer) ? around : nearer;
      output[2 * n + 1] = 0;
    }
  }
}
