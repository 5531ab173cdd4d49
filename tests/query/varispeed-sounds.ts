/**
 * Sounds measured as recorded and again at another speed, to hold predictions against. Real ones: every few of
 * supersonic-scsynth-samples (CC0) by name, so that nobody picks what suits, and piano notes (CC BY 3.0).
 */
import { readdirSync } from 'node:fs';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { measureBlocks } from '../../shared/measure/measure.ts';
import { atVarispeed } from '../../shared/query/varispeed.ts';
import { type Measurements, PROFILE_BANDS, PROFILE_LOWEST_HZ } from '../../shared/sound.ts';
import { PIANO, SAMPLES } from '../measure/recordings.ts';
import { joined, randomNumbers, whiteNoise } from '../measure/tones.ts';

export interface Recording {
  name: string;
  rateHz: number;
  channels: readonly Float32Array[];
}

const MOST_SECONDS = 2;
const MADE_AT_HZ = 48_000;

export async function realSounds(everySo: number): Promise<Recording[]> {
  const files = readdirSync(SAMPLES)
    .filter((file) => file.endsWith('.flac'))
    .sort()
    .filter((_, at) => at % everySo === 0);
  const notes = ['A1', 'A2', 'A3', 'A4', 'A5', 'A6'];
  return Promise.all([
    ...files.map((file) => load(file.replace('.flac', ''), SAMPLES + file)),
    ...notes.map((note) => load(`piano ${note}`, `${PIANO}${note}v10.ogg`)),
  ]);
}

async function load(name: string, path: string): Promise<Recording> {
  const stream = await openAudio(path);
  const { sampleRateHz, channels } = stream.format;
  const parts: Float32Array[][] = Array.from({ length: channels }, () => []);
  for await (const block of stream.blocks({ startFrame: 0, endFrame: MOST_SECONDS * sampleRateHz })) {
    for (let channel = 0; channel < channels; channel++) parts[channel].push(block[channel].slice());
  }
  await stream.close();
  return { name, rateHz: sampleRateHz, channels: parts.map((blocks) => joined(...blocks)) };
}

/** A struck bell of inharmonic partials, a plucked row of harmonics, a swell of noise, strikes in a row. */
export function madeSounds(): Recording[] {
  const random = randomNumbers(5);
  const seconds = 1.5;
  const ringing = (
    name: string,
    partials: readonly (readonly [hertz: number, level: number, ringsSeconds: number])[],
  ) => {
    const samples = new Float32Array(seconds * MADE_AT_HZ);
    for (const [hertz, level, rings] of partials) {
      const phase = random() * 2 * Math.PI;
      for (let n = 0; n < samples.length; n++) {
        const at = n / MADE_AT_HZ;
        samples[n] +=
          level * Math.min(1, at / 0.002) * Math.exp(-at / rings) * Math.sin(2 * Math.PI * hertz * at + phase);
      }
    }
    return { name, rateHz: MADE_AT_HZ, channels: [samples] };
  };
  const noise = whiteNoise(seconds, MADE_AT_HZ, 0.1, 3);
  let dark = 0;
  const swell = noise.map((x, n) => {
    dark += 0.2 * (x - dark);
    return dark * Math.sin((Math.PI * n) / noise.length) ** 2;
  });
  const strikes = noise.map((x, n) => x * Math.exp(-(n % 14_400) / 1500));
  return [
    ringing(
      'made bell',
      [520, 1043, 1270, 1730, 2610, 3480].map((hertz, n) => [hertz, 0.1, 0.5 / (n + 1)]),
    ),
    ringing(
      'made string',
      Array.from({ length: 12 }, (_, n) => [196 * (n + 1), 0.15 / (n + 1), 0.8 / (n + 1)]),
    ),
    { name: 'made swell', rateHz: MADE_AT_HZ, channels: [swell] },
    { name: 'made strikes', rateHz: MADE_AT_HZ, channels: [strikes] },
  ];
}

export function measured({ rateHz, channels }: Recording): Measurements {
  return measureBlocks([channels], { sampleRateHz: rateHz, channels: channels.length, bitDepth: 24, channelMask: null })
    .measurements;
}

/** Exact varispeed: the same samples, said to run at another rate. `semitones` is what the whole number of Hz makes it. */
export function declared(sound: Recording, semitones: number): { played: Recording; semitones: number } {
  const rateHz = Math.round(sound.rateHz * 2 ** (semitones / 12));
  return { played: { ...sound, rateHz }, semitones: 12 * Math.log2(rateHz / sound.rateHz) };
}

const HALF_TAPS = 48;

/**
 * Really resampled, at the recording's own rate: a sinc of 96 zero crossings under a Blackman window (Harris, Proc. IEEE
 * 66(1), 1978), cut off at what both rates hold. Shares nothing with the project's own resampler.
 */
