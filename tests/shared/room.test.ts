import FFT from 'fft.js';
import { describe, expect, test } from 'vitest';
import { LoudnessMeter } from '../../shared/measure/loudness.ts';
import {
  airAttenuation,
  LONGEST_ROOM_SECONDS,
  octaveDecay,
  roomImpulse,
  SHORTEST_ROOM_SECONDS,
} from '../../shared/room.ts';
import { Random } from '../measure/random.ts';

const RATE_HZ = 48_000;

/**
 * T30 after ISO 3382-1: the squared impulse response integrated backwards (Schroeder), a straight line by least squares
 * through its fall from −5 to −35 dB, carried on to 60 dB.
 */
function t30(impulse: Float32Array): number {
  const decay = new Float64Array(impulse.length);
  let sum = 0;
  for (let frame = impulse.length - 1; frame >= 0; frame--) {
    sum += impulse[frame] ** 2;
    decay[frame] = sum;
  }
  let [count, x, y, xx, xy] = [0, 0, 0, 0, 0];
  for (let frame = 0; frame < decay.length; frame += 24) {
    const level = 10 * Math.log10(decay[frame] / decay[0]);
    if (level > -5 || level < -35) continue;
    const seconds = frame / RATE_HZ;
    count++;
    x += seconds;
    y += level;
    xx += seconds * seconds;
    xy += seconds * level;
  }
  return -60 / ((count * xy - x * y) / (count * xx - x * x));
}

/** One octave by Fourier transform, so that no filter of its own rings into the decay: edges raised cosines, 1/6 octave. */
function octave(impulse: Float32Array, centreHz: number): Float32Array {
  const size = 2 ** Math.ceil(Math.log2(impulse.length * 2));
  const fft = new FFT(size);
  const padded = new Float64Array(size);
  padded.set(impulse);
  const spectrum = fft.createComplexArray();
  fft.realTransform(spectrum, padded);
  fft.completeSpectrum(spectrum);
  for (let bin = 0; bin < size; bin++) {
    const hertz = (Math.min(bin, size - bin) * RATE_HZ) / size;
    const away = Math.abs(Math.log2(Math.max(hertz, 1e-3) / centreHz)) - 0.5;
    const gain = away < -1 / 12 ? 1 : away > 1 / 12 ? 0 : 0.5 - 0.5 * Math.sin(6 * Math.PI * away);
    spectrum[2 * bin] *= gain;
    spectrum[2 * bin + 1] *= gain;
  }
  const out = fft.createComplexArray();
  fft.inverseTransform(out, spectrum);
  return Float32Array.from({ length: impulse.length }, (_, frame) => out[2 * frame]);
}

describe('the decay', () => {
  test.each([0.3, 0.5, 1, 2.2, 4, 8])('of a room of %d s is that long: T30 within a tenth, both sides', (seconds) => {
    const { left, right } = roomImpulse(seconds, RATE_HZ);
    for (const side of [left, right]) {
      expect(Math.abs(t30(side) / seconds - 1)).toBeLessThan(0.1);
      // The single figure of ISO 3382-1: the mean of the octaves of 500 Hz and 1 kHz.
      const middle = (t30(octave(side, 500)) + t30(octave(side, 1000))) / 2;
      expect(Math.abs(middle / seconds - 1)).toBeLessThan(0.1);
    }
  });

  test('is shorter the higher it sounds, as walls and air have it', () => {
    for (const seconds of [1, 4]) {
      const { left } = roomImpulse(seconds, RATE_HZ);
      const [one, two, four, eight] = [1000, 2000, 4000, 8000].map((hertz) => t30(octave(left, hertz)));
      expect(two).toBeLessThan(0.98 * one);
      expect(four).toBeLessThan(0.95 * two);
      expect(eight).toBeLessThan(0.85 * four);
      expect(eight).toBeLessThan(0.75 * one);
    }
    // In a large room the air counts for more.
    expect(octaveDecay(8000, 8) / 8).toBeLessThan(0.5 * (octaveDecay(8000, 0.5) / 0.5));
  });

  test('of air is that of ISO 9613-2, table 2, 20 °C and 70 % (values from memory), in dB a kilometre', () => {
    // From 125 Hz up, at the exact middles of the octaves: 1000 · 10^(3 k / 10).
    for (const [at, decibels] of [0.3, 1.1, 2.8, 5, 9, 22.9, 76.6].entries())
      expect(Math.abs(airAttenuation(1000 * 10 ** (0.3 * (at - 3))) * 1000 - decibels)).toBeLessThan(0.051);
  });

  test('outside what is offered is the nearest that is; the same every time; at any rate', () => {
    expect(roomImpulse(0.01, RATE_HZ)).toEqual(roomImpulse(SHORTEST_ROOM_SECONDS, RATE_HZ));
    expect(roomImpulse(99, 8000)).toEqual(roomImpulse(LONGEST_ROOM_SECONDS, 8000));
    for (const rate of [22_050, 44_100, 96_000])
      expect(roomImpulse(0.5, rate).left.every((sample) => Number.isFinite(sample))).toBe(true);
  });
});

