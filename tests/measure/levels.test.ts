import { describe, expect, test } from 'vitest';
import { LevelMeter, type Levels } from '../../shared/measure/levels.ts';
import { harmonics, inBlocks, joined, scaled, sine, whiteNoise } from './tones.ts';

function levels(channels: Float32Array[], bitDepth: number | null = null, sizes = [1_000, 7]): Levels {
  const meter = new LevelMeter(48_000, channels.length, bitDepth);
  for (const block of inBlocks(channels, sizes)) meter.push(block);
  return meter.finish();
}

/** As a converter of `bits` gives it, cut at full scale. */
function quantised(samples: Float32Array, bits: number): Float32Array {
  const steps = 2 ** (bits - 1);
  return samples.map((x) => Math.max(-steps, Math.min(steps - 1, Math.round(x * steps))) / steps);
}

describe('crest and peak', () => {
  // Textbook values of the waves: sine 3.0103 dB, square 0, triangle and saw 10 log10 3 = 4.771.
  const n = Array.from({ length: 48_000 }, (_, index) => (index % 480) / 480);
  test.each<[string, Float32Array, number]>([
    ['sine', sine(100, 1, 48_000), 3.0103],
    ['square', Float32Array.from(n, (phase) => (phase < 0.5 ? 1 : -1)), 0],
    ['triangle', Float32Array.from(n, (phase) => 4 * Math.abs(phase - 0.5) - 1), 4.771],
    ['saw', Float32Array.from(n, (phase) => 2 * phase - 1), 4.771],
  ])('%s', (_, wave, crestDb) => {
    const measured = levels([scaled(wave, 0.5)]);
    expect(Math.abs((measured.crestDb ?? 0) - crestDb)).toBeLessThan(0.03);
    expect(measured.samplePeakDbfs).toBeCloseTo(-6.0206, 3);
  });

  test('the crest is that of the loudest channel', () => {
    const measured = levels([scaled(whiteNoise(1, 48_000, 0.1), 0.1), sine(100, 1, 48_000)]);
    expect(measured.crestDb).toBeCloseTo(3.0103, 2);
  });

  test('silence has no level', () => {
    const nothing = {
      quantisationStep: 0,
      samplePeakDbfs: null,
      crestDb: null,
      clippedSamples: 0,
      firstClipSeconds: null,
      dcOffset: 0,
    };
    expect(levels([new Float32Array(100)])).toEqual(nothing);
    expect(levels([new Float32Array(0)])).toEqual(nothing);
  });
});

test('the constant offset is the mean of the channel that lies farthest off', () => {
  const tone = sine(100, 1, 48_000, 0.1);
  expect(levels([tone, tone.map((x) => x - 0.02)]).dcOffset).toBeCloseTo(-0.02, 5);
});

describe('clipped samples', () => {
  test.each([16, 24, null])('a sine driven 6 dB over full scale, %s bits', (bits) => {
    const driven = scaled(sine(441, 1, 48_000), 2);
    const cut = bits === null ? driven.map((x) => Math.max(-1, Math.min(1, x))) : quantised(driven, bits);
    const [highest, lowest] = [Math.max(...cut), Math.min(...cut)];
    const truth = cut.filter((x) => x === highest || x === lowest).length;
    const measured = levels([cut], bits);
    // Two thirds of a sine lie above half its height.
    expect(truth / cut.length).toBeCloseTo(2 / 3, 1);
    expect(Math.abs(measured.clippedSamples / truth - 1)).toBeLessThan(0.01);
    expect(measured.firstClipSeconds).toBeCloseTo(Math.asin(0.5) / (2 * Math.PI * 441), 3);
  });

  test('clipping turned down afterwards is found at its own ceiling', () => {
    const cut = sine(441, 1, 48_000).map((x) => 0.4 * Math.max(-0.6, Math.min(0.6, x)));
    expect(levels([quantised(cut, 24)], 24).clippedSamples).toBeGreaterThan(1_000);
  });

  test('three flat samples count, two do not', () => {
    const bump = (flat: number) =>
      joined(new Float32Array([0, 0.3]), new Float32Array(flat).fill(0.9), new Float32Array([0.2, 0]));
    expect(levels([bump(2)], 16).clippedSamples).toBe(0);
    expect(levels([bump(3)], 16)).toMatchObject({ clippedSamples: 3, firstClipSeconds: 2 / 48_000 });
    expect(levels([bump(3)], 16, [3, 1]).clippedSamples).toBe(3);
  });

  test('clean sounds rest on no ceiling: slow and full-scale waves of whole numbers, noise, silence', () => {
    for (const bits of [16, 24]) {
      for (const hz of [5, 20, 33, 100, 1_000, 12_000]) {
        expect(levels([quantised(sine(hz, 1, 48_000, 0.9999), bits)], bits).clippedSamples, `${hz} Hz`).toBe(0);
      }
      expect(levels([quantised(whiteNoise(1, 48_000, 0.2), bits)], bits).clippedSamples).toBe(0);
      expect(
        levels(
          [
            quantised(
              harmonics(50, 1, 48_000, (k) => 0.5 / k),
              bits,
            ),
          ],
          bits,
        ).clippedSamples,
      ).toBe(0);
    }
    expect(levels([quantised(sine(100, 1, 48_000, 0.0001), 16)], 16).clippedSamples).toBe(0);
  });
});