export function resampled(sound: Recording, semitones: number): Recording {
  const rate = 2 ** (semitones / 12);
  const cutoff = Math.min(1, 1 / rate);
  const reach = HALF_TAPS / cutoff;
  const channels = sound.channels.map((samples) =>
    Float32Array.from({ length: Math.round(samples.length / rate) }, (_, m) => {
      const at = m * rate;
      let sum = 0;
      for (let n = Math.max(0, Math.ceil(at - reach)); n <= Math.min(samples.length - 1, at + reach); n++) {
        const distance = at - n;
        const turn = Math.PI * distance * cutoff;
        const share = (Math.PI * distance) / reach;
        const window = 0.42 + 0.5 * Math.cos(share) + 0.08 * Math.cos(2 * share);
        sum += samples[n] * cutoff * window * (distance === 0 ? 1 : Math.sin(turn) / turn);
      }
      return sum;
    }),
  );
  return { ...sound, channels };
}

/** One line of the table: what was predicted beside what was measured. */
export interface Comparison {
  name: string;
  semitones: number;
  lengthShare: number;
  /** null where one of both has none, or none is told. */
  centroidShare: number | null;
  pitchCents: number | null;
  /** Pitched as predicted and as measured. */
  pitched: readonly [predicted: boolean, measured: boolean];
  /** The less sure of both measurements. */
  pitchConfidence: number;
  profileDb: number | null;
  attackShare: number | null;
  decayShare: number | null;
  activeShare: number | null;
}

export function compare(name: string, recorded: Measurements, played: Measurements, semitones: number): Comparison {
  const predicted = atVarispeed(recorded, semitones);
  const off = (field: 'centroidHz' | 'attackSeconds' | 'decaySeconds' | 'activeSeconds'): number | null => {
    const [told, found] = [predicted[field], played[field]];
    return told && found ? found / told - 1 : null;
  };
  const bothPitched = predicted.pitchHz !== null && played.pitchHz !== null;
  return {
    name,
    semitones,
    lengthShare: played.durationSeconds / predicted.durationSeconds - 1,
    centroidShare: off('centroidHz'),
    pitchCents: bothPitched ? 1200 * Math.log2((played.pitchHz ?? 1) / (predicted.pitchHz ?? 1)) : null,
    pitched: [predicted.pitchHz !== null, played.pitchHz !== null],
    pitchConfidence: Math.min(recorded.pitchConfidence ?? 0, played.pitchConfidence ?? 0),
    profileDb: profileDistance(predicted.profile, played.profile, semitones),
    attackShare: off('attackSeconds'),
    decayShare: off('decaySeconds'),
    activeShare: off('activeSeconds'),
  };
}

/** Below this the window of the profile is wider than a semitone (shared/measure/profile.ts). */
const NARROW_BANDS_HZ = 200;

/**
 * Mean difference of bands in dB, weighted by the energy of the stronger of both. Going up, only bands that were narrower
 * than a semitone as recorded: what the window smeared once stays smeared.
 */
function profileDistance(told: number[] | null, found: number[] | null, semitones: number): number | null {
  if (told === null || found === null) return null;
  const lowestHz = semitones > 0 ? NARROW_BANDS_HZ * 2 ** (semitones / 12) : 0;
  let distance = 0;
  let weight = 0;
  for (let band = 0; band < PROFILE_BANDS; band++) {
    if (PROFILE_LOWEST_HZ * 2 ** (band / 12) < lowestHz) continue;
    const energy = 10 ** (Math.max(told[band], found[band]) / 10);
    distance += energy * Math.abs(told[band] - found[band]);
    weight += energy;
  }
  return weight > 0 ? distance / weight : null;
}

/** The table for reading. */
export function tableOf(rows: readonly Comparison[]): string {
  const percent = (value: number | null) => (value === null ? '-' : `${(value * 100).toFixed(1)} %`).padStart(9);
  const figure = (value: number | null, unit: string) =>
    (value === null ? '-' : `${value.toFixed(1)} ${unit}`).padStart(9);
  const head =
    'sound'.padEnd(24) +
    ['st', 'length', 'centroid', 'pitch', 'profile', 'sounding', 'attack', 'decay']
      .map((name) => name.padStart(9))
      .join('');
  return [
    head,
    ...rows.map(
      (row) =>
        row.name.padEnd(24) +
        row.semitones.toFixed(2).padStart(9) +
        percent(row.lengthShare) +
        percent(row.centroidShare) +
        figure(row.pitchCents, 'ct') +
        figure(row.profileDb, 'dB') +
        percent(row.activeShare) +
        percent(row.attackShare) +
        percent(row.decayShare),
    ),
  ].join('\n');
}
