/** A channel is called upside down only where the two cancel in mono: common practice puts the bound near -1 (no source). */
import { expect, test } from 'vitest';
import { measureBlocks } from '../../shared/measure/measure.ts';
import { whiteNoise } from './tones.ts';

const RATE_HZ = 48_000;

/** Two channels of noise whose correlation is `correlation`: left a, right c a + sqrt(1 - c^2) b, for independent a and b. */
function faultsAt(correlation: number): string[] {
  const a = whiteNoise(1, RATE_HZ, 0.1, 1);
  const b = whiteNoise(1, RATE_HZ, 0.1, 2);
  const right = a.map((x, n) => correlation * x + Math.sqrt(1 - correlation ** 2) * b[n]);
  return measureBlocks([[a, right]], { sampleRateHz: RATE_HZ, channels: 2, bitDepth: 24, channelMask: null })
    .measurements.faults;
}

test.each([
  [-0.99, true],
  [-0.9, false],
  [-0.5, false],
])('a correlation of %f', (correlation, inverted) => {
  expect(faultsAt(correlation).includes('inverted-channel')).toBe(inverted);
});
