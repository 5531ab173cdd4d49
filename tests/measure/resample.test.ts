import { describe, expect, test } from 'vitest';
import { Resampler } from '../../shared/measure/resample.ts';
import { inBlocks, joined, randomNumbers, resampled, sine, whiteNoise } from './tones.ts';

/** Amplitude of the sine of `hz` in the middle of a sound, and the RMS of all that is not it. */
function sineIn(samples: Float32Array, hz: number, rateHz: number): { amplitude: number; phase: number; rest: number } {
  const from = Math.floor(samples.length * 0.2);
  const to = Math.floor(samples.length * 0.8);
  // Least squares on sine and cosine.
  let [ss, cc, sc, xs, xc] = [0, 0, 0, 0, 0];
  for (let n = from; n < to; n++) {
    const [s, c] = [Math.sin((2 * Math.PI * hz * n) / rateHz), Math.cos((2 * Math.PI * hz * n) / rateHz)];
    ss += s * s;
    cc += c * c;
    sc += s * c;
    xs += samples[n] * s;
    xc += samples[n] * c;
  }
  const determinant = ss * cc - sc * sc;
  const a = (xs * cc - xc * sc) / determinant;
  const b = (xc * ss - xs * sc) / determinant;
  let rest = 0;
  for (let n = from; n < to; n++) {
    const angle = (2 * Math.PI * hz * n) / rateHz;
    rest += (samples[n] - a * Math.sin(angle) - b * Math.cos(angle)) ** 2;
  }
  return { amplitude: Math.hypot(a, b), phase: Math.atan2(b, a), rest: Math.sqrt(rest / (to - from)) };
}

const RATES = [8_000, 11_025, 22_050, 32_000, 44_100, 88_200, 96_000, 176_400, 192_000, 44_099];

describe.each(RATES)('from %i Hz to 48 kHz', (rateHz) => {
  test('tones up to 20 kHz keep level and time; nothing else appears above -80 dB', () => {
    for (const share of [0.003, 0.1, 0.3, 0.6, 0.9, 1]) {
      const hz = Math.min(20_000, (20 / 44.1) * rateHz) * share;
      const [out] = resampled([sine(hz, 0.3, rateHz)], rateHz);
      const found = sineIn(out, hz, 48_000);
      expect(Math.abs(20 * Math.log10(found.amplitude)), `level at ${hz} Hz`).toBeLessThan(0.1);
      expect(Math.abs(found.phase), `phase at ${hz} Hz`).toBeLessThan(0.001);
      expect(20 * Math.log10(found.rest), `rest at ${hz} Hz`).toBeLessThan(-80);
    }
  });

  test('n frames give round(n * 48000 / rate), however they come in blocks, with the same samples', () => {
    const random = randomNumbers(rateHz);
    for (const frames of [0, 1, 3, 100, 1 + Math.floor(random() * 20_000)]) {
      const noise = whiteNoise(frames / rateHz, rateHz, 0.1).subarray(0, frames);
      const [whole] = resampled([noise], rateHz);
      expect(whole.length).toBe(Math.round((noise.length * 48_000) / rateHz));
      const resampler = new Resampler(1, rateHz);
      const parts = [...inBlocks([noise], [1, 777, 64, 2_000])].map((block) => resampler.push(block)[0]);
      expect(joined(...parts, resampler.finish()[0])).toEqual(whole);
    }
  });
});

test('what lies above half the new rate does not fold back below 20 kHz', () => {
  for (const hz of [28_500, 33_000, 40_000, 47_500]) {
    const [out] = resampled([sine(hz, 0.3, 96_000)], 96_000);
    const inside = out.subarray(2_000, out.length - 2_000);
    const rms = Math.sqrt(inside.reduce((sum, x) => sum + x * x, 0) / inside.length);
    expect(20 * Math.log10(rms), `${hz} Hz`).toBeLessThan(-80);
  }
});

test('a click stays where it was', () => {
  for (const rateHz of RATES) {
    const click = new Float32Array(rateHz);
    click[Math.round(rateHz / 2)] = 1;
    const [out] = resampled([click], rateHz);
    const peak = out.reduce((best, x, n) => (Math.abs(x) > Math.abs(out[best]) ? n : best), 0);
    expect(Math.abs(peak / 48_000 - Math.round(rateHz / 2) / rateHz), `${rateHz}`).toBeLessThan(0.6 / 48_000);
  }
});

test('48 kHz passes unchanged, as a copy', () => {
  const noise = whiteNoise(0.01, 48_000, 0.1);
  const resampler = new Resampler(1, 48_000);
  const [out] = resampler.push([noise]);
  expect(out).toEqual(noise);
  expect(out).not.toBe(noise);
  expect(resampler.finish()[0].length).toBe(0);
});

test('a gentler filter keeps its own promise: flat below its pass band, and so much rejected that would fold onto it', () => {
  const steepness = { rejectionDb: 60, passShare: 0.4 };
  const at8k = (hz: number): Float32Array => {
    const resampler = new Resampler(1, 44_100, 8_000, steepness);
    return joined(resampler.push([sine(hz, 0.5, 44_100)])[0], resampler.finish()[0]);
  };
  for (const hz of [100, 1_000, 3_200]) {
    const { amplitude, rest } = sineIn(at8k(hz), hz, 8_000);
    expect(Math.abs(20 * Math.log10(amplitude)), `level at ${hz} Hz`).toBeLessThan(0.1);
    expect(20 * Math.log10(rest), `rest at ${hz} Hz`).toBeLessThan(-55);
  }
  for (const hz of [4_801, 7_000, 9_000, 15_000]) {
    const inside = at8k(hz).subarray(400, 3_600);
    expect(20 * Math.log10(Math.hypot(...inside) / Math.sqrt(inside.length / 2)), `${hz} Hz`).toBeLessThan(-55);
  }
});
