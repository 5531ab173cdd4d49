/**
 * A room that is not there: the impulse response of a reverberant one, of a decay time asked for.
 *
 * Reflections come at random, as dense as in a room of volume V: dN/dt = 4 π c³ t² / V (Kuttruff, Room Acoustics, ch. 4,
 * from memory): single ones first, noise soon. Together they carry the same energy at every moment; octave by octave that
 * energy then decays,
 *
 *   h(t) = Σ band(t) · 10^(−3 t / T_band)        1 / T_band = walls + air
 *
 * so that the tail grows darker as air and walls take the high octaves first. Between 500 Hz and 1 kHz T_band is the time
 * asked for (the middle octaves are what ISO 3382-1 gives as a room's single figure).
 *
 * Left and right have reflections of their own. Only reflections are in it: the sound itself goes beside it.
 */
import { type Biquad, kWeighting } from './measure/k-weighting.ts';
import type { Hertz, Seconds } from './sound.ts';

export const SHORTEST_ROOM_SECONDS = 0.3;
export const LONGEST_ROOM_SECONDS = 8;

export interface RoomImpulse {
  left: Float32Array<ArrayBuffer>;
  right: Float32Array<ArrayBuffer>;
}

const SPEED_OF_SOUND = 343;
/** A room of 1 s is taken to be 10 m wide, and others wider with the root of their time (common practice, no source). */
const WIDTH_AT_ONE_SECOND = 10;
/** From so many reflections a sample on they are noise. */
const DENSE = 0.25;
/** Octaves, and how long walls alone let each ring against the middle ones (common practice, no source). */
const OCTAVES_HZ: readonly Hertz[] = [125, 250, 500, 1000, 2000, 4000, 8000, 16_000];
const WALLS = [0.92, 0.96, 1, 1, 0.94, 0.84, 0.72, 0.6];
const MIDDLE_HZ = 707;
/** Down to −66 dB in the longest octave. */
const LENGTH_SHARE = 1.1;
const FADE_SHARE = 0.05;

/** `seconds` is brought within what is offered. The same seed gives the same room. */
export function roomImpulse(seconds: Seconds, sampleRateHz: Hertz, seed = 1): RoomImpulse {
  const decay = Math.max(SHORTEST_ROOM_SECONDS, Math.min(LONGEST_ROOM_SECONDS, seconds));
  const side = (which: number): Float32Array<ArrayBuffer> => {
    const reflections = reflectionsIn(decay, sampleRateHz, randomFrom(seed * 2 + which));
    return levelled(decayed(reflections, decay, sampleRateHz), sampleRateHz);
  };
  return { left: side(0), right: side(1) };
}

/** Decay time of one octave in a room of `seconds`. */
export function octaveDecay(octaveHz: Hertz, seconds: Seconds): Seconds {
  const share = WALLS[OCTAVES_HZ.indexOf(octaveHz)] ?? 1;
  const walls = (1 / seconds - airRate(MIDDLE_HZ)) / share;
  return 1 / (walls + airRate(octaveHz));
}

/** 1 / (decay time by air alone): the level falls 60 dB over 60 / (attenuation · speed of sound) seconds. */
const airRate = (hertz: Hertz): number => (airAttenuation(hertz) * SPEED_OF_SOUND) / 60;

/** Attenuation by air in dB a metre at 20 °C, 70 % relative humidity and normal pressure (ISO 9613-1, equations 3 to 5). */
export function airAttenuation(hertz: Hertz): number {
  const kelvin = 293.15;
  const saturation = 10 ** (-6.8346 * (273.16 / kelvin) ** 1.261 + 4.6151);
  const vapour = 70 * saturation;
  const oxygen = 24 + 4.04e4 * vapour * ((0.02 + vapour) / (0.391 + vapour));
  const nitrogen = 9 + 280 * vapour;
  const squared = hertz * hertz;
  return (
    8.686 *
    squared *
    (1.84e-11 +
      (0.01275 * Math.exp(-2239.1 / kelvin)) / (oxygen + squared / oxygen) +
      (0.1068 * Math.exp(-3352 / kelvin)) / (nitrogen + squared / nitrogen))
  );
}

/** Single reflections growing into noise, of the same energy at every moment; nothing before the first. */
function reflectionsIn(decay: Seconds, sampleRateHz: Hertz, random: () => number): Float32Array<ArrayBuffer> {
  const out = new Float32Array(Math.ceil(decay * LENGTH_SHARE * sampleRateHz));
  const volume = (WIDTH_AT_ONE_SECOND * Math.sqrt(decay)) ** 3;
  const growth = (4 * Math.PI * SPEED_OF_SOUND ** 3) / volume;
  const denseFrom = Math.sqrt((DENSE * sampleRateHz) / growth);
  for (let number = 1; ; number++) {
    // The time at which so many have come: N(t) = growth t³ / 3.
    const at = Math.cbrt((3 * (number - random())) / growth);
    const frame = Math.round(at * sampleRateHz);
    if (at >= denseFrom || frame >= out.length) break;
    const sign = random() < 0.5 ? -1 : 1;
    out[frame] += sign * Math.sqrt(sampleRateHz / (growth * at * at));
  }
  for (let frame = Math.ceil(denseFrom * sampleRateHz); frame < out.length; frame++) out[frame] = normal(random);
  return out;
}

