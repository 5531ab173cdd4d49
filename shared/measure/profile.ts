/**
 * Energy by pitch: PROFILE_BANDS bands of one semitone from PROFILE_LOWEST_HZ on.
 *
 *   band[b] = sum over bins of power * share of the bin (f[k] +- half a bin) that lies in the band
 *   profile[b] = 10 log10 (band[b] / strongest band), not below PROFILE_FLOOR_DB
 *
 * From transforms of 16 384 samples (2.93 Hz a bin at 48 kHz): below about 200 Hz the window is wider than a
 * semitone, so low notes spread over their neighbours.
 */
import { PROFILE_BANDS, PROFILE_LOWEST_HZ } from '../sound.ts';
import { remembered } from './memo.ts';

export const PROFILE_FLOOR_DB = -80;

class SemitoneBands {
  readonly #first = new Int32Array(PROFILE_BANDS);
  readonly #shares: Float64Array[] = [];

  constructor(binHz: number) {
    for (let band = 0; band < PROFILE_BANDS; band++) {
      const low = (PROFILE_LOWEST_HZ * 2 ** ((band - 0.5) / 12)) / binHz;
      const high = (PROFILE_LOWEST_HZ * 2 ** ((band + 0.5) / 12)) / binHz;
      const first = Math.round(low);
      const last = Math.round(high);
      this.#first[band] = first;
      this.#shares.push(
        Float64Array.from({ length: last - first + 1 }, (_, index) => {
          const bin = first + index;
          return Math.max(0, Math.min(bin + 0.5, high) - Math.max(bin - 0.5, low));
        }),
      );
    }
  }

  /** Energy of every band of one power spectrum. */
  compute(power: Float64Array, bands: Float64Array): void {
    for (let band = 0; band < PROFILE_BANDS; band++) {
      const shares = this.#shares[band];
      const first = this.#first[band];
      let sum = 0;
      for (let index = 0; index < shares.length; index++) sum += shares[index] * power[first + index];
      bands[band] = sum;
    }
  }
}

export const semitoneBands = remembered((binHz: number) => new SemitoneBands(binHz));

/** Bands in dB below the strongest; null where none holds energy. */
export function profileOf(bands: Float64Array): number[] | null {
  const strongest = Math.max(...bands);
  if (!(strongest > 0)) return null;
  return Array.from(bands, (energy) =>
    energy > 0 ? Math.max(PROFILE_FLOOR_DB, 10 * Math.log10(energy / strongest)) : PROFILE_FLOOR_DB,
  );
}
