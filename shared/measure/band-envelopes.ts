/**
 * Envelopes of the ear's critical bands, from one long transform: the bins of a band alone, transformed back, give the
 * band's analytic signal at a low rate; its absolute value is the envelope, whose own spectrum tells the modulation.
 */
import { type Fourier, fourierOf, hann } from './fourier.ts';
import { remembered } from './memo.ts';

/** Zwicker's critical bands, Hz (Zwicker & Fastl; from memory). The band above 12 kHz is left out. */
const EDGES_HZ = [
  20, 100, 200, 300, 400, 510, 630, 770, 920, 1080, 1270, 1480, 1720, 2000, 2320, 2700, 3150, 3700, 4400, 5300, 6400,
  7700, 9500, 12000,
] as const;

/** Below this the bands are halved, and reach half a band beyond each side, so that a tone finds both its side bands. */
const HALVED_BELOW_HZ = 2000;
/** Above, where bands are wide, they reach this far beyond. */
const REACH_HZ = 100;
/** Slower changes than this are the course of the sound, not roughness. */
const SMOOTHING_SECONDS = 0.03;
/** Bands this far below the strongest are not heard beside it. */
const BAND_RANGE = 1e-5;
/** Where the mean before is less than this share of here, something has just begun: no flutter yet. */
const ONSET_SHARE = 0.3;
/** Share of the frame at either end where the window is too low to be divided out. */
const EDGE_SHARE = 0.1;

export interface BandModulation {
  /** Of the cell; 0 where it lies BAND_RANGE below the strongest. */
  energy: number;
  /** Depth of the amplitude modulation, weighted: 1 = down to zero at the rate of weight 1. */
  depth: number;
}

interface Band {
  firstBin: number;
  bins: number;
  /** The cell itself within these bins; around it is what may beat with it. */
  ownFirst: number;
  ownEnd: number;
  fourier: Fourier;
}

export class BandEnvelopes {
  readonly #frameSize: number;
  readonly #binHz: number;
  /** Of every bin of an envelope's spectrum. */
  readonly #weights: Float64Array;
  readonly #bands: Band[];
  readonly #envelope: Float64Array;
  readonly #flutter: Float64Array;
  readonly #sums: Float64Array;
  readonly #results: BandModulation[];

  /** `weight` is that of a modulation rate, on the power of the modulation; 0 above `highestHz`. */
  constructor(frameSize: number, sampleRateHz: number, highestHz: number, weight: (modulationHz: number) => number) {
    this.#frameSize = frameSize;
    this.#binHz = sampleRateHz / frameSize;
    this.#weights = Float64Array.from({ length: Math.floor(highestHz / this.#binHz) + 1 }, (_, k) =>
      weight(k * this.#binHz),
    );
    this.#bands = cells().map(([lowHz, highHz, reachHz]) => {
      const firstBin = Math.max(1, Math.ceil((lowHz - reachHz) / this.#binHz));
      const bins = Math.ceil((highHz + reachHz) / this.#binHz) - firstBin;
      const ownFirst = Math.ceil(lowHz / this.#binHz) - firstBin;
      const ownEnd = Math.ceil(highHz / this.#binHz) - firstBin;
      // Twice the band's width, since the square of a band signal is twice as wide as the band.
      const size = Math.max(128, 2 ** Math.ceil(Math.log2(bins * 2)));
      return { firstBin, bins, ownFirst, ownEnd, fourier: fourierOf(size) };
    });
    const largest = Math.max(...this.#bands.map((band) => band.fourier.size));
    this.#envelope = new Float64Array(largest);
    this.#flutter = new Float64Array(largest);
    this.#sums = new Float64Array(largest + 1);
    this.#results = this.#bands.map(() => ({ energy: 0, depth: 0 }));
  }

  /**
   * From the spectrum Z of one channel or a pair (Fourier.addPower), real and imaginary parts interleaved. The result
   * is overwritten by the next call.
   */
  measure(spectrum: Float64Array, channels: 1 | 2): readonly BandModulation[] {
    let strongest = 0;
    this.#bands.forEach((band, index) => {
      const energy = this.#energyOf(spectrum, band);
      this.#results[index].energy = energy;
      strongest = Math.max(strongest, energy);
    });
    this.#bands.forEach((band, index) => {
      const result = this.#results[index];
      if (result.energy <= strongest * BAND_RANGE) result.energy = 0;
      result.depth = result.energy > 0 ? this.#depthOf(spectrum, channels, band) : 0;
    });
    return this.#results;
  }