describe('the reflections', () => {
  test('begin one by one and then run together; each side has its own', () => {
    const { left, right } = roomImpulse(2, RATE_HZ);
    const first = left.findIndex((sample) => Math.abs(sample) > 1e-3);
    expect(first / RATE_HZ).toBeGreaterThan(0.005);
    expect(first / RATE_HZ).toBeLessThan(0.06);
    let [both, ofLeft, ofRight] = [0, 0, 0];
    for (let frame = 0; frame < left.length; frame++) {
      both += left[frame] * right[frame];
      ofLeft += left[frame] ** 2;
      ofRight += right[frame] ** 2;
    }
    expect(Math.abs(both) / Math.sqrt(ofLeft * ofRight)).toBeLessThan(0.15);
  });
});

describe('the loudness', () => {
  test.each([0.3, 1, 2.2, 5])(
    'of pink noise is the same through a room of %d s as beside it, within 1 LU',
    (seconds) => {
      const dry = pinkNoise(RATE_HZ * 5);
      const { left } = roomImpulse(seconds, RATE_HZ);
      const wet = convolved(dry, left);
      const loudness = (samples: Float32Array) => {
        const meter = new LoudnessMeter(RATE_HZ, 1, null);
        // Once the room has filled.
        meter.push([samples.subarray(RATE_HZ * 3, RATE_HZ * 5)]);
        return meter.finish().integratedLufs ?? Number.NaN;
      };
      expect(Math.abs(loudness(wet) - loudness(dry))).toBeLessThan(1);
    },
  );
});

/** Pink by its definition: a spectrum of random phase whose power falls as 1 / f. */
function pinkNoise(frames: number): Float32Array {
  const size = 2 ** Math.ceil(Math.log2(frames));
  const fft = new FFT(size);
  const random = new Random(4);
  const spectrum = fft.createComplexArray().fill(0);
  for (let bin = 1; bin < size / 2; bin++) {
    const hertz = (bin * RATE_HZ) / size;
    if (hertz < 20) continue;
    const phase = 2 * Math.PI * random.next();
    const size1 = 1 / Math.sqrt(hertz);
    spectrum[2 * bin] = spectrum[2 * (size - bin)] = size1 * Math.cos(phase);
    spectrum[2 * bin + 1] = size1 * Math.sin(phase);
    spectrum[2 * (size - bin) + 1] = -size1 * Math.sin(phase);
  }
  const out = fft.createComplexArray();
  fft.inverseTransform(out, spectrum);
  return Float32Array.from({ length: frames }, (_, frame) => out[2 * frame] * size * 1e-4);
}

function convolved(signal: Float32Array, impulse: Float32Array): Float32Array {
  const size = 2 ** Math.ceil(Math.log2(signal.length + impulse.length));
  const fft = new FFT(size);
  const transform = (samples: Float32Array) => {
    const padded = new Float64Array(size);
    padded.set(samples);
    const spectrum = fft.createComplexArray();
    fft.realTransform(spectrum, padded);
    fft.completeSpectrum(spectrum);
    return spectrum;
  };
  const [a, b] = [transform(signal), transform(impulse)];
  for (let at = 0; at < a.length; at += 2) {
    const [re, im] = [a[at] * b[at] - a[at + 1] * b[at + 1], a[at] * b[at + 1] + a[at + 1] * b[at]];
    a[at] = re;
    a[at + 1] = im;
  }
  const out = fft.createComplexArray();
  fft.inverseTransform(out, a);
  return Float32Array.from({ length: signal.length }, (_, frame) => out[2 * frame]);
}
