import { describe, expect, test } from 'vitest';
import { interpolator, TruePeakMeter } from '../../shared/measure/true-peak.ts';
import { amplitudeOf, faded, inBlocks, joined, randomNumbers, sine, whiteNoise } from '../measure/tones.ts';

function truePeakDbtp(samples: Float32Array, rateHz: number, blockSizes = [4_096]): number {
  const meter = new TruePeakMeter(rateHz, 1);
  for (const block of inBlocks([samples], blockSizes)) meter.push(block);
  return meter.finish() ?? Number.NEGATIVE_INFINITY;
}

function expectWithin(value: number, wanted: number): void {
  expect(value).toBeLessThanOrEqual(wanted + 0.2);
  expect(value).toBeGreaterThanOrEqual(wanted - 0.4);
}

// EBU Tech 3341 (v4, November 2023), Table 1, cases 15 to 23: allowed +0.2 / -0.4 dB.
describe.each([44_100, 48_000, 96_000])('EBU Tech 3341 at %i Hz', (rateHz) => {
  test.each([
    [15, 4, 0.5, 0, -6],
    [16, 4, 0.5, 45, -6],
    [17, 6, 0.5, 60, -6],
    [18, 8, 0.5, 67.5, -6],
    [19, 4, 1.41, 45, 3],
  ])('case %i: a sine of the rate divided by %i, amplitude %f, phase %f', (_, divisor, amplitude, degrees, wanted) => {
    const tone = faded(sine(rateHz / divisor, 1, rateHz, amplitude, (degrees * Math.PI) / 180), rateHz, 0.01);
    expectWithin(truePeakDbtp(tone, rateHz), wanted);
  });

  test('cases 20 to 23: one loud period between two samples', () => {
    const fine = faded(toneWithLoudPeriod(rateHz), rateHz * 4, 0.01);
    for (let offset = 0; offset < 4; offset++) {
      expectWithin(truePeakDbtp(decimatedByFour(fine, offset), rateHz), 0);
    }
  });
});

/** A sine of a sixth of the rate and amplitude 0.5 with one period of a quarter of the rate, amplitude 1, at 4 times it. */
function toneWithLoudPeriod(rateHz: number): Float32Array {
  const fineRateHz = rateHz * 4;
  // Whole periods on both sides keep the phase continuous.
  const side = sine(rateHz / 6, Math.round(rateHz / 60) / (rateHz / 6), fineRateHz, 0.5);
  return joined(side, sine(rateHz / 4, 4 / rateHz, fineRateHz, 1), side);
}

/** Low-passed at half the low rate by a Hann-windowed sinc, then every fourth sample from `offset` on. */
function decimatedByFour(fine: Float32Array, offset: number): Float32Array {
  const reach = 4 * 64;
  const taps = Float64Array.from({ length: 2 * reach + 1 }, (_, index) => {
    const distance = (index - reach) / 4;
    const ideal = distance === 0 ? 1 : Math.sin(Math.PI * distance) / (Math.PI * distance);
    return (ideal / 4) * (0.5 + 0.5 * Math.cos((Math.PI * (index - reach)) / reach));
  });
  return Float32Array.from({ length: Math.floor((fine.length - offset) / 4) }, (_, n) => {
    let sum = 0;
    for (let tap = 0; tap < taps.length; tap++) sum += taps[tap] * (fine[4 * n + offset + tap - reach] ?? 0);
    return sum;
  });
}

describe('true peak (ITU-R BS.1770-5 Annex 2)', () => {
  test('reads a sine within the under-read the Annex allows at its oversampling', () => {
    // Annex 2, attachment: worst case 20 log10 cos(pi f / (n rate)) for n-fold oversampling.
    const random = randomNumbers(7);
    for (const [rateHz, factor] of [
      [44_100, 8],
      [48_000, 8],
      [96_000, 4],
    ] as const) {
      for (let turn = 0; turn < 60; turn++) {
        const hz = 20 + random() * 0.42 * rateHz;
        const worst = 20 * Math.log10(Math.cos((Math.PI * hz) / (factor * rateHz)));
        const read = truePeakDbtp(faded(sine(hz, 0.1, rateHz, 1, random() * 6.28), rateHz, 0.02), rateHz);
        expect(read, `${hz} Hz at ${rateHz}`).toBeLessThan(0.05);
        expect(read, `${hz} Hz at ${rateHz}`).toBeGreaterThan(worst - 0.05);
      }
    }
  });

  test('the shortcuts change nothing: equal to a naive search of every gap with the same oversampling', () => {
    const random = randomNumbers(3);
    for (let turn = 0; turn < 40; turn++) {
      const noise = whiteNoise(0.05, 48_000, 0.1, turn + 1);
      const tone = sine(100 + 20_000 * random(), 0.05, 48_000, random());
      const decay = 1 / (200 + 3000 * random());
      const sound = noise.map((x, n) => (x * random() + tone[n]) * Math.exp(-n * decay));
      expect(
        Math.abs(truePeakDbtp(sound, 48_000, [1 + Math.floor(random() * 500), 17]) - naive(sound)),
        `turn ${turn}`,
      ).toBeLessThan(1e-3);
    }
  });

  test('is never below the sample peak, and equals it from 192 kHz on', () => {
    const noise = whiteNoise(0.2, 192_000, 0.1);
    const samplePeak = 20 * Math.log10(noise.reduce((peak, x) => Math.max(peak, Math.abs(x)), 0));
    expect(truePeakDbtp(noise, 192_000)).toBeCloseTo(samplePeak, 6);
    expect(truePeakDbtp(noise, 48_000)).toBeGreaterThanOrEqual(samplePeak);
  });

  test('a single sample, the last of a sound, still counts with what swings after it', () => {
    expect(truePeakDbtp(new Float32Array([0, 0, 0.5]), 48_000)).toBeCloseTo(20 * Math.log10(0.5), 3);
    expect(truePeakDbtp(new Float32Array([0.5, 0.5]), 48_000)).toBeGreaterThan(-5);
    expect(new TruePeakMeter(48_000, 2).finish()).toBeNull();
  });

  test('follows gain exactly', () => {
    const noise = whiteNoise(0.2, 44_100, 0.05);
    const louder = noise.map((x) => x * amplitudeOf(6));
    expect(truePeakDbtp(louder, 44_100) - truePeakDbtp(noise, 44_100)).toBeCloseTo(6, 4);
  });
});

/** The same filter in every gap, sample by sample. */
function naive(samples: Float32Array): number {
  const filters = [1, 2, 3, 4, 5, 6, 7].map((eighth) => interpolator(eighth / 8));
  let peak = 0;
  for (let n = -16; n < samples.length + 16; n++) {
    peak = Math.max(peak, Math.abs(samples[n] ?? 0));
    for (const taps of filters) {
      const value = taps.reduce((sum, tap, index) => sum + tap * (samples[n + index + 1 - taps.length / 2] ?? 0), 0);
      peak = Math.max(peak, Math.abs(value));
    }
  }
  return 20 * Math.log10(peak);
}