  #energyOf(spectrum: Float64Array, { firstBin, ownFirst, ownEnd }: Band): number {
    let energy = 0;
    for (let k = firstBin + ownFirst; k < firstBin + ownEnd; k++) {
      const mirror = this.#frameSize - k;
      energy += spectrum[2 * k] * spectrum[2 * k] + spectrum[2 * k + 1] * spectrum[2 * k + 1];
      energy += spectrum[2 * mirror] * spectrum[2 * mirror] + spectrum[2 * mirror + 1] * spectrum[2 * mirror + 1];
    }
    return energy;
  }

  #depthOf(spectrum: Float64Array, channels: 1 | 2, { firstBin, bins, fourier }: Band): number {
    const { size } = fourier;
    // Bins k and N - k of the pair's spectrum hold the analytic signals L + iR and the conjugate of L - iR: the sum of
    // their powers is twice the sum of the channels' powers at every moment. One channel needs only the first.
    const envelope = this.#envelope;
    envelope.fill(0, 0, size);
    for (let half = 0; half < channels; half++) {
      const output = fourier.complex((input) => {
        for (let bin = 0; bin < bins; bin++) {
          const k = half === 1 ? this.#frameSize - firstBin - bin : firstBin + bin;
          input[2 * bin] = spectrum[2 * k];
          input[2 * bin + 1] = half === 1 ? -spectrum[2 * k + 1] : spectrum[2 * k + 1];
        }
      });
      for (let n = 0; n < size; n++) {
        envelope[n] += output[2 * n] * output[2 * n] + output[2 * n + 1] * output[2 * n + 1];
      }
    }
    for (let n = 0; n < size; n++) envelope[n] = Math.sqrt(envelope[n]);
    const steady = this.#findFlutter(size);
    const rates = Math.min(size / 2, this.#weights.length);
    const output = fourier.real((input) => input.set(this.#flutter.subarray(0, size)), rates);
    // One step of the envelope's spectrum is one bin of the long one.
    let modulation = 0;
    for (let k = 1; k < rates; k++) {
      modulation += this.#weights[k] * (output[2 * k] * output[2 * k] + output[2 * k + 1] * output[2 * k + 1]);
    }
    // A tone modulated to depth m flutters with m^2 / 2 of its steady energy; both halves of the spectrum count
    // (Parseval).
    return steady > 0 ? Math.sqrt((2 * 2 * modulation) / size / steady) : 0;
  }

  /**
   * The envelope minus its mean over SMOOTHING_SECONDS before, around or after, whichever comes nearest: beats remain,
   * a single attack or a plain decay leaves next to nothing, so that a hit is not called rough for being a hit. The
   * frame's own Hann window is divided out before and put back after. Returns the energy of what was taken away.
   */
  #findFlutter(size: number): number {
    const envelope = this.#envelope;
    const flutters = this.#flutter;
    const sums = this.#sums;
    const window = hann(size);
    const unwindowed = inverseHann(size);
    const width = Math.max(3, Math.round(SMOOTHING_SECONDS * size * this.#binHz));
    const shares = shareOf(width);
    const half = width >> 1;
    const from = Math.round(size * EDGE_SHARE);
    const to = size - from;
    flutters.fill(0, 0, size);
    sums.fill(0, 0, from + 1);
    for (let n = from; n < to; n++) {
      envelope[n] *= unwindowed[n];
      sums[n + 1] = sums[n] + envelope[n];
    }
    let steady = 0;
    for (let n = from; n < to; n++) {
      const here = envelope[n];
      const start = Math.max(from, n - width + 1);
      const left = Math.max(from, n - half);
      const right = Math.min(to, n - half + width);
      const end = Math.min(to, n + width);
      const before = here - (sums[n + 1] - sums[start]) * shares[n + 1 - start];
      const around = here - (sums[right] - sums[left]) * shares[right - left];
      const after = here - (sums[end] - sums[n]) * shares[end - n];
      const nearer = Math.abs(before) < Math.abs(after) ? before : after;
      const nearest = Math.abs(around) < Math.abs(nearer) ? around : nearer;
      const flutter = before > here * (1 - ONSET_SHARE) ? 0 : nearest;
      const rest = (here - flutter) * window[n];
      flutters[n] = flutter * window[n];
      steady += rest * rest;
    }
    return steady;
  }
}

/** Kept because multiplying is several times as fast as dividing. */
const inverseHann = remembered((size: number) => hann(size).map((weight) => (weight > 0 ? 1 / weight : 0)));
/** 1 / n for n up to `width`. */
const shareOf = remembered((width: number) => Float64Array.from({ length: width + 1 }, (_, n) => 1 / Math.max(1, n)));

/** Lower edge, upper edge, reach beyond them. */
function cells(): [number, number, number][] {
  return EDGES_HZ.slice(1).flatMap((highHz, index): [number, number, number][] => {
    const lowHz = EDGES_HZ[index];
    if (highHz > HALVED_BELOW_HZ) return [[lowHz, highHz, REACH_HZ]];
    const middleHz = (lowHz + highHz) / 2;
    const reachHz = (highHz - lowHz) / 2;
    return [
      [lowHz, middleHz, reachHz],
      [middleHz, highHz, reachHz],
    ];
  });
}
