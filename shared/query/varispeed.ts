/**
 * What a sound is at another speed, from what was measured as recorded: nothing is played or measured again.
 *
 * At `semitones` the tape runs at rate = 2^(semitones / 12). Times are divided by it, frequencies multiplied, the shape
 * stays. That much is exact. What is not:
 *
 * - The band ends. Nothing lies above half the sample rate times the rate, so a sound played down stays dull on top;
 *   what rises over BAND_TOP_HZ, or sinks below what 2048 samples tell from a standing offset (about 20 Hz), is gone.
 *   The centroid is that of what is left, worked out from the profile. Energy under the profile (26.7 Hz: rumble) is not
 *   known by band: where it is so much that profile and centroid disagree, no centroid is told.
 * - Windows do not stretch. Attack, decay and the sounding part are read with fixed windows and thresholds, so that
 *   measuring again gives them somewhat differently (tests/bench/varispeed-table.ts prints by how much).
 * - Roughness, flatness, loudness and the cepstrum hang on fixed bands (the ear's, the K filter's, the mel filters'):
 *   they do not follow from their values as recorded. Here they are null; a question about them goes by the recording.
 */
import { nearestNote, semitonesToRate } from '../music.ts';
import type { NumericField } from '../shelf.ts';
import { type Measurements, PROFILE_BANDS, type Semitones } from '../sound.ts';
import type { SoundColumns } from './columns.ts';
import { profileAt, type Remains, remainsAt, SILENT_BAND_DB } from './varispeed-bands.ts';

/** Varispeed goes two octaves either way: further off it is another sound. */
export const MOST_SEMITONES = 24;

/** More speeds at once than anybody compares by ear. */
export const MOST_SHIFTS = 8;

/**
 * "-24 -12, 12" to the shifts it names, in their order: numbers within two octaves, parted by spaces or commas; 0 and
 * repetitions are passed over. null where something else stands there, or more than MOST_SHIFTS.
 */
export function parseShifts(text: string): Semitones[] | null {
  const pieces = text.replaceAll('−', '-').split(/[\s,;]+/);
  const shifts = new Set<Semitones>();
  for (const piece of pieces.filter((written) => written !== '' && written !== 'st')) {
    const semitones = Number(piece);
    if (!/^[+-]?\d+(\.\d+)?$/.test(piece) || Math.abs(semitones) > MOST_SEMITONES) return null;
    if (semitones !== 0) shifts.add(semitones);
  }
  return shifts.size <= MOST_SHIFTS ? [...shifts] : null;
}

/** A pitch outside this is none: below, single beats are heard; above, no note (the range of what is measured). */
export const LOWEST_HEARD_PITCH_HZ = 25;
export const HIGHEST_HEARD_PITCH_HZ = 5_000;

/** What speed does to a value: it goes with the rate, against it, stays, or cannot be told from the value alone. */
export type Course = 'with' | 'against' | 'stays' | 'unknown';

export const COURSES: Readonly<Record<keyof Measurements, Course>> = {
  durationSeconds: 'against',
  sampleRateHz: 'stays',
  channels: 'stays',
  bitDepth: 'stays',
  integratedLufs: 'unknown',
  momentaryMaxLufs: 'unknown',
  shortTermMaxLufs: 'unknown',
  loudnessRangeLu: 'unknown',
  truePeakDbtp: 'stays',
  samplePeakDbfs: 'stays',
  noiseFloorDbfs: 'stays',
  crestDb: 'stays',
  slateEndSeconds: 'against',
  activeStartSeconds: 'against',
  activeSeconds: 'against',
  attackSeconds: 'against',
  decaySeconds: 'against',
  temporalCentroid: 'stays',
  climaxSeconds: 'against',
  accents: 'against',
  gesture: 'stays',
  contour: 'stays',
  centroidHz: 'with',
  spreadHz: 'with',
  flatness: 'unknown',
  rolloffHz: 'with',
  pitchHz: 'with',
  pitchConfidence: 'unknown',
  note: 'with',
  centsOff: 'with',
  rootNote: 'stays',
  pulseBpm: 'with',
  tremoloHz: 'with',
  brightnessSlope: 'with',
  stereoWidth: 'stays',
  correlation: 'stays',
  clippedSamples: 'stays',
  dcOffset: 'stays',
  faults: 'stays',
  faultDetails: 'stays',
  roughness: 'unknown',
  inharmonic: 'stays',
  profile: 'with',
  cepstrumMean: 'unknown',
  cepstrumSpread: 'unknown',
};

