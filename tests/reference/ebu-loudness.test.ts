import { describe, expect, test } from 'vitest';
import { type Loudness, LoudnessMeter } from '../../shared/measure/loudness.ts';
import { amplitudeOf, sine } from '../measure/tones.ts';

// EBU Tech 3341 (v4, November 2023), Table 1, and EBU Tech 3342 (2023), Table 1: the synthetic cases, all of a 1000 Hz
// sine; levels are its peak in dBFS a channel. Cases 7 and 8 (and 5, 6 of 3342) are programmes we cannot make.

/** [seconds, peak dBFS]; -Infinity is silence. */
type Step = readonly [number, number];
const SILENCE = Number.NEGATIVE_INFINITY;

function feed(meter: LoudnessMeter, steps: readonly Step[], rateHz: number, channelGainsDb: readonly number[]): void {
  // Ten periods are a whole number of frames at each of the rates.
  const periods = sine(1000, 0.01, rateHz);
  let phase = 0;
  for (const [seconds, dbfs] of steps) {
    const amplitude = amplitudeOf(dbfs);
    const tone = new Float32Array(Math.round(seconds * rateHz));
    for (let n = 0; n < tone.length; n++) tone[n] = amplitude * periods[phase++ % periods.length];
    const channels = channelGainsDb.map((gainDb) => (gainDb === 0 ? tone : tone.map((x) => x * amplitudeOf(gainDb))));
    for (let from = 0; from < tone.length; from += 48_000) {
      meter.push(channels.map((samples) => samples.subarray(from, from + 48_000)));
    }
  }
}

function read(steps: readonly Step[], rateHz: number): Loudness {
  const meter = new LoudnessMeter(rateHz, 2, null);
  feed(meter, steps, rateHz, [0, 0]);
  return meter.finish();
}

function repeated(times: number, ...steps: Step[]): Step[] {
  return Array.from({ length: times }, () => steps).flat();
}

const near = (value: number | null, wanted: number, tolerance: number): void => {
  expect(value).not.toBeNull();
  expect(Math.abs((value ?? 0) - wanted)).toBeLessThanOrEqual(tolerance);
};

describe.each([44_100, 48_000, 96_000])('EBU Tech 3341 at %i Hz', (rateHz) => {
  test.each([
    [1, -23],
    [2, -33],
  ])('case %i: a steady tone reads alike on all three scales', (_, level) => {
    const loudness = read([[20, level]], rateHz);
    near(loudness.integratedLufs, level, 0.1);
    near(loudness.momentaryMaxLufs, level, 0.1);
    near(loudness.shortTermMaxLufs, level, 0.1);
  });

  test.each<[number, Step[]]>([
    [
      3,
      [
        [10, -36],
        [60, -23],
        [10, -36],
      ],
    ],
    [
      4,
      [
        [10, -72],
        [10, -36],
        [60, -23],
        [10, -36],
        [10, -72],
      ],
    ],
    [
      5,
      [
        [20, -26],
        [20.1, -20],
        [20, -26],
      ],
    ],
  ])('case %i: the gate', (_, steps) => {
    near(read(steps, rateHz).integratedLufs, -23, 0.1);
  });

  test.each([
    ['5.0', 0x37, [-28, -28, -24, -30, -30]],
    ['5.1, its low-frequency channel loud', 0x3f, [-28, -28, -24, -6, -30, -30]],
  ])('case 6: surround weights in %s', (_, mask, levels) => {
    const meter = new LoudnessMeter(rateHz, levels.length, mask);
    feed(meter, [[20, 0]], rateHz, levels);
    near(meter.finish().integratedLufs, -23, 0.1);
  });

  test('cases 9 and 12: constant short-term and momentary loudness of a pulsing tone', () => {
    near(read(repeated(5, [1.34, -20], [1.66, -30]), rateHz).shortTermMaxLufs, -23, 0.1);
    near(read(repeated(25, [0.18, -20], [0.22, -30]), rateHz).momentaryMaxLufs, -23, 0.1);
  });

  test('case 10: a 3 s tone is found wherever it starts', () => {
    for (let i = 0; i < 20; i++)
      near(
        read(
          [
            [i * 0.15, SILENCE],
            [3, -23],
            [1, SILENCE],
          ],
          rateHz,
        ).shortTermMaxLufs,
        -23,
        0.1,
      );
  });

  test('case 13: a 400 ms tone is found wherever it starts', () => {
    for (let i = 0; i < 20; i++)
      near(
        read(
          [
            [i * 0.02, SILENCE],
            [0.4, -23],
            [1, SILENCE],
          ],
          rateHz,
        ).momentaryMaxLufs,
        -23,
        0.1,
      );
  });

  test('cases 11 and 14: the maximum climbs with every tone', () => {
    const shortTerm = new LoudnessMeter(rateHz, 2, null);
    const momentary = new LoudnessMeter(rateHz, 2, null);
    for (let i = 0; i < 20; i++) {
      feed(
        shortTerm,
        [
          [i * 0.15, SILENCE],
          [3, -38 + i],
          [3 - i * 0.15, SILENCE],
        ],
        rateHz,
        [0, 0],
      );
      near(shortTerm.finish().shortTermMaxLufs, -38 + i, 0.1);
      feed(
        momentary,
        [
          [i * 0.02, SILENCE],
          [0.4, -38 + i],
          [0.4 - i * 0.02, SILENCE],
        ],
        rateHz,
        [0, 0],
      );
      near(momentary.finish().momentaryMaxLufs, -38 + i, 0.1);
    }
  });
});

describe.each([44_100, 48_000, 96_000])('EBU Tech 3342 at %i Hz', (rateHz) => {
  test.each<[number, number[], number]>([
    [1, [-20, -30], 10],
    [2, [-20, -15], 5],
    [3, [-40, -20], 20],
    [4, [-50, -35, -20, -35, -50], 15],
  ])('case %i: loudness range', (_, levels, range) => {
    const steps = levels.map((level): Step => [20, level]);
    near(read(steps, rateHz).loudnessRangeLu, range, 1);
    // Section 2: a programme repeated has the same range.
    if (levels.length === 2) near(read([...steps, ...steps], rateHz).loudnessRangeLu, range, 1);
  });
});

describe('ITU-R BS.1770-5 Annex 1: gating blocks of 400 ms that overlap by 75 %', () => {
  // 400 ms of tone in silence, worked out by hand: L is the tone's own loudness. From a whole number of blocks' steps on,
  // blocks hold 1/4, 1/2, 3/4, 1, 3/4, 1/2, 1/4 of it. All are louder than 10 LU below their mean, (4 / 7) L, so the mean
  // counts. Half as many blocks would hold 1/2, 1, 1/2 or 1/4, 3/4, 3/4, 1/4 of it: 0.67 and 0.58 dB higher or lower.
  test.each([0.4, 0.5])('a tone from %f s on counts in every block it touches', (start) => {
    const loudness = read(
      [
        [start, SILENCE],
        [0.4, -20],
        [1, SILENCE],
      ],
      48_000,
    );
    near(loudness.integratedLufs, -20 + 10 * Math.log10(4 / 7), 0.05);
  });
});
