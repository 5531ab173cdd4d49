/**
 * Predictions for another speed against sounds really played at it and measured again.
 *
 * Bounds, set before measuring: length 1 %, pitch 10 cents, centroid 5 % (under a semitone, while colours go by thirds of
 * an archive that spans octaves), profile 3 dB on average over the bands that matter (neighbouring bands of a bell differ
 * by ten times that). `node tests/bench/varispeed-table.ts` prints the table.
 */
import { expect, test } from 'vitest';
import { FINE_FRAME } from '../../shared/measure/fine-spectrum.ts';
import { HIGHEST_PITCH_HZ, LOWEST_PITCH_HZ } from '../../shared/measure/pitch-track.ts';
import { PROFILE_FLOOR_DB } from '../../shared/measure/profile.ts';
import { ANALYSIS_RATE_HZ } from '../../shared/measure/resample.ts';
import { SPECTRUM_FRAME } from '../../shared/measure/spectrum.ts';
import {
  atVarispeed,
  COURSES,
  fieldAt,
  HIGHEST_HEARD_PITCH_HZ,
  keptShare,
  LOWEST_HEARD_PITCH_HZ,
  parseShifts,
} from '../../shared/query/varispeed.ts';
import {
  BAND_TOP_HZ,
  COLOUR_BIN_HZ,
  PROFILE_BIN_HZ,
  profileAt,
  SILENT_BAND_DB,
  seenAt,
} from '../../shared/query/varispeed-bands.ts';
import { NUMERIC_FIELDS } from '../../shared/shelf.ts';
import { sine } from '../measure/tones.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';
import {
  type Comparison,
  compare,
  declared,
  madeSounds,
  measured,
  realSounds,
  resampled,
  tableOf,
} from './varispeed-sounds.ts';

const SHIFTS = [-24, -12, -7, 12] as const;
const EVERY_SO_MANY = 8;
const BOUNDS = { length: 0.01, centroid: 0.05, cents: 10, profileDb: 3 };
/** Below this, frames of a sound disagree about its pitch by up to half a semitone: it glides, or two rule in turn. */
const SURE_OF_PITCH = 0.9;
const HALF_A_SEMITONE_CENTS = 50;
/** Periods that a frame of the pitch meter (85 ms) must hold at both speeds for cents to mean something. */
const LEAST_PERIODS = 5;
const PITCH_FRAME_SECONDS = 4096 / 48_000;

function beyondBounds(rows: readonly Comparison[]): Comparison[] {
  const beyond = (value: number | null, bound: number) => value !== null && Math.abs(value) > bound;
  return rows.filter(
    (row) =>
      beyond(row.lengthShare, BOUNDS.length) ||
      beyond(row.centroidShare, BOUNDS.centroid) ||
      beyond(row.profileDb, BOUNDS.profileDb),
  );
}

test('real and made sounds at four speeds measure as predicted', async () => {
  const sounds = [...(await realSounds(EVERY_SO_MANY)), ...madeSounds()];
  const clearlyPitched: Comparison[] = [];
  const rows = sounds.flatMap((sound) => {
    const recorded = measured(sound);
    return SHIFTS.map((shift) => {
      const { played, semitones } = declared(sound, shift);
      const row = compare(sound.name, recorded, measured(played), semitones);
      const lowestHz = (recorded.pitchHz ?? 0) * Math.min(1, 2 ** (semitones / 12));
      if (row.pitchConfidence >= SURE_OF_PITCH && lowestHz * PITCH_FRAME_SECONDS >= LEAST_PERIODS)
        clearlyPitched.push(row);
      return row;
    });
  });
  const table = tableOf(rows);
  expect(new Set(rows.map(({ name }) => name)).size, table).toBeGreaterThanOrEqual(36);
  expect(beyondBounds(rows), table).toEqual([]);
  // A centroid is told for nearly all: rumble under the profile is rare.
  expect(rows.filter(({ centroidShare }) => centroidShare === null).length, table).toBeLessThan(rows.length / 20);
  expect(clearlyPitched.length, table).toBeGreaterThan(20);
  for (const { name, pitchCents } of clearlyPitched) {
    if (pitchCents !== null) expect(Math.abs(pitchCents), `${name}\n${table}`).toBeLessThanOrEqual(BOUNDS.cents);
  }
  // Of those told to have a pitch all but a few have one, and none is further off than its own frames are from each other.
  const told = rows.filter(({ pitched }) => pitched[0]);
  expect(told.length, table).toBeGreaterThan(35);
  expect(told.filter(({ pitched }) => pitched[1]).length / told.length, table).toBeGreaterThan(0.9);
  for (const { name, pitchCents } of told) {
    expect(Math.abs(pitchCents ?? 0), `${name}\n${table}`).toBeLessThanOrEqual(HALF_A_SEMITONE_CENTS);
  }
});

test('an independent resampler gives what declaring another rate gives', async () => {
  const real = (await realSounds(40)).slice(0, 3);
  const short = [...madeSounds().slice(0, 2), ...real].map((sound) => ({
    ...sound,
    channels: [sound.channels[0].slice(0, 0.7 * sound.rateHz)],
  }));
  const rows = short.flatMap((sound) => {
    const recorded = measured(sound);
    return SHIFTS.map((shift) => compare(sound.name, recorded, measured(resampled(sound, shift)), shift));
  });
  expect(rows.length).toBeGreaterThanOrEqual(20);
  expect(beyondBounds(rows), tableOf(rows)).toEqual([]);
});

