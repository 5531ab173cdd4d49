/** A riser is one rise: something else before it, parted from it by a gap one hears, makes a phrase (by construction). */
import { expect, test } from 'vitest';
import { measureBlocks } from '../../shared/measure/measure.ts';
import { amplitudeOf, whiteNoise } from './tones.ts';

const RATE_HZ = 48_000;

/** Noise that rises evenly by 24 dB and stops dead, after an optional burst that a gap parts from it. */
function gestureOf(burst: boolean): string | null {
  const levelDb = (seconds: number): number => {
    if (seconds < 0.3) return burst ? -14 : -80;
    if (seconds < 0.5) return -80;
    return seconds < 1.7 ? -24 + (24 * (seconds - 0.5)) / 1.2 : -80;
  };
  const samples = whiteNoise(2, RATE_HZ, 0.3).map((x, n) => x * amplitudeOf(levelDb(n / RATE_HZ)));
  return measureBlocks([[samples]], { sampleRateHz: RATE_HZ, channels: 1, bitDepth: 24, channelMask: null })
    .measurements.gesture;
}

test('a rise that stops dead is a riser; with a burst before it, a phrase', () => {
  expect(gestureOf(false)).toBe('riser');
  expect(gestureOf(true)).toBe('phrase');
});
