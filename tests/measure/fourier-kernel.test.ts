/** The transform against its definition, against fft.js (an independent library), and its two makings against each other. */
import FFT from 'fft.js';
import { describe, expect, it } from 'vitest';
import { fourierOf } from '../../shared/measure/fourier.ts';
import { type FourierKernel, plainKernel, vectorKernel } from '../../shared/measure/fourier-kernel.ts';
import { Random } from './random.ts';

const SIZES = [4, 8, 16, 32, 64, 128, 256, 512, 1024, 2048, 4096, 8192];

/** Node has had vector instructions since version 16.4: without them this must fail, not pass in silence. */
function vectorKernelHere(size: number): FourierKernel {
  const kernel = vectorKernel(size);
  if (!kernel) throw new Error('This Node makes no WebAssembly module with vector instructions.');
  return kernel;
}

const numbers = (random: Random, count: number): Float64Array =>
  Float64Array.from({ length: count }, () => random.between(-1, 1));

function transformed(kernel: FourierKernel, values: Float64Array): Float64Array {
  kernel.input.set(values);
  kernel.transform();
  return kernel.output.slice();
}

const greatestDifference = (a: ArrayLike<number>, b: ArrayLike<number>): number =>
  Array.from(a).reduce((most, value, i) => Math.max(most, Math.abs(value - b[i])), 0);

describe.each(SIZES)('%i complex numbers', (size) => {
  const random = new Random(size);
  const values = numbers(random, 2 * size);
  const kernel = vectorKernelHere(size);

  it('come out as fft.js has them, to rounding', () => {
    const library = new FFT(size);
    const expected: number[] = library.createComplexArray();
    library.transform(expected, Array.from(values));
    expect(greatestDifference(transformed(kernel, values), expected)).toBeLessThan(1e-15 * size * 4);
  });

  it('come out the same without vector instructions, bit for bit, and the second time as the first', () => {
    const plain = plainKernel(size);
    for (const asked of [values, numbers(random, 2 * size), values]) {
      expect(transformed(kernel, asked)).toEqual(transformed(plain, asked));
    }
  });
});

it.each([4, 8, 32, 64])('%i numbers are summed as the definition says', (size) => {
  const values = numbers(new Random(size), 2 * size);
  const expected = new Float64Array(2 * size);
  for (let k = 0; k < size; k++) {
    for (let n = 0; n < size; n++) {
      const angle = (-2 * Math.PI * k * n) / size;
      expected[2 * k] += values[2 * n] * Math.cos(angle) - values[2 * n + 1] * Math.sin(angle);
      expected[2 * k + 1] += values[2 * n] * Math.sin(angle) + values[2 * n + 1] * Math.cos(angle);
    }
  }
  expect(greatestDifference(transformed(vectorKernelHere(size), values), expected)).toBeLessThan(1e-12);
});

it.each([8, 128, 2048])(
  '%i real numbers through half as many complex ones give what they give as complex ones',
  (size) => {
    const reals = numbers(new Random(size), size);
    const whole = fourierOf(size)
      .complex((input) => {
        for (const [n, value] of reals.entries()) input[2 * n] = value;
      })
      .slice(0, size);
    expect(
      greatestDifference(
        fourierOf(size)
          .real((input) => input.set(reals), size / 2)
          .slice(0, size),
        whole,
      ),
    ).toBeLessThan(1e-15 * size * 4);
  },
);
