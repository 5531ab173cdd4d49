/**
 * Envelopes of the ear's critical bands, from one long transform: the bins of a band alone, transformed back, give the
 * band's analytic signal at a low rate; its absolute value is the envelope, whose own spectrum tells the modulation.
 */
import { type Fourier, fourierOf } from './fourier.ts';

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
  fourier: Fourier;
}

export class BandEnvelopes {
  readonly #frameSize: number;
  readonly #binHz: number;
  readonly #bands: Band[];
  readonly #envelope: Float64Array;
  readonly #flutter: Float64Array;
  readonly #sums: Float64Array;
  readonly #results: BandModulation[];

  constructor(frameSize: number, sampleRateHz: number) {
    this.#frameSize = frameSize;
    this.#binHz = sampleRateHz / frameSize;
    this.#bands = EDGES_HZ.slice(1).map((high, index) => {
      const firstBin = Math.ceil(EDGES_HZ[index] / this.#binHz);
      const bins = Math.ceil(high / this.#binHz) - firstBin;
      // Twice the band's width, since the square of a band signal is twice as wide as the band.
      const size = Math.max(256, 2 ** Math.ceil(Math.log2(bins * 2)));
      return { firstBin, bins, fourier: fourierOf(size) };
    });
    const largest = Math.max(...this.#bands.map((band) => band.fourier.size));
    this.#envelope = new Float64Array(largest);
    this.#flutter = new Float64Array(largest);
    this.#sums = new Float64Array(largest + 1);
    this.#results = this.#bands.map(() => ({ energy: 0, depth: 0 }));
  }

  /**
   * From the spectrum Z of a pair of channels (Fourier.addPower), real and imaginary parts interleaved. `weight` is
   * that of a modulation rate, on its power. The result is overwritten by the next call.
   */
  measure(spectrum: readonly number[], weight: (modulationHz: number) => number): readonly BandModulation[] {
    this.#bands.forEach((band, index) => {
      this.#measureBand(spectrum, band, this.#results[index], weight);
    });
    return this.#results;
  }

  #measureBand(
    spectrum: readonly number[],
    { firstBin, bins, fourier }: Band,
    result: BandModulation,
    weight: (modulationHz: number) => number,
  ): void {
    const { size } = fourier;
    // Bins k and N - k of the pair's spectrum hold the analytic signals L + iR and the conjugate of L - iR: the sum of
    // their powers is twice the sum of the channels' powers at every moment.
    const envelope = this.#envelope;
    envelope.fill(0, 0, size);
    for (const mirrored of [false, true]) {
      const output = fourier.complex((input) => {
        for (let bin = 0; bin < bins; bin++) {
          const k = mirrored ? this.#frameSize - firstBin - bin : firstBin + bin;
          input[2 * bin] = spectrum[2 * k];
          input[2 * bin + 1] = (mirrored ? -1 : 1) * spectrum[2 * k + 1];
        }
      });
      for (let n = 0; n < size; n++)
        envelope[n] += output[2 * n] * output[2 * n] + output[2 * n + 1] * output[2 * n + 1];
    }
    let energy = 0;
    for (let n = 0; n < size; n++) {
      energy += envelope[n];
      envelope[n] = Math.sqrt(envelope[n]);
    }
    result.energy = energy / size;
    this.#findFlutter(size);
    const output = fourier.real(this.#flutter);
    let modulation = 0;
    // One step of the envelope's spectrum is one bin of the long one.
    for (let k = 1; k < size / 2; k++) {
      modulation += weight(k * this.#binHz) * (output[2 * k] * output[2 * k] + output[2 * k + 1] * output[2 * k + 1]);
    }
    // A tone modulated to depth m flutters with m^2 / 2 of its energy; both halves of the spectrum count (Parseval).
    result.depth = energy > 0 ? Math.sqrt((2 * 2 * modulation) / size / energy) : 0;
  }

  /**
   * The envelope minus its mean over SMOOTHING_SECONDS before, around or after, whichever comes nearest: beats remain,
   * a single attack or a plain decay leaves next to nothing, so that a hit is not called rough for being a hit.
   */
  #findFlutter(size: number): void {
    const envelope = this.#envelope;
    const sums = this.#sums;
    const width = Math.max(3, Math.round(SMOOTHING_SECONDS * size * this.#binHz));
    const half = width >> 1;
    for (let n = 0; n < size; n++) sums[n + 1] = sums[n] + envelope[n];
    for (let n = 0; n < size; n++) {
      const before = envelope[n] - this.#mean(n - width + 1, n + 1, size);
      const around = envelope[n] - this.#mean(n - half, n - half + width, size);
      const after = envelope[n] - this.#mean(n, n + width, size);
      const nearer = Math.abs(before) < Math.abs(after) ? before : after;
      this.#flutter[n] = Math.abs(around) < Math.abs(nearer) ? around : nearer;
    }
  }

  #mean(from: number, to: number, size: number): number {
    const start = from < 0 ? 0 : from;
    const end = to > size ? size : to;
    return (this.#sums[end] - this.#sums[start]) / (end - start);
  }
}
