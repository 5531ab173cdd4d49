/**
 * Power spectra of one channel or of a pair, and autocorrelations, on fft.js without allocation a frame.
 *
 * Two real channels L, R travel through one complex transform Z of L + iR, since what is wanted is only the sum of
 * their powers: |L[k]|^2 + |R[k]|^2 = (|Z[k]|^2 + |Z[N-k]|^2) / 2.
 */
import FFT from 'fft.js';

export class Fourier {
  readonly size: number;
  /** Bins 0..size/2 of a real signal. */
  readonly bins: number;
  readonly #transform: FFT;
  readonly #input: Float64Array;
  readonly #output: Float64Array;

  constructor(size: number) {
    this.size = size;
    this.bins = size / 2 + 1;
    this.#transform = new FFT(size);
    this.#input = new Float64Array(size * 2);
    this.#output = new Float64Array(size * 2);
  }

  /**
   * Adds to `power` the power spectrum of `length` samples of one or two channels from `offset` on, under `window`
   * (null: none), followed by zeros up to the transform's size. The constant offset is taken out when `hann` says that
   * the window is one: its spectrum then reaches only the bins 0 and 1.
   */
  addPower(
    power: Float64Array,
    left: Float32Array,
    right: Float32Array | null,
    offset: number,
    length: number,
    window: Float64Array | null,
  ): void {
    const input = this.#input;
    for (let n = 0; n < length; n++) {
      const weight = window === null ? 1 : window[n];
      input[2 * n] = left[offset + n] * weight;
      input[2 * n + 1] = right === null ? 0 : right[offset + n] * weight;
    }
    input.fill(0, 2 * length);
    const output = this.#output;
    this.#transform.transform(output, input);
    if (window !== null) this.#removeConstant();
    const size = this.size;
    power[0] += output[0] * output[0] + output[1] * output[1];
    for (let k = 1; k < this.bins; k++) {
      const re = output[2 * k];
      const im = output[2 * k + 1];
      const mirrorRe = output[2 * (size - k)];
      const mirrorIm = output[2 * (size - k) + 1];
      power[k] += (re * re + im * im + mirrorRe * mirrorRe + mirrorIm * mirrorIm) / 2;
    }
  }

  /** The Hann window's own spectrum is N/2 at bin 0 and -N/4 at bins 1 and -1: what a constant puts there goes. */
  #removeConstant(): void {
    const output = this.#output;
    const last = 2 * (this.size - 1);
    for (let part = 0; part < 2; part++) {
      const constant = output[part] / 2;
      output[part] = 0;
      output[2 + part] += constant;
      output[last + part] += constant;
    }
  }

  /** Autocorrelation at lags 0..correlation.length-1 from a power spectrum (bins 0..size/2). */
  autocorrelation(power: Float64Array, correlation: Float64Array): void {
    const input = this.#input;
    const size = this.size;
    for (let k = 0; k < this.bins; k++) {
      input[2 * k] = power[k];
      input[2 * k + 1] = 0;
    }
    for (let k = this.bins; k < size; k++) {
      input[2 * k] = power[size - k];
      input[2 * k + 1] = 0;
    }
    this.#transform.transform(this.#output, input);
    for (let lag = 0; lag < correlation.length; lag++) correlation[lag] = this.#output[2 * lag] / size;
  }
}

/** Hann window for overlapping frames (its period is its length). */
export function hann(size: number): Float64Array {
  return Float64Array.from({ length: size }, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * n) / size));
}
