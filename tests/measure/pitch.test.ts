import { readdirSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { measureBlocks } from '../../shared/measure/measure.ts';
import { noteOf } from '../../shared/measure/pitch.ts';
import type { Measurements } from '../../shared/sound.ts';
import { measureFile, PIANO, SAMPLES } from './recordings.ts';
import { faded, harmonics, scaled, sine, whiteNoise } from './tones.ts';

const RATE = 48_000;

function measure(channels: Float32Array[], sampleRateHz = RATE): Measurements {
  return measureBlocks([channels], { sampleRateHz, channels: channels.length, bitDepth: 24, channelMask: null })
    .measurements;
}

function cents(hz: number | null, reference: number): number {
  return hz === null ? Number.POSITIVE_INFINITY : 1200 * Math.log2(hz / reference);
}

describe('notes (ISO 16: A4 = 440 Hz; C4 = middle C = MIDI 60)', () => {
  test.each([
    [27.5, 'A0'],
    [32.7032, 'C1'],
    [82.4069, 'E2'],
    [261.6256, 'C4'],
    [277.1826, 'C#4'],
    [440, 'A4'],
    [4186.009, 'C8'],
  ])('%f Hz is %s', (hz, note) => {
    expect(noteOf(hz).note).toBe(note);
    expect(Math.abs(noteOf(hz).centsOff)).toBeLessThan(0.01);
    expect(noteOf(hz * 2 ** (0.3 / 12))).toMatchObject({ note, centsOff: expect.closeTo(30, 1) });
    expect(noteOf(hz * 2 ** (-0.3 / 12))).toMatchObject({ note, centsOff: expect.closeTo(-30, 1) });
  });
});

// librosa's own bar for pitch on pure tones is 12 cents (tests/test_core.py); two periods and a half of 27.5 Hz fill a frame.
describe('steady tones from 27.5 Hz to 4.9 kHz are found within 3 cents (below 50 Hz: 12)', () => {
  const PITCHES = [27.5, 41.2, 65.4, 110, 220, 440, 880, 1_234.5, 2_093, 3_000, 4_186, 4_900];
  test.each<[string, (hz: number) => Float32Array]>([
    ['sine', (hz) => sine(hz, 0.5, RATE, 0.3)],
    ['saw', (hz) => harmonics(hz, 0.5, RATE, (n) => 0.2 / n)],
    ['square (odd harmonics)', (hz) => harmonics(hz, 0.5, RATE, (n) => (n % 2) * (0.2 / n))],
    ['no fundamental', (hz) => harmonics(hz, 0.5, RATE, (n) => (n > 1 && n < 12 ? 0.05 : 0))],
  ])('%s', (_, wave) => {
    for (const hz of PITCHES) {
      const measured = measure([faded(wave(hz), RATE)]);
      expect(Math.abs(cents(measured.pitchHz, hz)), `${hz} Hz`).toBeLessThan(hz < 50 ? 12 : 3);
      expect(measured.pitchConfidence).toBeGreaterThan(0.9);
    }
  });
});

describe('no false pitch', () => {
  test('white noise has none', () => {
    for (let seed = 1; seed <= 8; seed++) {
      const measured = measure([whiteNoise(0.3 * seed, RATE, 0.1, seed)]);
      expect([measured.pitchHz, measured.note, measured.centsOff, measured.inharmonic]).toEqual([
        null,
        null,
        null,
        null,
      ]);
      expect(measured.pitchConfidence).toBeLessThan(0.2);
    }
  });

  // Ideal circular membrane and free bar: Fletcher & Rossing, The Physics of Musical Instruments (bar from memory).
  test.each([
    ['membrane', [1, 1.594, 2.136, 2.296, 2.653, 2.918]],
    ['free bar', [1, 2.756, 5.404, 8.933]],
  ])('%s: inharmonic, and no note', (_, ratios) => {
    for (const hz of [110, 220, 440, 880]) {
      const struck = new Float32Array(RATE).map((_, n) =>
        ratios.reduce(
          (sum, ratio, i) => sum + 0.1 * Math.sin((2 * Math.PI * hz * ratio * n) / RATE + i) * Math.exp(-n / 20_000),
          0,
        ),
      );
      const measured = measure([struck]);
      expect([measured.inharmonic, measured.pitchHz], `${hz} Hz`).toEqual([true, null]);
    }
  });

  test('a stiff string stays harmonic, and its pitch is near its first partial', () => {
    // f[n] = n f0 sqrt(1 + B n^2), B = 0.0004: a piano's middle.
    for (const hz of [110, 220, 440]) {
      const string = new Float32Array(RATE).map((_, n) => {
        let sum = 0;
        for (let k = 1; k <= 12; k++)
          sum += (0.2 / k) * Math.sin((2 * Math.PI * hz * k * Math.sqrt(1 + 4e-4 * k * k) * n) / RATE);
        return sum * Math.exp(-n / 20_000);
      });
      const measured = measure([string]);
      expect(measured.inharmonic).toBe(false);
      expect(Math.abs(cents(measured.pitchHz, hz))).toBeLessThan(20);
    }
  });

  test('a tone above 5 kHz does not answer as its own subharmonic; silence does not answer', () => {
    expect(measure([sine(6_750, 0.5, RATE, 0.3)]).pitchHz).toBeNull();
    expect(measure([new Float32Array(RATE)])).toMatchObject({ pitchHz: null, pitchConfidence: null, inharmonic: null });
  });
});

test('level, an inverted channel, a constant offset and the rate of the file do not move it', () => {
  const tone = faded(
    harmonics(196, 0.5, RATE, (n) => 0.2 / n),
    RATE,
  );
  for (const channels of [[scaled(tone, 0.001)], [tone, scaled(tone, -1)], [tone.map((x) => x + 0.2)]]) {
    expect(Math.abs(cents(measure(channels).pitchHz, 196))).toBeLessThan(2);
  }
  for (const rate of [44_100, 96_000]) {
    const same = faded(
      harmonics(196, 0.5, rate, (n) => 0.2 / n, 20_000),
      rate,
    );
    expect(Math.abs(cents(measure([same], rate).pitchHz, 196))).toBeLessThan(2);
  }
});

/** Enough for the pitch; the whole set would decode for half a minute. */
const MOST_SECONDS = 1.5;

// The makers say what their recordings are: see recordings.ts.
describe('recordings with known notes', () => {
  test('a piano from A0 to C8: what is called a pitch is right within 50 cents, in the right octave', async () => {
    const names = ['C', 'C#', 'D', 'D#', 'E', 'F', 'F#', 'G', 'G#', 'A', 'A#', 'B'];
    let called = 0;
    const wrong: string[] = [];
    const files = readdirSync(PIANO);
    for (const file of files) {
      const [, name, octave] = /^([A-G]#?)(\d)/.exec(file) ?? [];
      const midi = names.indexOf(name) + 12 * (Number(octave) + 1);
      const { pitchHz } = await measureFile(PIANO + file, MOST_SECONDS);
      if (pitchHz === null) continue;
      called++;
      if (!(Math.abs(cents(pitchHz, 440 * 2 ** ((midi - 69) / 12))) <= 50)) wrong.push(`${file}: ${pitchHz}`);
    }
    expect(files).toHaveLength(30);
    expect(wrong.length / called, wrong.join(', ')).toBeLessThanOrEqual(0.05);
    expect(called).toBeGreaterThanOrEqual(27);
  });

  test('hats, snares, cymbals, splashes and rides: at most one in ten gets a pitch', async () => {
    const drums = readdirSync(SAMPLES).filter((name) => /^(hat|sn|ride)_|snare|cymbal|splash/.test(name));
    const called: string[] = [];
    for (const name of drums) if ((await measureFile(SAMPLES + name, MOST_SECONDS)).pitchHz !== null) called.push(name);
    expect(drums.length).toBeGreaterThan(35);
    expect(called.length / drums.length, called.join(', ')).toBeLessThanOrEqual(0.1);
  });

  test('basses and drones named by their note get its pitch class, or none', async () => {
    const named = [
      'bass_dnb_f',
      'bass_hard_c',
      'bass_thick_c',
      'bass_trance_c',
      'bass_voxy_c',
      'bass_woodsy_c',
      'loop_drone_g_97',
    ];
    for (const name of named) {
      const { note } = await measureFile(`${SAMPLES}${name}.flac`, MOST_SECONDS);
      if (note !== null) expect(note.replace(/\d/, ''), name).toBe(name.match(/_([a-g])(_|$)/)?.[1].toUpperCase());
    }
  });
});
