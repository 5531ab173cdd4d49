/**
 * What needs fine frequency resolution: a second transform of 16 384 samples every 8 192 at 48 kHz (Hann, channels'
 * powers added). Gives the profile by semitones, whether the partials are harmonic, what they say about a pitch, and from
 * every second frame the roughness (of the first two channels).
 */
import { PROFILE_BANDS } from '../sound.ts';
import type { ActivePart } from './active-part.ts';
import { fourierOf, hann } from './fourier.ts';
import { activeFrames, type FrameAnalysis, isSilent } from './frames.ts';
import { doubles, singles } from './growable.ts';
import type { PartialFrame, PartialsVerdict } from './heard-note.ts';
import { type Hum, HumWatch } from './hum.ts';
import { bestRow, MOST_PARTIALS, type Partial, PartialFinder } from './partials.ts';
import { LOUDNESS_EXPONENT } from './pitch-track.ts';
import { profileOf, semitoneBands } from './profile.ts';
import { ANALYSIS_RATE_HZ } from './resample.ts';
import { RoughnessMeter } from './roughness.ts';
import { RulingPartialWatch } from './ruling-partial.ts';

export interface FineSpectrum {
  /** PROFILE_BANDS values, dB below the strongest band, mean over the active part. null for silence. */
  profile: number[] | null;
  /** True where strong partials stand in no harmonic row. null where there are no clear partials. */
  inharmonic: boolean | null;
  /** See roughness.ts. */
  roughness: number | null;
  /** See hum.ts. */
  hum: Hum | null;
}

export const FINE_FRAME = 16_384;
const FINE_HOP = 8_192;
const PARTIALS_LOWEST_HZ = 30;
const PARTIALS_HIGHEST_HZ = 10_000;
/** A frame counts as tonal when its partials hold at least this share of its energy. */
const LEAST_TONAL_SHARE = 0.3;
const LEAST_ROW_SHARE = 0.85;
/** Shorter sounds are nearly all onset. */
const LEAST_FRAMES_TO_SETTLE = 4;

export class FineSpectrumAnalysis implements FrameAnalysis {
  readonly frameSize = FINE_FRAME;
  readonly hopSize = FINE_HOP;
  readonly #fourier = fourierOf(FINE_FRAME);
  readonly #window = hann(FINE_FRAME);
  readonly #power = new Float64Array(FINE_FRAME / 2 + 1);
  readonly #binHz = ANALYSIS_RATE_HZ / FINE_FRAME;
  readonly #bands = semitoneBands(ANALYSIS_RATE_HZ / FINE_FRAME);
  readonly #frameBands = new Float64Array(PROFILE_BANDS);
  readonly #finder = new PartialFinder(ANALYSIS_RATE_HZ / FINE_FRAME, PARTIALS_LOWEST_HZ, PARTIALS_HIGHEST_HZ);
  readonly #energy = doubles();
  readonly #profiles = singles();
  /** Frequency and power of MOST_PARTIALS partials a frame, zeros where there are fewer. */
  readonly #partials = singles();
  readonly #tonalShare = singles();
  readonly #rowShare = singles();
  readonly #ruling = new RulingPartialWatch(ANALYSIS_RATE_HZ / FINE_FRAME);
  readonly #hum = new HumWatch(FINE_FRAME, ANALYSIS_RATE_HZ);
  readonly #roughness = new RoughnessMeter(FINE_FRAME, ANALYSIS_RATE_HZ, (2 * FINE_HOP) / ANALYSIS_RATE_HZ);

