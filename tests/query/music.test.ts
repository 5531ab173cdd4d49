import { describe, expect, test } from 'vitest';
import {
  barSeconds,
  beatSeconds,
  formatPosition,
  hertzToNote,
  type Metre,
  musicalSeconds,
  nearestNote,
  noteName,
  noteToHertz,
  parseNote,
  positionAt,
  rateToSemitones,
  secondsAt,
  semitonesToRate,
  type Tempo,
  varispeedFor,
  varispeedSeconds,
} from '../../shared/music.ts';
import { Random } from '../measure/random.ts';

const quarters = (bpm: number): Tempo => ({ bpm, note: null });

describe('bars and beats', () => {
  // Arithmetic of the definition: n/d bar, tempo of the quarter note: (n * 4 / d) * 60 / bpm.
  test.each([
    [60, 4, 4, 4],
    [72, 3, 4, 2.5],
    [90, 6, 8, 2],
    [96, 5, 4, 3.125],
    [120, 4, 4, 2],
    [132, 7, 8, 35 / 22],
    [54, 3, 2, 20 / 3],
  ])('quarter = %d, a bar of %d/%d lasts %f s', (bpm, beats, unit, seconds) => {
    expect(barSeconds(quarters(bpm), { beats, unit })).toBeCloseTo(seconds, 12);
  });

  // Lengths in frames at 44.1 kHz of loops in the CC0 sample set of the npm package supersonic-scsynth-samples; their
  // tempi stand in their names or, for the last two, follow from the sample set's own beat counts.
  test.each([
    ['loop_drone_g_97', 218_227, 8, 97],
    ['loop_amen_full', 302_400, 16, 140],
    ['loop_breakbeat', 84_000, 4, 126],
  ])('%s is as long as its beats, within 0.01 ms', (_name, frames, beats, bpm) => {
    expect(Math.abs(musicalSeconds(0, beats, quarters(bpm), null) - frames / 44_100)).toBeLessThan(1e-5);
  });

  test('two bars at 84 are eight quarters', () => {
    expect(musicalSeconds(2, 0, quarters(84), null)).toBeCloseTo((8 * 60) / 84, 12);
  });

  test('a beat is what the tempo names, else what the metre counts, else a quarter', () => {
    const sevenEight: Metre = { beats: 7, unit: 8 };
    const dottedQuarters: Tempo = { bpm: 60, note: { unit: 4, dotted: true } };
    expect(beatSeconds(quarters(120), null)).toBe(0.5);
    expect(beatSeconds(quarters(120), sevenEight)).toBe(0.25);
    expect(beatSeconds(dottedQuarters, { beats: 6, unit: 8 })).toBe(1);
    // Two dotted quarters fill a bar of 6/8.
    expect(barSeconds(dottedQuarters, { beats: 6, unit: 8 })).toBe(2);
  });

  test('a place in the score and its time go back and forth', () => {
    const random = new Random(1);
    for (let i = 0; i < 2000; i++) {
      const tempo: Tempo = {
        bpm: random.between(30, 240),
        note: random.chance(0.5) ? null : { unit: random.pick([2, 4, 8]), dotted: random.chance(0.3) },
      };
      const metre = random.chance(0.3) ? null : { beats: random.whole(1, 13), unit: random.pick([2, 4, 8, 16]) };
      const bar = random.whole(-8, 200);
      const barsBeats = barSeconds(tempo, metre) / beatSeconds(tempo, metre);
      const beat = 1 + Math.floor(random.between(0, barsBeats) * 1000) / 1000;
      const seconds = secondsAt({ bar, beat }, tempo, metre);
      const back = positionAt(seconds, tempo, metre);
      // Positions are given to a thousandth of a beat.
      const step = beatSeconds(tempo, metre) / 1000;
      expect(Math.abs(secondsAt(back, tempo, metre) - seconds)).toBeLessThanOrEqual(step / 2 + 1e-9);
      expect(back.beat).toBeGreaterThanOrEqual(1);
      expect(back.beat).toBeLessThan(1 + barsBeats);
    }
  });

  test('positions read as bar:beat, from bar 1 and back before it', () => {
    const at = (seconds: number) => formatPosition(positionAt(seconds, quarters(60), null));
    expect([0, 1, 4, 5.5, -1, -4].map(at)).toEqual(['1:1', '1:2', '2:1', '2:2.5', '0:4', '0:1']);
    // A hair before a beat by rounding is that beat.
    expect(at(4 - 1e-9)).toBe('2:1');
  });
});

