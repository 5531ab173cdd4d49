/**
 * Power spectra of one channel or of a pair, and autocorrelations, without allocation a frame.
 *
 * Two real channels L, R travel through one complex transform Z of L + iR, since what is wanted is only the sum of
 * their powers: |L[k]|^2 + |R[k]|^2 = (|Z[k]|^2 + |Z[N-k]|^2) / 2.
 */
import { type FourierKernel, fourierKernel } from './fourier-kernel.ts';
import { remembered } from './memo.ts';

export class Fourier {
  readonly size: number;
  /** Bins 0..size/2 of a real signal. */
  readonly bins: number;
  readonly #kernel: FourierKernel;
  /** What `real` answers with, as long as needed so far. */
  #half = new Float64Array(0);

  constructor(size: number) {
    this.size = size;
    this.bins = size / 2 + 1;
    this.#kernel = fourierKernel(size);
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
  ): Float64Array {
    let spectrum = this.#kernel.output;
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
  ): Float64Array {
    const { input, output } = this.#kernel;
    place(input, 0, left, offset, length, window);
    place(input, 1, right, offset, length, window);
    input.fill(0, 2 * length);
    this.#kernel.transform();
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

  /** Transform of complex numbers, interleaved, written by `fill` into an array of zeros; lasts until the next call. */
  complex(fill: (input: Float64Array) => void): Float64Array {
    this.#kernel.input.fill(0);
    fill(this.#kernel.input);
    this.#kernel.transform();
    return this.#kernel.output;
  }

  /**
   * The first `bins` (at most size/2) of the transform of `size` real numbers, written by `fill` into an array of zeros;
   * interleaved, and lasts until the next call.
   *
   * Even and odd places go as real and imaginary parts through a transform Z of half the size, and with M = N/2
   * X[k] = (Z[k] + Z*[M-k]) / 2 - i e^(-2 pi i k / N) (Z[k] - Z*[M-k]) / 2.
   */
  real(fill: (input: Float64Array) => void, bins: number): Float64Array {
    const middle = this.size / 2;
    const spectrum = fourierOf(middle).complex(fill);
    if (this.#half.length < 2 * bins) this.#half = new Float64Array(2 * bins);
    const output = this.#half;
    const factors = turns(this.size);
    for (let k = 0; k < bins; k++) {
      const mirror = k === 0 ? 0 : middle - k;
      const re = spectrum[2 * k];
      const im = spectrum[2 * k + 1];
      const mirrorRe = spectrum[2 * mirror];
      const mirrorIm = -spectrum[2 * mirror + 1];
      const lessRe = (re - mirrorRe) / 2;
      const lessIm = (im - mirrorIm) / 2;
      const cosine = factors[2 * k];
      const sine = factors[2 * k + 1];
      output[2 * k] = (re + mirrorRe) / 2 + lessIm * cosine + lessRe * sine;
      output[2 * k + 1] = (im + mirrorIm) / 2 + lessIm * sine - lessRe * cosine;
    }
    return output;
  }

  /** The Hann window's own spectrum is N/2 at bin 0 and -N/4 at bins 1 and -1: what a constant puts there goes. */
  #removeConstant(): void {
    const { output } = this.#kernel;
    const last = 2 * (this.size - 1);
    for (let part = 0; part < 2; part++) {
      const constant = output[part] / 2;
      output[part] = 0;
      output[2 + part] += constant;
      output[last + part] += constant;
    }
  }

  /** Autocorrelation at lags 0..correlation.length-1 (under size/2) from a power spectrum (bins 0..size/2). */
  autocorrelation(power: Float64Array, correlation: Float64Array): void {
    const size = this.size;
    // The spectrum is real and symmetric, so its transform is real and needs no inverse.
    const output = this.real((input) => {
      for (let k = 0; k < this.bins; k++) input[k] = power[k];
      for (let k = this.bins; k < size; k++) input[k] = power[size - k];
    }, correlation.length);
    for (let lag = 0; lag < correlation.length; lag++) correlation[lag] = output[2 * lag] / size;
  }
}

/** Cosine and sine of -2 pi k / size, interleaved, for k under size / 2. */
const turns = remembered((size: number) => {
  const values = new Float64Array(size);
  for (let k = 0; k < size / 2; k++) {
    values[2 * k] = Math.cos((-2 * Math.PI * k) / size);
    values[2 * k + 1] = Math.sin((-2 * Math.PI * k) / size);
  }
  return values;
});

/** Samples under a window into the real (`part` 0) or imaginary parts (1): one plain loop for each case runs fastest. */
function place(
  input: Float64Array,
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