  analyse(channels: readonly Float32Array[], offset: number): void {
    const power = this.#power;
    power.fill(0);
    const forRoughness = this.#energy.length % 2 === 0;
    if (isSilent(channels, offset, FINE_FRAME)) {
      if (forRoughness) this.#roughness.pushSilence();
    } else {
      const spectrum = this.#fourier.addPowers(power, channels, offset, FINE_FRAME, this.#window);
      if (forRoughness) this.#roughness.push(spectrum, channels.length > 1 ? 2 : 1);
    }
    let energy = 0;
    for (let k = 1; k < power.length; k++) energy += power[k];
    this.#energy.push(energy);
    this.#bands.compute(power, this.#frameBands);
    for (const value of this.#frameBands) this.#profiles.push(value);
    this.#hum.push(power, energy);
    this.#describePartials(power, energy);
  }

  #describePartials(power: Float64Array, energy: number): void {
    const partials = energy > 0 ? this.#finder.find(power) : [];
    // A partial's main lobe under the Hann window holds 1.5 times the power of a centred peak bin.
    const tonal = partials.reduce((sum, partial) => sum + 1.5 * partial.power, 0);
    this.#ruling.push(power, partials);
    this.#tonalShare.push(energy > 0 ? Math.min(1, tonal / energy) : 0);
    this.#rowShare.push(bestRow(partials, this.#binHz)?.share ?? 0);
    for (let index = 0; index < MOST_PARTIALS; index++) {
      this.#partials.push(partials[index]?.hz ?? 0);
      this.#partials.push(partials[index]?.power ?? 0);
    }
  }

  /** What the partials say about a pitch, over the active part. */
  partialsVerdict(active: ActivePart | null, inharmonic: boolean | null): PartialsVerdict {
    return {
      inharmonic,
      binHz: this.#binHz,
      reachSeconds: FINE_FRAME / 2 / ANALYSIS_RATE_HZ,
      frames: () => this.#partialFrames(...this.#settledFrames(active)),
      rulingPartial: () => this.#ruling.finish(...this.#settledFrames(active)),
    };
  }

  /** The frames of the active part without the first, which straddles the onset: there partials smear, and the blow is loud. */
  #settledFrames(active: ActivePart | null): [number, number] {
    const [from, to] = activeFrames(this.#energy.length, FINE_HOP / ANALYSIS_RATE_HZ, active);
    return [to - from < LEAST_FRAMES_TO_SETTLE ? from : from + 1, to];
  }

  #partialFrames(from: number, to: number): PartialFrame[] {
    return Array.from({ length: to - from }, (_, index) => ({
      seconds: ((from + index) * FINE_HOP) / ANALYSIS_RATE_HZ,
      loudness: this.#energy.values[from + index] ** LOUDNESS_EXPONENT,
      partials: this.#partialsOf(from + index),
    }));
  }

  #partialsOf(frame: number): Partial[] {
    const values = this.#partials.values;
    const first = frame * MOST_PARTIALS * 2;
    const found: Partial[] = [];
    for (let at = first; at < first + MOST_PARTIALS * 2 && values[at] > 0; at += 2) {
      found.push({ hz: values[at], power: values[at + 1] });
    }
    return found;
  }

  finish(active: ActivePart | null): FineSpectrum {
    const energy = this.#energy.values;
    const [from, to] = activeFrames(energy.length, FINE_HOP / ANALYSIS_RATE_HZ, active);
    if (active === null) return { profile: null, inharmonic: null, roughness: null, hum: null };
    const bands = new Float64Array(PROFILE_BANDS);
    const profiles = this.#profiles.values;
    let total = 0;
    let tonal = 0;
    let inRow = 0;
    for (let frame = from; frame < to; frame++) {
      for (let band = 0; band < PROFILE_BANDS; band++) bands[band] += profiles[frame * PROFILE_BANDS + band];
      total += energy[frame];
      if (this.#tonalShare.values[frame] < LEAST_TONAL_SHARE) continue;
      tonal += energy[frame];
      inRow += energy[frame] * this.#rowShare.values[frame];
    }
    const hasPartials = total > 0 && tonal >= total / 2;
    return {
      profile: profileOf(bands),
      inharmonic: hasPartials ? inRow / tonal < LEAST_ROW_SHARE : null,
      roughness: this.#roughness.finish(active),
      hum: this.#hum.finish(),
    };
  }
}