/** Octave after octave is split off from above and given its own decay; each starts with the same energy. */
function decayed(
  reflections: Float32Array<ArrayBuffer>,
  decay: Seconds,
  sampleRateHz: Hertz,
): Float32Array<ArrayBuffer> {
  const out = new Float32Array(reflections.length);
  const rest = Float32Array.from(reflections);
  for (const octaveHz of [...OCTAVES_HZ].reverse()) {
    const lasts = octaveDecay(octaveHz, decay);
    const edge = octaveHz / Math.SQRT2;
    if (edge > 0.45 * sampleRateHz) continue;
    // No more of it than is heard: high octaves are short.
    const band = rest.slice(0, Math.ceil(lasts * LENGTH_SHARE * sampleRateHz));
    if (octaveHz !== OCTAVES_HZ[0]) {
      filter(band, highPass(edge, sampleRateHz));
      filter(rest, lowPass(edge, sampleRateHz));
    }
    addDecaying(out, band, lasts, 1 / Math.sqrt(octaveHz), sampleRateHz);
  }
  const fade = Math.ceil(out.length * FADE_SHARE);
  for (let back = 0; back < fade; back++) out[out.length - 1 - back] *= back / fade;
  return out;
}

function addDecaying(out: Float32Array, band: Float32Array, lasts: Seconds, gain: number, sampleRateHz: Hertz): void {
  const step = 10 ** (-3 / (lasts * sampleRateHz));
  let envelope = gain;
  for (let frame = 0; frame < band.length; frame++) {
    out[frame] += band[frame] * envelope;
    envelope *= step;
  }
}

/**
 * Scaled so that pink noise, an average of music, is as loud through the room as beside it: both ways the energy is taken
 * through a pinking filter and the K-weighting of ITU-R BS.1770.
 */
function levelled(impulse: Float32Array<ArrayBuffer>, sampleRateHz: Hertz): Float32Array<ArrayBuffer> {
  const unit = new Float32Array(Math.ceil(sampleRateHz / 2));
  unit[0] = 1;
  const gain = Math.sqrt(loudEnergy(unit, sampleRateHz) / Math.max(1e-30, loudEnergy(impulse, sampleRateHz)));
  for (let frame = 0; frame < impulse.length; frame++) impulse[frame] *= gain;
  return impulse;
}

function loudEnergy(samples: Float32Array, sampleRateHz: Hertz): number {
  const { shelf, highPass: low } = kWeighting(sampleRateHz);
  const weighted = pinked(samples, sampleRateHz);
  filter(weighted, [shelf, low]);
  let sum = 0;
  for (const sample of weighted) sum += sample * sample;
  return sum;
}

/** −3 dB an octave: one-pole low-passes two octaves apart, each 6 dB above the next (within 0.5 dB from 40 Hz to 10 kHz). */
function pinked(samples: Float32Array, sampleRateHz: Hertz): Float32Array<ArrayBuffer> {
  const out = new Float32Array(samples.length);
  for (let corner = 10; corner < sampleRateHz / 2; corner *= 4) {
    const keep = Math.exp((-2 * Math.PI * corner) / sampleRateHz);
    const gain = (1 - keep) / Math.sqrt(corner);
    let state = 0;
    for (let frame = 0; frame < samples.length; frame++) {
      state = keep * state + gain * samples[frame];
      out[frame] += state;
    }
  }
  return out;
}

/** Fourth-order Linkwitz-Riley halves: two Butterworth filters in a row, which add up to an even whole. */
const lowPass = (edge: Hertz, sampleRateHz: Hertz): Biquad[] => crossover(edge, sampleRateHz, 1);
const highPass = (edge: Hertz, sampleRateHz: Hertz): Biquad[] => crossover(edge, sampleRateHz, -1);

/** Second-order Butterworth by the bilinear transform; `direction` 1 keeps what is below, −1 what is above. */
function crossover(edge: Hertz, sampleRateHz: Hertz, direction: 1 | -1): Biquad[] {
  const warped = Math.tan((Math.PI * edge) / sampleRateHz);
  const squared = warped * warped;
  const norm = 1 / (1 + Math.SQRT2 * warped + squared);
  const b0 = (direction === 1 ? squared : 1) * norm;
  const half: Biquad = {
    b0,
    b1: 2 * direction * b0,
    b2: b0,
    a1: 2 * (squared - 1) * norm,
    a2: (1 - Math.SQRT2 * warped + squared) * norm,
  };
  return [half, half];
}

/** In place. */
function filter(samples: Float32Array, stages: readonly Biquad[]): void {
  for (const { b0, b1, b2, a1, a2 } of stages) {
    let s1 = 0;
    let s2 = 0;
    for (let frame = 0; frame < samples.length; frame++) {
      const x = samples[frame];
      const y = b0 * x + s1;
      s1 = b1 * x - a1 * y + s2;
      s2 = b2 * x - a2 * y;
      samples[frame] = y;
    }
  }
}

/** Mulberry32: small, even, the same everywhere. */
function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/** Box and Muller's normal deviate. */
function normal(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}
