/**
 * Power spectra of one channel or of a pair, and autocorrelations, on fft.js without allocation a frame.
 *
 * Two real channels L, R travel through one complex transform Z of L + iR, since what is wanted is only the sum of
 * their powers: |L[k]|^2 + |R[k]|^2 = (|Z[k]|^2 + |Z[N-k]|^2) / 2.
 */
import FFT from 'fft.js';
import { remembered } from './memo.ts';

export class Fourier {
  readonly size: number;
  /** Bins 0..size/2 of a real signal. */
  readonly bins: number;
  readonly #transform: FFT;
  // Plain arrays: fft.js keeps its tables in such, and runs twice as fast when it meets one kind of array only.
  readonly #input: number[];
  readonly #output: number[];

  constructor(size: number) {
    this.size = size;
    this.bins = size / 2 + 1;
    this.#transform = new FFT(size);
    this.#input = new Array<number>(size * 2).fill(0);
    this.#output = new Array<number>(size * 2).fill(0);
  }

  /**
   * Adds the power spectra of all channels, two by two, to `power`; see addPower. What comes back is Z of the first pair.
   */
  addPowers(
    power: Float64Array,
    channels: readonly Float32Array[],
    offset: number,
    length: number,
    window: Float64Array | null,
  ): readonly number[] {
    let spectrum: readonly number[] = this.#output;
    for (let pair = Math.ceil(channels.length / 2) - 1; pair >= 0; pair--) {
      const right = 2 * pair + 1 < channels.length ? channels[2 * pair + 1] : null;
      spectrum = this.addPower(power, channels[2 * pair], right, offset, length, window);
    }
    return spectrum;
  }

  /**
   * Transforms `length` samples of one or two channels from `offset` on, under `window` (null: none), followed by
   * zeros up to the transform's size, and adds their power spectrum to `power`. Under a window, which must then be
   * Hann's, the constant offset is taken out: its spectrum reaches only the bins 0 and 1.
   * What comes back is Z, real and imaginary parts interleaved, and lasts until the next call.
   */
  addPower(
    power: Float64Array,
    left: Float32Array,
    right: Float32Array | null,
    offset: number,
    length: number,
    window: Float64Array | null,
  ): readonly number[] {
    const input = this.#input;
    place(input, 0, left, offset, length, window);
    place(input, 1, right, offset, length, window);
    input.fill(0, 2 * length);
    const output = this.#output;
    this.#transform.transform(output, input);
    if (window !== null) this.#removeConstant();
    const size = this.size;
    power[0] += output[0] * output[0] + output[1] * output[1];
    for (let k = 1, at = 2, mirror = 2 * (size - 1); k < this.bins; k++, at += 2, mirror -= 2) {
      const re = output[at];
      const im = output[at + 1];
      const mirrorRe = output[mirror];
      const mirrorIm = output[mirror + 1];
      power[k] += (re * re + im * im + mirrorRe * mirrorRe + mirrorIm * mirrorIm) * 0.5;
    }
    return output;
  }

  /** Transform of complex numbers, interleaved, written by `fill` into an array of zeros. */
  complex(fill: (input: number[]) => void): readonly number[] {
    this.#input.fill(0);
    fill(this.#input);
    this.#transform.transform(this.#output, this.#input);
    return this.#output;
  }

  /** Transform of real numbers; bins 0..size/2 of it are valid. */
  real(values: Float64Array): readonly number[] {
    const input = this.#input;
    for (let n = 0; n < this.size; n++) input[n] = values[n];
    this.#transform.realTransform(this.#output, input);
    return this.#output;
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
    for (let k = 0; k < this.bins; k++) input[k] = power[k];
    for (let k = this.bins; k < size; k++) input[k] = power[size - k];
    // The spectrum is real and symmetric, so its transform is real and needs no inverse.
    this.#transform.realTransform(this.#output, input);
    for (let lag = 0; lag < correlation.length; lag++) correlation[lag] = this.#output[2 * lag] / size;
  }
}

/** Samples under a window into the real (`part` 0) or imaginary parts (1): one plain loop for each case runs fastest. */
function place(
  input: number[],
  part: 0 | 1,
  samples: Float32Array | null,
  offset: number,
  length: number,
  window: Float64Array | null,
): void {
  if (samples === null) for (let n = 0, at: number = part; n < length; n++, at += 2) input[at] = 0;
  else if (window === null)
    for (let n = 0, at: number = part; n < length; n++, at += 2) input[at] = samples[offset + n];
  else for (let n = 0, at: number = part; n < length; n++, at += 2) input[at] = samples[offset + n] * window[n];
}

/** One transform a size for all who call it in turn: nothing outlives a call but what it returns, until the next. */
export const fourierOf = remembered((size: number) => new Fourier(size));

/** Hann window for overlapping frames (its period is its length). */
export const hann = remembered((size: number) =>
  Float64Array.from({ length: size }, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * n) / size)),
);