describe('varispeed', () => {
  // rate r: pitch 12 log2 r semitones, length 1 / r.
  test.each([
    [0.5, -12, 2],
    [2 / 3, -7.02, 1.5],
    [0.75, -4.98, 4 / 3],
    [1.25, 3.863, 0.8],
    [1.5, 7.02, 2 / 3],
    [2, 12, 0.5],
  ])('rate %f is %f semitones and %f times the length', (rate, semitones, length) => {
    expect(rateToSemitones(rate)).toBeCloseTo(semitones, 3);
    expect(varispeedSeconds(1, rateToSemitones(rate) ?? 0)).toBeCloseTo(length, 12);
  });

  test('one semitone is the twelfth root of two', () => {
    expect(semitonesToRate(1)).toBeCloseTo(1.0594631, 7);
    expect(semitonesToRate(-1)).toBeCloseTo(0.94387, 5);
  });

  test('brings any length to any target, and none from nothing', () => {
    const random = new Random(2);
    for (let i = 0; i < 500; i++) {
      const length = random.logBetween(0.01, 100);
      const target = random.logBetween(0.01, 100);
      expect(varispeedSeconds(length, varispeedFor(length, target) ?? Number.NaN) / target).toBeCloseTo(1, 12);
    }
    expect(varispeedFor(0, 1)).toBeNull();
    expect(varispeedFor(1, 0)).toBeNull();
    expect(rateToSemitones(Number.POSITIVE_INFINITY)).toBeNull();
  });
});

describe('notes', () => {
  // Equal temperament on A4 = 440 Hz (ISO 16:1975), to the four decimals handbooks print.
  const table: readonly (readonly [string, number])[] = [
    ['C0', 16.3516],
    ['A0', 27.5],
    ['C1', 32.7032],
    ['E2', 82.4069],
    ['A2', 110],
    ['C3', 130.8128],
    ['A3', 220],
    ['C4', 261.6256],
    ['E4', 329.6276],
    ['A4', 440],
    ['C5', 523.2511],
    ['A5', 880],
    ['C6', 1046.5023],
    ['C7', 2093.0045],
    ['C8', 4186.009],
  ];
  test.each(table)('%s is %f Hz', (name, hertz) => {
    const noteNumber = parseNote(name);
    expect(noteNumber).not.toBeNull();
    expect(noteToHertz(noteNumber ?? 0)).toBeCloseTo(hertz, 4);
    expect(nearestNote(hertz)?.name).toBe(name);
    expect(Math.abs(nearestNote(hertz)?.centsOff ?? 99)).toBeLessThan(0.01);
  });

  test('every note number goes to its name and back', () => {
    for (let noteNumber = 0; noteNumber <= 127; noteNumber++) expect(parseNote(noteName(noteNumber))).toBe(noteNumber);
  });

  test('sharps, flats and their doubles name the same keys', () => {
    for (const [a, b] of [
      ['Bb1', 'A#1'],
      ['B♭1', 'A♯1'],
      ['Cb4', 'B3'],
      ['B#3', 'C4'],
      ['Fx2', 'G2'],
      ['F##2', 'G2'],
      ['Bbb2', 'A2'],
    ]) {
      expect([a, parseNote(a)]).toEqual([a, parseNote(b)]);
    }
    for (const wrong of ['H2', 'C', '2', 'C#b2', 'C222', '']) expect([wrong, parseNote(wrong)]).toEqual([wrong, null]);
  });

  test('ten cents are 0.579 %, fifty cents 2.930 %', () => {
    expect(noteToHertz(69.1) / 440).toBeCloseTo(1.00579, 5);
    expect(noteToHertz(69.5) / 440).toBeCloseTo(1.0293, 5);
    expect(hertzToNote(440 * 1.0293022)).toBeCloseTo(69.5, 5);
    expect(hertzToNote(0)).toBeNull();
  });
});
