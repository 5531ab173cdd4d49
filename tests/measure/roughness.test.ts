import { describe, expect, test } from 'vitest';
import { measureBlocks } from '../../shared/measure/measure.ts';
import { faded, scaled, sine, whiteNoise } from './tones.ts';

const RATE = 48_000;

function roughness(channels: Float32Array[], sampleRateHz = RATE): number | null {
  return measureBlocks([channels], { sampleRateHz, channels: channels.length, bitDepth: 24, channelMask: null })
    .measurements.roughness;
}

/** A tone whose amplitude is modulated `rateHz` times a second to `depth`. */
function modulated(hz: number, rateHz: number, depth: number): Float32Array {
  return faded(
    sine(hz, 2, RATE, 0.2).map((x, n) => x * (1 + depth * Math.sin((2 * Math.PI * rateHz * n) / RATE))),
    RATE,
    0.1,
  );
}

const value = (samples: Float32Array): number => roughness([samples]) ?? Number.NaN;

// What listeners report, after Fastl & Zwicker, Psychoacoustics, chapter 11 (from memory).
describe('roughness of modulated tones', () => {
  test('a pure tone is smooth, a fully modulated one at 70 Hz is the measure of all', () => {
    for (const hz of [100, 440, 1_000, 4_000])
      expect(value(faded(sine(hz, 2, RATE, 0.2), RATE, 0.1)), `${hz}`).toBeLessThan(0.02);
    expect(Math.abs(value(modulated(1_000, 70, 1)) - 1)).toBeLessThan(0.25);
  });

  test('it grows with the depth of the modulation, as its power 1.6', () => {
    const depths = [0.1, 0.2, 0.4, 0.8].map((depth) => value(modulated(1_000, 70, depth)));
    for (let i = 1; i < depths.length; i++) {
      // A doubling is a factor of 2^1.6 = 3.03 (between 2.5 and 3.6: the side bands also reach other bands).
      expect(depths[i] / depths[i - 1]).toBeGreaterThan(2.5);
      expect(depths[i] / depths[i - 1]).toBeLessThan(3.6);
    }
  });

  test('it is greatest near 70 modulations a second and vanishes for slow and fast ones', () => {
    const at = (rateHz: number) => value(modulated(1_000, rateHz, 1));
    expect(at(70)).toBeGreaterThan(at(25));
    expect(at(70)).toBeGreaterThan(at(140));
    expect(at(4)).toBeLessThan(0.1 * at(70));
    expect(at(400)).toBeLessThan(0.2 * at(70));
  });

  test('two tones beat roughly when close, not when far apart or in unison', () => {
    const pair = (distanceHz: number) =>
      value(
        faded(
          sine(1_000, 2, RATE, 0.2).map((x, n) => x + 0.2 * Math.sin((2 * Math.PI * (1_000 + distanceHz) * n) / RATE)),
          RATE,
          0.1,
        ),
      );
    expect(pair(50)).toBeGreaterThan(5 * pair(2));
    expect(pair(50)).toBeGreaterThan(5 * pair(500));
  });
});

test('noise is rougher than a tone and less rough than a fully beating one', () => {
  const noise = value(whiteNoise(2, RATE, 0.1));
  expect(noise).toBeGreaterThan(0.05);
  expect(noise).toBeLessThan(0.7);
});

test('a hit is not rough for being a hit', () => {
  for (const tau of [0.05, 0.2, 0.8]) {
    const hit = sine(440, 1.5, RATE, 0.5).map((x, n) => x * Math.exp(-n / (tau * RATE)) * Math.min(1, n / 100));
    expect(value(hit), `${tau} s`).toBeLessThan(0.12);
  }
});

test('level, rate and channels change nothing', () => {
  const rough = modulated(1_000, 70, 0.5);
  const plain = value(rough);
  expect(value(scaled(rough, 0.001))).toBeCloseTo(plain, 3);
  expect(roughness([rough, rough])).toBeCloseTo(plain, 3);
  expect(roughness([rough, scaled(rough, -1)])).toBeCloseTo(plain, 3);
});

test('silence and less than 50 ms have none', () => {
  expect(roughness([new Float32Array(RATE)])).toBeNull();
  expect(roughness([whiteNoise(0.03, RATE, 0.1)])).toBeNull();
});
