import { expect, test } from 'vitest';
import { fourierOf, hann } from '../../shared/measure/fourier.ts';
import { FrameFeeder } from '../../shared/measure/frames.ts';
import { inBlocks, randomNumbers, whiteNoise } from './tones.ts';

/** |sum x w e^(-2 pi i k n / N)|^2, straight from the definition. */
function naivePower(samples: Float32Array, window: Float64Array | null, size: number): number[] {
  return Array.from({ length: size / 2 + 1 }, (_, k) => {
    let [re, im] = [0, 0];
    samples.forEach((x, n) => {
      const weighted = x * (window?.[n] ?? 1);
      re += weighted * Math.cos((2 * Math.PI * k * n) / size);
      im -= weighted * Math.sin((2 * Math.PI * k * n) / size);
    });
    return re * re + im * im;
  });
}

const left = whiteNoise(1, 64, 0.3, 1);
const right = whiteNoise(1, 64, 0.3, 2);

test('the pair trick gives the sum of both power spectra', () => {
  for (const [first, second] of [
    [left, right],
    [left, null],
  ] as const) {
    const power = new Float64Array(65);
    fourierOf(128).addPower(power, first, second, 0, 64, null);
    const expected = naivePower(first, null, 128);
    const other = second === null ? expected.map(() => 0) : naivePower(second, null, 128);
    power.forEach((value, k) => {
      expect(value).toBeCloseTo(expected[k] + other[k], 8);
    });
  }
});

test('under the Hann window a constant is taken out and the rest stays', () => {
  const power = new Float64Array(33);
  fourierOf(64).addPower(
    power,
    left.map((x) => x + 0.7),
    right,
    0,
    64,
    hann(64),
  );
  const expected = new Float64Array(33);
  fourierOf(64).addPower(expected, left, right, 0, 64, hann(64));
  const naive = naivePower(left, hann(64), 64).map((p, k) => p + naivePower(right, hann(64), 64)[k]);
  power.forEach((value, k) => {
    expect(value).toBeCloseTo(expected[k], 5);
    if (k > 1) expect(value).toBeCloseTo(naive[k], 5);
  });
});

test('the autocorrelation is that of the padded sound', () => {
  const power = new Float64Array(65);
  fourierOf(128).addPower(power, left, null, 0, 64, null);
  const correlation = new Float64Array(40);
  fourierOf(128).autocorrelation(power, correlation);
  correlation.forEach((value, lag) => {
    let sum = 0;
    for (let n = 0; n + lag < 64; n++) sum += left[n] * left[n + lag];
    expect(value).toBeCloseTo(sum, 8);
  });
});

test('frames are centred on every hop from 0 to the end, with silence around, however blocks fall', () => {
  const random = randomNumbers(5);
  for (const frames of [0, 1, 3, 63, 64, 500, 1_000]) {
    const sound = Float32Array.from({ length: frames }, (_, n) => n + 1);
    const seen: number[] = [];
    const analysis = {
      frameSize: 64,
      hopSize: 24,
      analyse(channels: readonly Float32Array[], offset: number, centre: number): void {
        seen.push(centre);
        for (let n = 0; n < 64; n++) expect(channels[0][offset + n]).toBe(sound[centre - 32 + n] ?? 0);
      },
    };
    const feeder = new FrameFeeder(1, [analysis, { frameSize: 128, hopSize: 100, analyse: () => undefined }]);
    for (const block of inBlocks([sound], [1 + Math.floor(random() * 90), 7])) feeder.push(block);
    feeder.finish();
    expect(seen).toEqual(Array.from({ length: Math.floor(frames / 24) + 1 }, (_, k) => k * 24));
  }
});
