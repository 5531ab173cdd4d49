import { describe, expect, test } from 'vitest';
import { fourierOf, hann } from '../../shared/measure/fourier.ts';
import { bestRow, type Partial, PartialFinder, rowOfPitch } from '../../shared/measure/partials.ts';
import { randomNumbers, whiteNoise } from './tones.ts';

const RATE = 48_000;
const SIZE = 16_384;
const BIN_HZ = RATE / SIZE;

function partialsOf(samples: Float32Array): Partial[] {
  const power = new Float64Array(SIZE / 2 + 1);
  fourierOf(SIZE).addPower(power, samples, null, 0, SIZE, hann(SIZE));
  return new PartialFinder(BIN_HZ, 30, 10_000).find(power);
}

function sum(frequencies: readonly number[], noise = 1e-4): Float32Array {
  return whiteNoise(SIZE / RATE, RATE, noise, 3).map((x, n) =>
    frequencies.reduce((total, hz, i) => total + (0.3 / (i + 1)) * Math.sin((2 * Math.PI * hz * n) / RATE + i), x),
  );
}

test('frequencies of well separated partials are found within a tenth of a bin', () => {
  const random = randomNumbers(8);
  for (let turn = 0; turn < 20; turn++) {
    const frequencies = Array.from({ length: 6 }, (_, i) => 100 * (i + 1) + 50 * random());
    const found = partialsOf(sum(frequencies)).sort((a, b) => a.hz - b.hz);
    expect(found).toHaveLength(6);
    found.forEach(({ hz }, i) => {
      expect(Math.abs(hz - frequencies[i])).toBeLessThan(0.1 * BIN_HZ);
    });
  }
});

test('noise has next to no partials', () => {
  for (let seed = 1; seed <= 10; seed++)
    expect(partialsOf(whiteNoise(SIZE / RATE, RATE, 0.1, seed)).length).toBeLessThan(3);
});

describe('the best row', () => {
  const row = (frequencies: readonly number[]) =>
    bestRow(
      frequencies.map((hz, i) => ({ hz, power: 1 / (i + 1) })),
      BIN_HZ,
    );

  test.each([27.5, 110, 440, 2_000])('of a harmonic tone of %f Hz holds everything', (hz) => {
    const found = row([1, 2, 3, 4, 5, 6].map((n) => n * hz));
    expect(found?.share).toBeCloseTo(1, 6);
    expect((found?.fundamentalHz ?? 0) / hz).toBeCloseTo(1, 3);
  });

  test('bends with a stiff string, as far as the twenty-fourth partial', () => {
    // f[n] = n f0 sqrt(1 + B n^2) of a piano's lowest string.
    const frequencies = [3, 4, 5, 6, 7, 9, 10, 13, 16, 20, 24].map((n) => n * 27.5 * Math.sqrt(1 + 3.5e-4 * n * n));
    expect(row(frequencies)?.share).toBeCloseTo(1, 6);
  });

  test('of a membrane, a bar and of random partials leaves much of them out', () => {
    const share = (ratios: number[]) => row(ratios.map((ratio) => 300 * ratio))?.share ?? 0;
    expect(share([1, 1.594, 2.136, 2.296, 2.653, 2.918])).toBeLessThan(0.7);
    expect(share([1, 2.756, 5.404, 8.933])).toBeLessThan(0.7);
    const random = randomNumbers(4);
    const shares = Array.from({ length: 40 }, () => share(Array.from({ length: 8 }, () => 1 + 9 * random())));
    expect(shares.filter((value) => value > 0.85).length).toBeLessThanOrEqual(2);
  });

  test('of nothing is none', () => {
    expect(bestRow([], BIN_HZ)).toBeNull();
  });
});

describe('the row of a pitch', () => {
  const share = (pitchHz: number, numbers: readonly number[], stretch = 1) =>
    rowOfPitch(
      pitchHz,
      numbers.map((number, i) => ({ hz: number * pitchHz * stretch, power: 1 / (i + 1) })),
      BIN_HZ,
    )?.share ?? 0;

  test('holds all partials of a tone, with or without its lowest ones, also where it has glided by 40 cents', () => {
    for (const numbers of [[1], [2, 1, 3], [1, 3, 5, 7], [3, 4, 5, 6, 7, 8, 9, 10]]) {
      for (const stretch of [1, 2 ** (40 / 1200), 2 ** (-40 / 1200)])
        expect(share(98, numbers, stretch)).toBeCloseTo(1);
    }
  });

  test('holds nothing where its partials are few on many places: a minor-third bell has the period of a tenth', () => {
    // Hum, prime, tierce, quint, nominal: 0.5, 1, 1.2, 1.5, 2.
    for (const numbers of [[5, 10, 12, 15, 20], [10], [9, 7], [10, 12, 9], [3, 10, 15]])
      expect(share(65.4, numbers)).toBe(0);
  });

  test('follows its partials, and is none without them', () => {
    const found = rowOfPitch(
      200,
      [204, 408, 612].map((hz) => ({ hz, power: 1 })),
      BIN_HZ,
    );
    expect(found?.fundamentalHz).toBeCloseTo(204, 6);
    expect(rowOfPitch(200, [], BIN_HZ)).toBeNull();
    expect(rowOfPitch(200, [{ hz: 290, power: 1 }], BIN_HZ)).toBeNull();
  });
});
