/** The envelope against a naive twin, and its levels against sines whose level is known. */
import { describe, expect, it } from 'vitest';
import { type Envelope, EnvelopeFollower, SILENCE_DBFS } from '../../shared/measure/envelope.ts';
import { RunningMean, runningMaximum } from '../../shared/measure/running.ts';
import { Random } from './random.ts';

function followed(channels: readonly Float32Array[], rate: number): Envelope {
  const follower = new EnvelopeFollower(rate, channels.length);
  follower.push(channels);
  return follower.finish();
}

function sine(hertz: number, seconds: number, rate: number, amplitude = 1): Float32Array {
  return Float32Array.from({ length: Math.round(seconds * rate) }, (_, i) => {
    return amplitude * Math.sin((2 * Math.PI * hertz * i) / rate);
  });
}

/** Mean power in the middle of the sound, in dB. */
function levelOf(values: Float32Array): number {
  const part = values.subarray(200, values.length - 200);
  return 10 * Math.log10(part.reduce((sum, value) => sum + value, 0) / part.length);
}

describe('envelope', () => {
  it.each([44100, 48000, 96000])('steps of one millisecond to the nearest frame at %i Hz', (rate) => {
    const envelope = followed([new Float32Array(rate)], rate);
    expect(Math.abs(envelope.hopSeconds - 0.001)).toBeLessThan(1e-5);
    expect(envelope.frames).toBe(Math.ceil(rate / envelope.hopFrames));
  });

  it.each([44100, 48000, 96000])('a full-scale sine reads -3.01 dBFS at %i Hz', (rate) => {
    const { levelDb } = followed([sine(1000, 1, rate)], rate);
    expect(levelOf(levelDb.map((level) => 10 ** (level / 10)))).toBeCloseTo(-3.01, 1);
  });

  it('equals mean squares about the slowly followed offset, computed the long way', () => {
    const rate = 44100;
    const random = new Random(5);
    const samples = Float32Array.from({ length: 20000 }, (_, i) => 0.2 + random.normal() * (i < 9000 ? 0.01 : 0.3));
    const { levelDb, hopFrames } = followed([samples], rate);
    let offset = samples.subarray(0, Math.ceil(0.05 * rate)).reduce((sum, x) => sum + x, 0) / Math.ceil(0.05 * rate);
    const gain = 1 - Math.exp((-2 * Math.PI * 12) / rate);
    const moving = Array.from(samples, (x) => {
      offset += gain * (x - offset);
      return x - offset;
    });
    for (let step = 0; step < levelDb.length; step++) {
      const part = moving.slice(step * hopFrames, (step + 1) * hopFrames);
      const power = part.reduce((sum, x) => sum + x * x, 0) / part.length;
      expect(levelDb[step]).toBeCloseTo(10 * Math.log10(power), 3);
    }
  });

  it.each([
    [60, 'lowPower'],
    [1000, 'midPower'],
    [8000, 'highPower'],
  ] as const)('a sine of %i Hz is in its own band, 10 dB or more above the others', (hertz, own) => {
    for (const rate of [44100, 96000]) {
      const envelope = followed([sine(hertz, 1, rate)], rate);
      const level = levelOf(envelope[own]);
      expect(level).toBeGreaterThan(-5.5);
      for (const other of ['lowPower', 'midPower', 'highPower'] as const) {
        if (other !== own) expect(level - levelOf(envelope[other])).toBeGreaterThan(10);
      }
    }
  });

  it('two channels of equal noise read as one, a dead channel does not count, a lone side reads 3 dB less', () => {
    const random = new Random(6);
    const noise = Float32Array.from({ length: 48000 }, () => random.normal() * 0.1);
    const quiet = noise.map((x) => x * 1e-4);
    const one = followed([noise], 48000).levelDb;
    expect(followed([noise, noise], 48000).levelDb).toEqual(one);
    expect(followed([noise, new Float32Array(48000)], 48000).levelDb).toEqual(one);
    const beside = followed([noise, quiet], 48000).levelDb;
    for (let i = 0; i < one.length; i++) expect(beside[i]).toBeCloseTo(one[i] - 3.01, 1);
  });

  it('digital silence stays at the lowest level, also after a loud sound', () => {
    const samples = new Float32Array(3 * 48000);
    samples.set(sine(50, 1, 48000));
    const { levelDb } = followed([samples], 48000);
    // The offset follower (12 Hz) lets the end of the sound ring on for 140 dB / 8.686 dB time constants of 13 ms.
    expect(Math.max(...levelDb.subarray(1300))).toBe(SILENCE_DBFS);
  });
});

describe('running sums', () => {
  it('means and maxima equal those computed the long way', () => {
    const random = new Random(8);
    const values = Float64Array.from({ length: 300 }, () => random.next());
    const running = new RunningMean(values);
    for (let round = 0; round < 200; round++) {
      const from = random.whole(-20, 310);
      const to = random.whole(-20, 330);
      const part = values.slice(Math.max(0, from), Math.max(0, to));
      const naive = to > from && part.length > 0 ? part.reduce((a, b) => a + b, 0) / part.length : 0;
      expect(running.mean(from, to)).toBeCloseTo(naive, 9);
    }
    for (const [before, after] of [
      [0, 0],
      [3, 0],
      [0, 7],
      [12, 5],
    ]) {
      const maxima = runningMaximum(values, before, after);
      values.forEach((_, i) => {
        expect(maxima[i]).toBe(Math.max(...values.slice(Math.max(0, i - before), i + after + 1)));
      });
    }
  });
});
