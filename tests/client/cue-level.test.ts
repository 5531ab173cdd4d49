/** How loud cue and click are, how large a cue is, and where in it a person means: what needs no browser. */
import { describe, expect, it, test } from 'vitest';
import { LoudnessMeter } from '../../shared/measure/loudness.ts';
import { clickGainDb, clickSamples } from '../../src/client/context/click.ts';
import { CAUTION_SECONDS, cautionFor } from '../../src/client/context/cue-file.ts';
import { CUE_COLUMNS_A_SECOND, measureCue } from '../../src/client/context/cue-level.ts';
import { readCueTime } from '../../src/client/context/cue-time.ts';
import { matchLoudness, toGain } from '../../src/client/output.ts';

const RATE_HZ = 16_000;
const sine = (seconds: number, peakDbfs: number): Float32Array =>
  Float32Array.from(
    { length: seconds * RATE_HZ },
    (_, frame) => toGain(peakDbfs) * Math.sin((2 * Math.PI * 1000 * frame) / RATE_HZ),
  );
const noBreak = (): Promise<void> => Promise.resolve();

describe('the level of a cue', () => {
  // EBU Tech 3341, test case 1: a stereo sine of 1 kHz and −23 dBFS a channel reads −23.0 ± 0.1 LUFS.
  test.each([20, 400])('of %d s is that of EBU Tech 3341, case 1, heard whole or in slices', async (seconds) => {
    const channel = sine(seconds, -23);
    const { levels } = await measureCue([channel, channel], RATE_HZ, noBreak);
    expect(Math.abs((levels.integratedLufs ?? 0) + 23)).toBeLessThan(0.1);
    // The filter for 16 kHz and the cut between slices move it by less than that; brought to −23 LUFS it needs no gain.
    expect(Math.abs(matchLoudness(levels, -23).gainDb)).toBeLessThan(0.1);
  });

  test('of a loud cue with one peak anywhere: its peak is never missed, so it never passes the ceiling', async () => {
    for (const place of [0, 77.7, 399.9]) {
      const channel = sine(400, -40);
      channel[Math.round(place * RATE_HZ)] = -0.9;
      const { levels, columns } = await measureCue([channel], RATE_HZ, noBreak);
      expect(levels.truePeakDbtp, `${place} s`).toBeGreaterThanOrEqual(20 * Math.log10(0.9));
      expect(columns[Math.floor(place * CUE_COLUMNS_A_SECOND)]).toBeCloseTo(0.9, 6);
      expect(columns).toHaveLength(400 * CUE_COLUMNS_A_SECOND);
    }
  });

  test('of silence is none, of nothing too; both leave the gain alone', async () => {
    for (const channel of [new Float32Array(RATE_HZ), new Float32Array(0)]) {
      const { levels } = await measureCue([channel], RATE_HZ, noBreak);
      expect(levels).toEqual({ integratedLufs: null, momentaryMaxLufs: null, truePeakDbtp: null });
      expect(matchLoudness(levels, -23).gainDb).toBe(0);
    }
  });
});

test('a click is softer than what it is heard with, at any level, and far from the ceiling', () => {
  const samples = clickSamples(1568, 48_000);
  const peak = samples.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
  const meter = new LoudnessMeter(48_000, 1, null);
  meter.push([samples]);
  const loudnessLufs = meter.finish().momentaryMaxLufs ?? Number.NaN;
  for (const target of [-47, -35, -23, -14]) {
    const gainDb = clickGainDb({ loudnessLufs, peakDbtp: 20 * Math.log10(peak) }, target);
    // Eighths at 120: one click every quarter of a second.
    const train = new Float32Array(48_000 * 6);
    for (let from = 0; from < train.length; from += 12_000)
      train.set(
        samples.map((sample) => sample * toGain(gainDb)),
        from,
      );
    const heard = new LoudnessMeter(48_000, 1, null);
    heard.push([train]);
    const { integratedLufs } = heard.finish();
    expect(integratedLufs).toBeLessThan(target - 3);
    expect(integratedLufs).toBeGreaterThan(target - 12);
    expect(20 * Math.log10(peak) + gainDb).toBeLessThan(-1);
  }
});

test('over ten minutes a cue comes with its size: 48,000 samples of 4 bytes a second and channel', () => {
  expect(cautionFor({ duration: CAUTION_SECONDS, numberOfChannels: 2 })).toBeNull();
  // 12 min stereo: 720 · 2 · 48000 · 4 = 276.48 million bytes.
  expect(cautionFor({ duration: 720, numberOfChannels: 2 })).toContain('276 megabytes');
});

describe('a place in a cue', () => {
  it.each([
    ['12.48', '25', 12.48],
    ['12,5 s', '25', 12.5],
    ['-3', '24', -3],
    ['−0.25', '24', -0.25],
    ['00:00:12:12', '25', 12.48],
    // SMPTE ST 12-1: drop-frame counting stands at 00:10:00;00 after 17982 frames of 1001/30000 s.
    ['00:10:00;00', '29.97df', (17982 * 1001) / 30000],
    ['00:01:00;00', '29.97df', null],
    ['twelve', '25', null],
    ['', '25', null],
  ] as const)('is read from "%s" at %s', (text, rate, seconds) => {
    const found = readCueTime(text, rate);
    if (seconds === null) expect(found).toBeNull();
    else expect(found).toBeCloseTo(seconds, 9);
  });
});
