/**
 * Which note a sound has: the period on which its frames agree (pitch-track.ts), as its partials (fine-spectrum.ts) have it.
 *
 * A period is not yet a note: partials on the 5th, 10th and 12th multiple of a low tone have its period, and nobody hears
 * it. So the partials must fill the period's row. What is certain by its period may be less so by its partials, and the
 * other way round: the two shares together must reach LEAST_BOTH.
 *
 * The octave: a fundamental that sounds, with the third or fifth partial, makes the note as far as WEAK_FUNDAMENTAL_DB below;
 * one that does not sound is heard only where its odd partials hold MISSING_FUNDAMENTAL_SHARE of the power, since the ear makes
 * it of neighbours.
 *
 * Under vibrato partials smear over a frame of 341 ms. There each is looked for where the pitch goes within its frame, and a
 * row that is filled so is enough.
 *
 * A free bar has its partials at 1 : 2.756 : 5.404 : 8.933 (Fletcher & Rossing, The Physics of Musical Instruments; from memory),
 * and the second may be the clearest. A note with a foreign partial under it in most of the sound is none. All bounds are ours.
 */
import type { Hertz, Seconds } from '../sound.ts';
import { HIGHEST_HARMONIC, LEAST_FILLED, type Partial, rowOfPitch } from './partials.ts';
import { type AgreedPitch, agreedPitch, HIGHEST_PITCH_HZ, LOWEST_PITCH_HZ, type PitchTrack } from './pitch-track.ts';
import { powerWeightA, type RulingPartial } from './ruling-partial.ts';

/** What one frame of the fine spectrum says. */
export interface PartialFrame {
  seconds: Seconds;
  /** Of the frame, energy^0.3. */
  loudness: number;
  /** Strongest first. */
  partials: readonly Partial[];
}

/** What the spectrum's partials say about a pitch (fine-spectrum.ts). */
export interface PartialsVerdict {
  inharmonic: boolean | null;
  binHz: number;
  /** Half of what a frame spans. */
  reachSeconds: Seconds;
  /** Those of the active part. */
  frames(): readonly PartialFrame[];
  /** The one partial that drowns all others, or null. */
  rulingPartial(): RulingPartial | null;
}

const LEAST_CONFIDENCE = 0.5;
const LEAST_ROW_SHARE = 0.5;
const LEAST_BOTH = 1.65;
/** Enough where the partials as a whole are harmonic, or too few to tell. */
const HARMONIC_ROW_SHARE = 0.6;
const LEAST_TREMBLING_SHARE = 0.7;
/** A partial stands on a place of the row that is so near, in fundamentals. */
const PLACE_REACH = 0.12;
const WEAK_FUNDAMENTAL_DB = 26;
const MISSING_FUNDAMENTAL_SHARE = 0.03;
/** Share of power that a partial must have to sound at all. */
const SOUNDING_SHARE = 1e-3;
/** The odd places that neighbours of a fundamental stand on. */
const ODD_PLACES = [3, 5, 7, 9] as const;
/** A row an octave down is believed only where it is filled so well. */
const LOWER_ROW_SHARE = 0.9;
const FOREIGN_DB = 20;
const FOREIGN_LOWEST_RATIO = 7;
const FOREIGN_HIGHEST_RATIO = 1.3;
const FOREIGN_APART = 0.06;

export interface HeardPitch {
  pitchHz: Hertz | null;
  /** null for silence. */
  pitchConfidence: number | null;
}

export function heardPitch(track: PitchTrack, partials: PartialsVerdict): HeardPitch {
  const agreed = agreedPitch(track);
  if (agreed === null) return { pitchHz: null, pitchConfidence: null };
  const { confidence } = agreed;
  if (confidence >= LEAST_CONFIDENCE) {
    const pitchHz = noteOfPeriod(agreed, track, partials);
    if (pitchHz !== null) return { pitchHz, pitchConfidence: confidence };
  }
  const ruling = partials.rulingPartial();
  if (ruling === null || ruling.hz < LOWEST_PITCH_HZ || ruling.hz > HIGHEST_PITCH_HZ) {
    return { pitchHz: null, pitchConfidence: confidence };
  }
  return { pitchHz: ruling.hz, pitchConfidence: ruling.share };
}

/** null where the partials do not bear the period out. */
function noteOfPeriod(agreed: AgreedPitch, track: PitchTrack, partials: PartialsVerdict): Hertz | null {
  const frames = followed(partials, agreed, track);
  if (frames.length === 0) return agreed.hz;
  const pitchHz = inItsOctave(agreed.hz, frames, partials.binHz);
  if (foreignShare(pitchHz, frames) >= 0.5) return null;
  if (agreed.trembles && placesOf(pitchHz, frames).share >= LEAST_TREMBLING_SHARE) return pitchHz;
  const row = meanRow(pitchHz, frames, partials.binHz);
  const isBorneOut =
    (row.share >= LEAST_ROW_SHARE && agreed.confidence + row.share >= LEAST_BOTH) ||
    (partials.inharmonic !== true && row.share >= HARMONIC_ROW_SHARE);
  if (!isBorneOut) return null;
  // Partials that stand in no row pull the period to and fro; the row's own fundamental stays.
  return partials.inharmonic === false || agreed.trembles ? pitchHz : row.fundamentalHz;
}

/** A frame with partials, and where the pitch goes meanwhile, over the agreed one. */
interface FollowedFrame extends PartialFrame {
  power: number;
  glide: number;
  spread: number;
}

