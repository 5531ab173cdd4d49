/**
 * Mel-frequency cepstrum: the shape of the spectrum in a few numbers, coarse to fine.
 *
 *   mel(f) = 2595 log10(1 + f / 700)                       MEL_BANDS triangles, equally wide in mel, peak 1
 *   E[b] = 10 log10 max(sum_k weight[b][k] power[k], floor)     floor: FLOOR_DB below the frame's strongest band
 *   c[i] = sqrt(2 / B) sum_b E[b] cos(pi i (b + 1/2) / B)       c[0] with sqrt(1 / B): orthonormal DCT-II
 *
 * Davis & Mermelstein, IEEE Trans. ASSP 28(4), 1980; mel scale after O'Shaughnessy 1987 (both from memory).
 * Unit: dB. All sounds are analysed at 48 kHz, so the bands are always the same.
 */
import { CEPSTRUM_COEFFICIENTS } from '../sound.ts';

export const MEL_BANDS = 40;
export const MEL_LOWEST_HZ = 30;
/** What files at 44.1 kHz and most lossy codecs still hold. */
export const MEL_HIGHEST_HZ = 16_000;
export const MEL_FLOOR_DB = -80;

export class Cepstrum {
  readonly #firstBin = new Int32Array(MEL_BANDS);
  readonly #weights: Float64Array[] = [];
  readonly #cosines: Float64Array;
  readonly #bandsDb = new Float64Array(MEL_BANDS);

  constructor(binHz: number, bins: number) {
    const step = (mel(MEL_HIGHEST_HZ) - mel(MEL_LOWEST_HZ)) / (MEL_BANDS + 1);
    const edgeHz = (edge: number): number => melToHz(mel(MEL_LOWEST_HZ) + edge * step);
    for (let band = 0; band < MEL_BANDS; band++) {
      const [low, middle, high] = [edgeHz(band), edgeHz(band + 1), edgeHz(band + 2)];
      const first = Math.ceil(low / binHz);
      const last = Math.min(bins - 1, Math.floor(high / binHz));
      this.#firstBin[band] = first;
      this.#weights.push(
        Float64Array.from({ length: Math.max(0, last - first + 1) }, (_, index) => {
          const hz = (first + index) * binHz;
          return Math.min((hz - low) / (middle - low), (high - hz) / (high - middle));
        }),
      );
    }
    this.#cosines = new Float64Array(CEPSTRUM_COEFFICIENTS * MEL_BANDS);
    for (let i = 0; i < CEPSTRUM_COEFFICIENTS; i++) {
      const scale = Math.sqrt((i === 0 ? 1 : 2) / MEL_BANDS);
      for (let band = 0; band < MEL_BANDS; band++) {
        this.#cosines[i * MEL_BANDS + band] = scale * Math.cos((Math.PI * i * (band + 0.5)) / MEL_BANDS);
      }
    }
  }

  /** Cepstrum of one power spectrum into `coefficients`. A spectrum without energy gives zeros. */
  compute(power: Float64Array, coefficients: Float64Array): void {
    const bands = this.#bandsDb;
    let strongest = 0;
    for (let band = 0; band < MEL_BANDS; band++) {
      const weights = this.#weights[band];
      const first = this.#firstBin[band];
      let sum = 0;
      for (let index = 0; index < weights.length; index++) sum += weights[index] * power[first + index];
      bands[band] = sum;
      if (sum > strongest) strongest = sum;
    }
    if (strongest === 0) {
      coefficients.fill(0);
      return;
    }
    const floor = strongest * 10 ** (MEL_FLOOR_DB / 10);
    for (let band = 0; band < MEL_BANDS; band++) bands[band] = 10 * Math.log10(Math.max(bands[band], floor));
    for (let i = 0; i < coefficients.length; i++) {
      let sum = 0;
      for (let band = 0; band < MEL_BANDS; band++) sum += this.#cosines[i * MEL_BANDS + band] * bands[band];
      coefficients[i] = sum;
    }
  }
}

function mel(hz: number): number {
  return 2595 * Math.log10(1 + hz / 700);
}

function melToHz(value: number): number {
  return 700 * (10 ** (value / 2595) - 1);
}