/** The record of a sound at another speed. Faults and the sample rate stay those of the recording. */
export function atVarispeed(recorded: Measurements, semitones: Semitones): Measurements {
  if (semitones === 0) return recorded;
  const rate = semitonesToRate(semitones);
  const slower = (value: number | null) => value && value / rate;
  const faster = (value: number | null) => value && value * rate;
  const remains = recorded.profile && remainsAt(semitones)(energiesOf(recorded.profile));
  const pitchHz = heardPitch(recorded.pitchHz, rate);
  const note = pitchHz === null ? null : nearestNote(pitchHz);
  return {
    ...recorded,
    durationSeconds: recorded.durationSeconds / rate,
    slateEndSeconds: slower(recorded.slateEndSeconds),
    activeStartSeconds: slower(recorded.activeStartSeconds),
    activeSeconds: slower(recorded.activeSeconds),
    attackSeconds: slower(recorded.attackSeconds),
    decaySeconds: slower(recorded.decaySeconds),
    climaxSeconds: slower(recorded.climaxSeconds),
    accents: recorded.accents.map(({ seconds, strengthDb }) => ({ seconds: seconds / rate, strengthDb })),
    centroidHz: remains && centroidAt(recorded.centroidHz ?? Number.NaN, remains),
    spreadHz: faster(recorded.spreadHz),
    rolloffHz: faster(recorded.rolloffHz),
    pitchHz,
    note: note?.name ?? null,
    centsOff: note?.centsOff ?? null,
    pulseBpm: faster(recorded.pulseBpm),
    tremoloHz: faster(recorded.tremoloHz),
    brightnessSlope: faster(recorded.brightnessSlope),
    profile: recorded.profile && profileAt(recorded.profile, semitones),
    integratedLufs: null,
    momentaryMaxLufs: null,
    shortTermMaxLufs: null,
    loudnessRangeLu: null,
    flatness: null,
    pitchConfidence: null,
    roughness: null,
    cepstrumMean: null,
    cepstrumSpread: null,
  };
}

/**
 * Share 0..1 of a sound's energy that is still within what is measured and heard after a shift; null for silence. The
 * rest has risen over it or sunk below.
 */
export function keptShare(recorded: Measurements, semitones: Semitones): number | null {
  return recorded.profile && remainsAt(semitones)(energiesOf(recorded.profile)).keptShare;
}

/** What a field's values are multiplied with; 1 for what stays or cannot be told. */
export function factorUnder(field: NumericField, semitones: Semitones): number {
  const course = isMeasured(field) ? COURSES[field] : 'stays';
  const rate = semitonesToRate(semitones);
  return course === 'with' ? rate : course === 'against' ? 1 / rate : 1;
}

/** True where a field's value at another speed is not known, so that the recording's has to stand for it. */
export function isUnknownUnder(field: NumericField): boolean {
  return isMeasured(field) && COURSES[field] === 'unknown';
}

/** True where a field's value is another at another speed. */
export function changesUnder(field: NumericField): boolean {
  return factorUnder(field, MOST_SEMITONES) !== 1;
}

function isMeasured(field: NumericField): field is NumericField & keyof Measurements {
  return field in COURSES;
}

/** One field of any sound of a shelf, at another speed; NaN where it has no meaning there. */
export function fieldAt(columns: SoundColumns, field: NumericField, semitones: Semitones): (sound: number) => number {
  const values = columns.number(field);
  if (semitones === 0) return (sound) => values[sound];
  const factor = factorUnder(field, semitones);
  if (field === 'pitchHz') return (sound) => heardPitch(values[sound], factor) ?? Number.NaN;
  if (field === 'centroidHz') {
    const remains = remainsAt(semitones);
    const energies = new Float64Array(PROFILE_BANDS);
    return (sound) => {
      const profile = columns.profile(sound);
      if (profile === null) return Number.NaN;
      for (let band = 0; band < energies.length; band++) energies[band] = ENERGY_OF_STEP[profile[band]];
      return centroidAt(values[sound], remains(energies)) ?? Number.NaN;
    };
  }
  return (sound) => values[sound] * factor;
}

/** Profiles in columns are kept in thirds of a decibel below the strongest band. */
const ENERGY_OF_STEP = Float64Array.from({ length: 256 }, (_, step) => (step >= 240 ? 0 : 10 ** (-step / 30)));

const energiesOf = (profile: readonly number[]): Float64Array =>
  Float64Array.from(profile, (level) => (level > SILENT_BAND_DB ? 10 ** (level / 10) : 0));

/** Frames weigh a strike not quite as the profile's do; further apart than this it is energy outside the profile. */
const MOST_DISAGREEMENT = 1 / 8;

function centroidAt(recordedHz: number, { centroidFactor, centroidHz }: Remains): number | null {
  if (centroidFactor === null || !(Math.abs(recordedHz / centroidHz - 1) <= MOST_DISAGREEMENT)) return null;
  return recordedHz * centroidFactor;
}

function heardPitch(hertz: number | null, rate: number): number | null {
  if (hertz === null) return null;
  const moved = hertz * rate;
  return moved >= LOWEST_HEARD_PITCH_HZ && moved <= HIGHEST_HEARD_PITCH_HZ ? moved : null;
}