function followed(partials: PartialsVerdict, agreed: AgreedPitch, track: PitchTrack): FollowedFrame[] {
  let first = 0;
  return partials
    .frames()
    .filter((frame) => frame.partials.length > 0)
    .map((frame) => {
      const power = frame.partials.reduce((sum, partial) => sum + partial.power, 0);
      const begin = (frame.seconds - partials.reachSeconds) / track.hopSeconds;
      const end = (frame.seconds + partials.reachSeconds) / track.hopSeconds;
      while (first < agreed.frames.length && agreed.frames[first] < begin) first++;
      let [lowest, highest, energy, octaves] = [Number.POSITIVE_INFINITY, 0, 0, 0];
      for (let at = first; at < agreed.frames.length && agreed.frames[at] <= end; at++) {
        const number = agreed.frames[at];
        const ratio = track.hz[number] / agreed.hz;
        lowest = Math.min(lowest, ratio);
        highest = Math.max(highest, ratio);
        energy += track.energy[number];
        octaves += track.energy[number] * Math.log2(ratio);
      }
      if (energy <= 0) return { ...frame, power, glide: 1, spread: 0 };
      return { ...frame, power, glide: 2 ** (octaves / energy), spread: highest - lowest };
    });
}

interface Places {
  /** Share of the partials' power that stands in the row, as far up as it is filled well enough. */
  share: number;
  /** Share of all power on each place, 1 = the fundamental's. */
  shares: Float64Array;
}

/** How a row's places are filled, each frame by its loudness; each place as wide as the pitch swings in the frame. */
function placesOf(pitchHz: Hertz, frames: readonly FollowedFrame[]): Places {
  const shares = new Float64Array(HIGHEST_HARMONIC + 1);
  let inRow = 0;
  let total = 0;
  for (const { loudness, partials, power, glide, spread } of frames) {
    const places = new Float64Array(HIGHEST_HARMONIC + 1);
    for (const partial of partials) {
      const exact = partial.hz / (pitchHz * glide);
      const place = Math.round(exact);
      if (place < 1 || place > HIGHEST_HARMONIC) continue;
      if (Math.abs(exact - place) <= PLACE_REACH + (place * spread) / 2) places[place] += partial.power;
    }
    let [sum, filled, credible] = [0, 0, 0];
    places.forEach((placePower, place) => {
      if (placePower <= 0) return;
      shares[place] += (loudness * placePower) / power;
      sum += placePower;
      filled++;
      if (filled >= place * LEAST_FILLED) credible = sum;
    });
    inRow += (loudness * credible) / power;
    total += loudness;
  }
  return { share: inRow / total, shares: shares.map((value) => value / total) };
}

/** The period, octaves up where only even places of its row are filled, or an octave down where a weak fundamental sounds. */
function inItsOctave(periodHz: Hertz, frames: readonly FollowedFrame[], binHz: number): Hertz {
  let pitchHz = periodHz;
  let places = placesOf(pitchHz, frames);
  while (pitchHz * 2 <= HIGHEST_PITCH_HZ && !hasOddPlaces(places)) {
    const above = placesOf(pitchHz * 2, frames);
    if (above.share < 0.85 * places.share) break;
    pitchHz *= 2;
    places = above;
  }
  const lowerHz = pitchHz / 2;
  if (pitchHz > periodHz || lowerHz < LOWEST_PITCH_HZ) return pitchHz;
  const below = placesOf(lowerHz, frames);
  const sounds = below.shares[1] > 10 ** (-WEAK_FUNDAMENTAL_DB / 10) && below.shares[3] > SOUNDING_SHARE;
  if (!sounds || below.share < 0.98 * places.share) return pitchHz;
  return meanRow(lowerHz, frames, binHz).share >= LOWER_ROW_SHARE ? lowerHz : pitchHz;
}

function hasOddPlaces({ shares }: Places): boolean {
  const others = ODD_PLACES.reduce((sum, place) => sum + shares[place], 0);
  if (shares[1] > SOUNDING_SHARE) return shares[1] + others > 2 * SOUNDING_SHARE;
  return others > MISSING_FUNDAMENTAL_SHARE;
}

/** The row of the pitch in each frame (partials.ts), its share and its fundamental in the mean. */
function meanRow(
  pitchHz: Hertz,
  frames: readonly FollowedFrame[],
  binHz: number,
): { share: number; fundamentalHz: Hertz } {
  let [total, inRow, octaves] = [0, 0, 0];
  for (const { loudness, partials, glide } of frames) {
    total += loudness;
    const row = rowOfPitch(pitchHz * glide, partials, binHz);
    if (row === null) continue;
    inRow += loudness * row.share;
    octaves += loudness * row.share * Math.log2(row.fundamentalHz);
  }
  return { share: inRow / total, fundamentalHz: inRow > 0 ? 2 ** (octaves / inRow) : pitchHz };
}

/** Share of the sound in which a partial under the note, of which the note is no harmonic, is as good as heard (weighting A). */
function foreignShare(pitchHz: Hertz, frames: readonly FollowedFrame[]): number {
  let foreign = 0;
  let total = 0;
  for (const { loudness, partials, glide } of frames) {
    total += loudness;
    const heard = (partial: Partial): number => partial.power * powerWeightA(partial.hz);
    const least = Math.max(...partials.map(heard)) * 10 ** (-FOREIGN_DB / 10);
    const isForeign = (partial: Partial): boolean => {
      const ratio = (pitchHz * glide) / partial.hz;
      if (ratio < FOREIGN_HIGHEST_RATIO || ratio > FOREIGN_LOWEST_RATIO) return false;
      return Math.abs(ratio - Math.round(ratio)) > FOREIGN_APART && heard(partial) > least;
    };
    if (partials.some(isForeign)) foreign += loudness;
  }
  return foreign / total;
}