test('a bell two octaves down: hand-computed', () => {
  const [bell] = inventSounds(1, 9);
  const recorded = {
    ...bell,
    durationSeconds: 2,
    activeStartSeconds: 0.1,
    climaxSeconds: 0.25,
    accents: [{ seconds: 0.25, strengthDb: 20 }],
    pitchHz: 880,
    centroidHz: null,
    brightnessSlope: -2,
    tremoloHz: 6,
    pulseBpm: 120,
  };
  expect(atVarispeed(recorded, -24)).toMatchObject({
    durationSeconds: 8,
    activeStartSeconds: 0.4,
    climaxSeconds: 1,
    accents: [{ seconds: 1, strengthDb: 20 }],
    pitchHz: 220,
    note: 'A3',
    brightnessSlope: -0.5,
    tremoloHz: 1.5,
    pulseBpm: 30,
    gesture: recorded.gesture,
    contour: recorded.contour,
    roughness: null,
    cepstrumMean: null,
    integratedLufs: null,
  });
  expect(atVarispeed(recorded, 0)).toBe(recorded);
});

test('speeds are read as people write them', () => {
  expect(parseShifts('-24 -12, +12')).toEqual([-24, -12, 12]);
  expect(parseShifts('−7 st; 0 -7.5 -7')).toEqual([-7, -7.5]);
  expect(parseShifts('')).toEqual([]);
  for (const wrong of ['low', '-25', '12e1', '--3', '1 2 3 4 5 6 7 8 9']) expect(parseShifts(wrong)).toBeNull();
});

test('a pitch that leaves what is heard as one is none', () => {
  const [sound] = inventSounds(1, 9);
  expect(atVarispeed({ ...sound, pitchHz: 82.4 }, -24)).toMatchObject({ pitchHz: null, note: null, centsOff: null });
  expect(atVarispeed({ ...sound, pitchHz: 4000 }, 12).pitchHz).toBeNull();
  expect([LOWEST_HEARD_PITCH_HZ, HIGHEST_HEARD_PITCH_HZ]).toEqual([LOWEST_PITCH_HZ, HIGHEST_PITCH_HZ]);
});

test('the windows worked out are those of the measurer', () => {
  expect([COLOUR_BIN_HZ, PROFILE_BIN_HZ]).toEqual([ANALYSIS_RATE_HZ / SPECTRUM_FRAME, ANALYSIS_RATE_HZ / FINE_FRAME]);
  expect([BAND_TOP_HZ, SILENT_BAND_DB]).toEqual([ANALYSIS_RATE_HZ / 2, PROFILE_FLOOR_DB]);
});

test.each([15, 30, 44, 70, 150])('a steady tone of %i Hz is seen where it is said to be seen', (hertz) => {
  const { centroidHz } = measured({ name: '', rateHz: 48_000, channels: [sine(hertz, 3, 48_000, 0.5)] });
  // Frames meet the tone at every phase; over three seconds that evens out to about a hundredth.
  expect((centroidHz ?? 0) / seenAt(hertz).hertz).toBeCloseTo(1, 1.5);
});

test('what leaves the band is said', () => {
  const [sound] = inventSounds(1, 4);
  const only = (band: number) => sound.profile?.map((_, at) => (at === band ? 0 : -80)) ?? null;
  // Band 24 is A2, 110 Hz; two octaves down 27.5 Hz. Band 96 is A8, 7040 Hz; two octaves up 28 160 Hz.
  expect(keptShare({ ...sound, profile: only(24) }, -12)).toBeCloseTo(1, 2);
  expect(keptShare({ ...sound, profile: only(0) }, -24)).toBeLessThan(0.1);
  expect(keptShare({ ...sound, profile: only(96) }, 24)).toBe(0);
  expect(atVarispeed({ ...sound, centroidHz: 7040, profile: only(96) }, 24)).toMatchObject({
    centroidHz: null,
    profile: null,
  });
  const up = profileAt(only(40) ?? [], 12) ?? [];
  expect(up[52]).toBe(0);
  expect(Math.max(...up.slice(0, 12))).toBe(SILENT_BAND_DB);
});

test('columns of a shelf say the same as records, and every field has its course', () => {
  const sounds = inventSounds(60, 7).map((sound) => {
    // A profile in the steps of a shelf, and a centroid that goes with it as a measured one does.
    const profile = (sound.profile ?? []).map((level) => Math.round(level * 3) / 3);
    const energy = profile.map((level) => 10 ** (level / 10));
    const total = energy.reduce((sum, value) => sum + value, 0);
    const centroidHz = energy.reduce((sum, value, band) => sum + value * 27.5 * 2 ** (band / 12), 0) / total;
    return { ...sound, profile, centroidHz };
  });
  const shelf = shelfOf(sounds);
  for (const semitones of [-24, -12, -3.5, 7, 24]) {
    for (const field of NUMERIC_FIELDS) {
      if (!(field in COURSES)) continue;
      const name = field as keyof typeof COURSES & (typeof NUMERIC_FIELDS)[number];
      const at = fieldAt(shelf, name, semitones);
      sounds.forEach((sound, index) => {
        const told = atVarispeed(sound, semitones)[name];
        if (COURSES[name] === 'unknown') expect(told).toBeNull();
        else if (name === 'centsOff') return;
        else if (typeof told !== 'number') expect(at(index), name).toBeNaN();
        else expect(Math.abs(at(index) / told - 1) || 0, name).toBeLessThan(1e-5);
      });
    }
  }
});
