import { describe, expect, test } from 'vitest';
import { type Biquad, kWeighting } from '../../shared/measure/k-weighting.ts';
import { LoudnessMeter } from '../../shared/measure/loudness.ts';
import { amplitudeOf, sine, whiteNoise } from '../measure/tones.ts';

// The curve of ITU-R BS.1770-5 Tables 1 and 2, worked out from the printed 48 kHz coefficients: [Hz, dB].
const CURVE: readonly (readonly [number, number])[] = [
  [20, -13.275],
  [25, -10.393],
  [31.5, -7.79],
  [40, -5.567],
  [50, -3.934],
  [63, -2.664],
  [80, -1.732],
  [100, -1.133],
  [125, -0.728],
  [160, -0.435],
  [200, -0.265],
  [250, -0.153],
  [400, -0.015],
  [500, 0.042],
  [630, 0.134],
  [800, 0.328],
  [997, 0.691],
  [1000, 0.698],
  [1250, 1.342],
  [1500, 2.036],
  [2000, 3.071],
  [2500, 3.58],
  [3150, 3.848],
  [4000, 3.968],
  [5000, 4.013],
  [8000, 4.039],
  [10000, 4.042],
  [16000, 4.043],
  [20000, 4.043],
];

describe('K-weighting (ITU-R BS.1770-5)', () => {
  test('gives the printed curve at 48 kHz', () => {
    for (const [hz, db] of CURVE) expect(kGainDb(hz, 48_000)).toBeCloseTo(db, 2.9);
  });

  test.each([44_100, 88_200, 96_000, 176_400, 192_000])('keeps the curve at %i Hz within 0.05 dB', (rateHz) => {
    for (const [hz, db] of CURVE) expect(Math.abs(kGainDb(hz, rateHz) - db), `${hz} Hz`).toBeLessThan(0.05);
  });

  test.each([11_025, 16_000, 22_050, 32_000])('keeps the curve below 0.4 of a low rate, %i Hz', (rateHz) => {
    for (const [hz, db] of CURVE) {
      if (hz < 0.4 * rateHz) expect(Math.abs(kGainDb(hz, rateHz) - db), `${hz} Hz`).toBeLessThan(0.2);
    }
  });
});

describe('loudness of signals whose answer is known', () => {
  const lufs = (channels: Float32Array[], rateHz: number, mask: number | null = null): number | null => {
    const meter = new LoudnessMeter(rateHz, channels.length, mask);
    meter.push(channels);
    return meter.finish().integratedLufs;
  };

  test('a full-scale 997 Hz sine in the left, right or centre channel reads -3.01 (BS.1770-5 Annex 1)', () => {
    const tone = sine(997, 3, 48_000);
    const silence = new Float32Array(tone.length);
    expect(lufs([tone], 48_000)).toBeCloseTo(-3.01, 2);
    for (let speaker = 0; speaker < 3; speaker++) {
      const channels = Array.from({ length: 5 }, (_, channel) => (channel === speaker ? tone : silence));
      expect(lufs(channels, 48_000, 0x37)).toBeCloseTo(-3.01, 2);
    }
    // 1.41 for a surround channel is 1.49 dB; the low-frequency channel counts nothing.
    expect(lufs([silence, silence, silence, silence, tone], 48_000, 0x37)).toBeCloseTo(
      -3.01 + 10 * Math.log10(1.41),
      2,
    );
    expect(lufs([silence, silence, silence, tone, silence, silence], 48_000, 0x3f)).toBeNull();
  });

  test('a sine of P dBFS at f reads P - 3.010 - 0.691 + K(f); in both channels 3.010 more', () => {
    for (const [hz, gainDb] of CURVE.filter(([hz]) => hz >= 40)) {
      const tone = sine(hz, 2, 48_000, amplitudeOf(-18));
      const expected = -18 - 3.0103 - 0.691 + gainDb;
      expect(Math.abs((lufs([tone], 48_000) ?? 0) - expected), `${hz} Hz`).toBeLessThan(0.02);
      expect(Math.abs((lufs([tone, tone], 48_000) ?? 0) - expected - 3.0103), `${hz} Hz`).toBeLessThan(0.02);
    }
  });

  test('white noise of -20 dBFS RMS reads -16.86 in mono (the curve averaged over 0..24 kHz)', () => {
    expect(Math.abs((lufs([whiteNoise(30, 48_000, 0.1)], 48_000) ?? 0) + 16.86)).toBeLessThan(0.1);
  });

  test('the rate of a file does not matter', () => {
    for (const hz of [60, 440, 2_000, 6_000]) {
      const readings = [44_100, 48_000, 88_200, 96_000, 192_000].map(
        (rate) => lufs([sine(hz, 2, rate, 0.25)], rate) ?? 0,
      );
      expect(Math.max(...readings) - Math.min(...readings), `${hz} Hz`).toBeLessThan(0.05);
    }
  });
});

describe('where BS.1770 has no answer', () => {
  test('below 400 ms no whole block exists: no integrated loudness, momentary as if silence followed', () => {
    const meter = new LoudnessMeter(48_000, 1, null);
    meter.push([sine(997, 0.2, 48_000, 1)]);
    const loudness = meter.finish();
    expect(loudness.integratedLufs).toBeNull();
    // Half the 400 ms sound: 3.01 dB below the full-scale reading; the filter's start costs a little.
    expect(Math.abs((loudness.momentaryMaxLufs ?? 0) + 6.02)).toBeLessThan(0.1);
    expect(loudness.loudnessRangeLu).toBeNull();
  });

  test('silence and nothing at all give null', () => {
    for (const frames of [0, 1, 48_000]) {
      const meter = new LoudnessMeter(48_000, 2, null);
      meter.push([new Float32Array(frames), new Float32Array(frames)]);
      expect(meter.finish()).toEqual({
        integratedLufs: null,
        momentaryMaxLufs: null,
        shortTermMaxLufs: null,
        loudnessRangeLu: null,
      });
    }
  });
});

/** Gain in dB at `hz`, of both stages together. */
function kGainDb(hz: number, sampleRateHz: number): number {
  const { shelf, highPass } = kWeighting(sampleRateHz);
  const omega = (2 * Math.PI * hz) / sampleRateHz;
  return gainDb(shelf, omega) + gainDb(highPass, omega);
}

function gainDb({ b0, b1, b2, a1, a2 }: Biquad, omega: number): number {
  const power = (c0: number, c1: number, c2: number): number => {
    const real = c0 + c1 * Math.cos(omega) + c2 * Math.cos(2 * omega);
    const imaginary = c1 * Math.sin(omega) + c2 * Math.sin(2 * omega);
    return real * real + imaginary * imaginary;
  };
  return 10 * Math.log10(power(b0, b1, b2) / power(1, a1, a2));
}
