/**
 * Roughness: how strongly the level inside the ear's critical bands flutters at the rates heard as rough.
 *
 *   m[b]      depth of the amplitude modulation of band b between 20 and 300 Hz, weighted by w(f)^2
 *   w(f)      f/70 exp(1 - f/70): greatest at 70 modulations a second
 *   roughness sum_b a[b] m[b]^1.6 / sum_b a[b]        a[b] = root of the band's energy
 *
 * 0 = smooth; a 1 kHz tone fully modulated at 70 Hz (1 asper at 60 dB) reads 0.9, white noise 0.2; never above 1. A modulation model after Fastl & Zwicker, Psychoacoustics, chapter 11 (critical bands, the peak
 * at 70 Hz, the exponent 1.6; from memory), without their masking model: not in asper.
 * null for silence and below 50 ms, where no such rate can be told. Level and channels do not change it.
 */
import type { ActivePart } from './active-part.ts';
import { BandEnvelopes } from './band-envelopes.ts';
import { activeFrames } from './frames.ts';
import { doubles, singles } from './growable.ts';

const LOWEST_MODULATION_HZ = 20;
const HIGHEST_MODULATION_HZ = 300;
const SHORTEST_SECONDS = 0.05;

/** Takes the spectra of frames `hopSeconds` apart and gives one roughness for the sound. */
export class RoughnessMeter {
  readonly #hopSeconds: number;
  readonly #envelopes: BandEnvelopes;
  readonly #energy = doubles();
  readonly #roughness = singles();

  constructor(frameSize: number, sampleRateHz: number, hopSeconds: number) {
    this.#hopSeconds = hopSeconds;
    this.#envelopes = new BandEnvelopes(frameSize, sampleRateHz, HIGHEST_MODULATION_HZ, modulationWeight);
  }

  pushSilence(): void {
    this.#energy.push(0);
    this.#roughness.push(0);
  }

  /** `spectrum`: Z of one channel or a pair, as Fourier.addPower returns it. */
  push(spectrum: Float64Array, channels: 1 | 2): void {
    let energy = 0;
    let weights = 0;
    let sum = 0;
    for (const band of this.#envelopes.measure(spectrum, channels)) {
      const weight = Math.sqrt(band.energy);
      energy += band.energy;
      weights += weight;
      sum += weight * Math.min(1, band.depth) ** 1.6;
    }
    this.#energy.push(energy);
    this.#roughness.push(weights > 0 ? sum / weights : 0);
  }

  finish(active: ActivePart | null): number | null {
    const energy = this.#energy.values;
    if (active === null || active.endSeconds - active.startSeconds < SHORTEST_SECONDS) return null;
    const [from, to] = activeFrames(energy.length, this.#hopSeconds, active);
    let total = 0;
    let sum = 0;
    for (let frame = from; frame < to; frame++) {
      total += energy[frame];
      sum += energy[frame] * this.#roughness.values[frame];
    }
    return total > 0 ? sum / total : null;
  }
}

/** Weight of a modulation rate on the power of the modulation. */
function modulationWeight(hz: number): number {
  if (hz < LOWEST_MODULATION_HZ || hz > HIGHEST_MODULATION_HZ) return 0;
  return ((hz / 70) * Math.exp(1 - hz / 70)) ** 2;
}
