import { expect, test } from 'vitest';
import { measureBlocks } from '../../shared/measure/measure.ts';
import { PROFILE_FLOOR_DB } from '../../shared/measure/profile.ts';
import { PROFILE_BANDS, PROFILE_LOWEST_HZ } from '../../shared/sound.ts';
import { faded, sine, whiteNoise } from './tones.ts';

const RATE = 48_000;

function profile(samples: Float32Array): number[] {
  const { measurements } = measureBlocks([[samples]], {
    sampleRateHz: RATE,
    channels: 1,
    bitDepth: 24,
    channelMask: null,
  });
  expect(measurements.profile).toHaveLength(PROFILE_BANDS);
  return measurements.profile ?? [];
}

test('a sine is loudest in its own semitone, from A1 on', () => {
  for (let band = 12; band < PROFILE_BANDS - 2; band += 7) {
    const measured = profile(faded(sine(PROFILE_LOWEST_HZ * 2 ** (band / 12), 1.5, RATE, 0.3), RATE, 0.1));
    expect(measured.indexOf(0), `band ${band}`).toBe(band);
    // An octave away nothing is left of it.
    for (const octave of [band - 12, band + 12]) {
      if (octave >= 12 && octave < PROFILE_BANDS) expect(measured[octave]).toBeLessThan(-50);
    }
  }
});

test('white noise rises 3.01 dB an octave: bands are as wide as they are high', () => {
  const measured = profile(whiteNoise(20, RATE, 0.1));
  const [low, high] = [measured.slice(30, 42), measured.slice(90, 102)].map(
    (bands) => bands.reduce((a, b) => a + b) / 12,
  );
  expect(Math.abs((high - low) / 5 - 3.0103)).toBeLessThan(0.15);
});

test('values lie between the floor and 0, and 0 is reached', () => {
  for (const samples of [sine(1_000, 0.02, RATE, 0.1), whiteNoise(0.3, RATE, 0.001), new Float32Array([0, 0.5, 0])]) {
    const measured = profile(samples);
    expect(Math.max(...measured)).toBe(0);
    expect(Math.min(...measured)).toBeGreaterThanOrEqual(PROFILE_FLOOR_DB);
  }
});
