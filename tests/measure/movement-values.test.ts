/**
 * Values that follow from the formulas alone, for sounds whose envelope is a formula; the reference values were worked out
 * from the definitions (MPEG-7 log attack time and temporal centroid, Peeters' 20-90 % thresholds).
 */
import { describe, expect, it } from 'vitest';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { type Movement, measureMovement } from '../../shared/measure/movement.ts';
import { Random } from './random.ts';

const RATE = 48000;

function moved(samples: Float32Array, rate = RATE): Movement {
  const follower = new EnvelopeFollower(rate, 1);
  follower.push([samples]);
  return measureMovement(follower.finish(), samples.length / rate);
}

function tone(seconds: number, amplitude: (time: number) => number, hertz = 1000, rate = RATE): Float32Array {
  return Float32Array.from({ length: Math.round(seconds * rate) }, (_, i) => {
    return amplitude(i / rate) * Math.sin((2 * Math.PI * hertz * i) / rate);
  });
}

function hiss(seconds: number, amplitude: (time: number) => number, seed = 1): Float32Array {
  const random = new Random(seed);
  return Float32Array.from(
    { length: Math.round(seconds * RATE) },
    (_, i) => amplitude(i / RATE) * random.normal() * 0.25,
  );
}

describe('temporal centroid', () => {
  it('2/3 for a linear crescendo, 1/3 for a decrescendo, 1/2 for a steady or a symmetric sound', () => {
    expect(moved(tone(2, (t) => t / 2)).temporalCentroid).toBeCloseTo(2 / 3, 2);
    expect(moved(tone(2, (t) => 1 - t / 2)).temporalCentroid).toBeCloseTo(1 / 3, 2);
    expect(moved(tone(2, () => 0.5)).temporalCentroid).toBeCloseTo(1 / 2, 3);
    expect(moved(tone(2, (t) => Math.sin((Math.PI * t) / 2))).temporalCentroid).toBeCloseTo(1 / 2, 3);
  });

  it('tau - T / (exp(T / tau) - 1) for an exponential decay cut at T: 0.2313 of 2 s for tau = 0.5 s', () => {
    const found = moved(tone(2, (t) => Math.exp(-t / 0.5)));
    expect(found.temporalCentroid).toBeCloseTo(0.2313, 3);
    expect(found.activeSeconds).toBeCloseTo(2, 2);
  });
});

describe('attack', () => {
  it.each([0.005, 0.05, 0.5, 2])('20-90 %% of a linear attack of %f s takes 0.7 of it', (attack) => {
    const found = moved(tone(attack + 1, (t) => Math.min(1, t / attack)));
    expect(Math.abs((found.attackSeconds ?? 0) - 0.7 * attack)).toBeLessThan(Math.max(0.001, 0.03 * attack));
  });

  it('of grainy noise, too, within a tenth', () => {
    const found = moved(hiss(3, (t) => Math.min(1, t / 1)));
    expect(Math.abs((found.attackSeconds ?? 0) - 0.7)).toBeLessThan(0.1);
  });
});

describe('decay', () => {
  it.each([0.05, 0.3, 1])('-20 dB comes tau ln 10 = 2.303 tau after the strike (tau = %f s)', (tau) => {
    const found = moved(tone(tau * 8, (t) => Math.exp(-t / tau)));
    expect(Math.abs((found.decaySeconds ?? 0) - Math.LN10 * tau)).toBeLessThan(Math.max(0.01, 0.03 * tau));
  });

  it('ends with a sound that stops dead', () => {
    const found = moved(tone(3, (t) => (t < 2 ? t / 2 : 0)));
    expect(found.climaxSeconds).toBeCloseTo(2, 2);
    expect(found.decaySeconds).toBeLessThan(0.03);
  });
});

describe('active part', () => {
  it('ends where an exponential decay has fallen 60 dB: 6.908 tau', () => {
    const found = moved(tone(4, (t) => (t < 0.5 ? 0 : Math.exp(-(t - 0.5) / 0.3))));
    expect(found.activeStartSeconds).toBeCloseTo(0.5, 2);
    expect(Math.abs((found.activeSeconds ?? 0) - 6.908 * 0.3)).toBeLessThan(0.06);
    expect(found.noiseFloorDbfs).toBeNull();
  });

  it.each([-90, -70, -45])('ends where the decay meets a noise floor of %i dBFS', (floorDb) => {
    const random = new Random(floorDb);
    const level = 10 ** (floorDb / 20);
    const tau = 0.2;
    const samples = tone(4, (t) => (t < 0.7 ? 0 : Math.exp(-(t - 0.7) / tau))).map((x) => x + level * random.normal());
    const found = moved(samples);
    // The tone's level is -3.01 dBFS at first and falls 8.686 / tau dB a second.
    const meets = Math.min(60, -3.01 - floorDb) / (8.686 / tau);
    expect(Math.abs((found.activeStartSeconds ?? 0) - 0.7)).toBeLessThan(0.01);
    expect(Math.abs((found.activeSeconds ?? 0) - meets)).toBeLessThan(Math.max(0.03, 0.03 * meets));
    expect(Math.abs((found.noiseFloorDbfs ?? 0) - floorDb)).toBeLessThan(0.7);
  });

  it('ends where the decay meets a floor that is cut off 0.15 s later', () => {
    const random = new Random(3);
    const tau = 0.1;
    // From -3.01 dBFS down to -50 dBFS at 86.86 dB a second.
    const meets = (50 - 3.01) / (8.686 / tau);
    const samples = tone(meets + 0.15, (t) => Math.exp(-t / tau)).map((x) => x + 10 ** (-50 / 20) * random.normal());
    const found = moved(samples);
    expect(Math.abs((found.noiseFloorDbfs ?? 0) + 50)).toBeLessThan(0.7);
    expect(Math.abs((found.activeSeconds ?? 0) - meets)).toBeLessThan(0.03);
  });

  it('has no floor in a decay of two slopes that is cut off', () => {
    const twoSlopes = (t: number): number => Math.exp(-t / 0.05) + 0.01 * Math.exp(-t / 0.5);
    for (const seconds of [0.5, 0.7, 1]) {
      const found = moved(tone(seconds, twoSlopes));
      expect(found.noiseFloorDbfs).toBeNull();
      expect(found.activeSeconds).toBeGreaterThan(seconds - 0.01);
    }
  });

  it('begins with a weak event that is 6 dB above the noise for 0.1 s', () => {
    const random = new Random(9);
    const samples = tone(4, (t) => (t > 1 && t < 1.1 ? 0.01 * Math.sqrt(8) : t > 2 ? Math.exp(-(t - 2) / 0.1) : 0));
    const found = moved(samples.map((x) => x + 0.01 * random.normal()));
    expect(found.activeStartSeconds).toBeCloseTo(1, 2);
  });

  it('is the whole of a sound that is trimmed tight', () => {
    const found = moved(hiss(1.5, () => 1));
    expect(found.activeStartSeconds).toBeLessThan(0.005);
    expect(found.activeSeconds).toBeGreaterThan(1.49);
    expect(found.noiseFloorDbfs).toBeNull();
  });
});

describe('contour', () => {
  it('is amplitude^0.6: half as loud every 10 dB', () => {
    const { contour } = moved(tone(6.4, (t) => (t < 3.2 ? 1 : 10 ** (-10 / 20))));
    expect(contour).toHaveLength(64);
    expect(contour[10]).toBeCloseTo(1, 2);
    expect(contour[50]).toBeCloseTo(0.501, 2);
  });

  it('keeps the height of a short strike in a long sound', () => {
    const { contour } = moved(tone(20, (t) => (t > 7 && t < 7.02 ? 1 : 0.05)));
    expect(Math.max(...contour)).toBeCloseTo(1, 6);
    expect(contour.indexOf(Math.max(...contour))).toBe(Math.floor((7.01 / 20) * 64));
  });
});

describe('strikes', () => {
  it('on one side of a loud, steady other side are found', () => {
    const left = hiss(3, () => 0.3);
    const right = hiss(3, (t) => (t < 1.3 ? 0 : Math.exp(-(t - 1.3) / 0.1)), 2);
    const follower = new EnvelopeFollower(RATE, 2);
    follower.push([left, right]);
    const { accents } = measureMovement(follower.finish(), 3);
    expect(accents.some(({ seconds }) => Math.abs(seconds - 1.3) < 0.005)).toBe(true);
  });

  it('in the treble over a louder bass are found', () => {
    const bass = tone(3, (t) => 0.5 * Math.min(1, t / 0.8), 60);
    const random = new Random(4);
    let last = 0;
    const samples = bass.map((x, i) => {
      const noise = random.normal();
      const bright = noise - last;
      last = noise;
      return x + (i < 1.7 * RATE ? 0 : 0.05 * bright * Math.exp(-(i / RATE - 1.7) / 0.05));
    });
    const { accents } = moved(samples);
    expect(accents.some(({ seconds }) => Math.abs(seconds - 1.7) < 0.005)).toBe(true);
  });

  it('are as strong as they rise: 20 dB over the noise before', () => {
    const samples = hiss(2, (t) => (t < 1 ? 0.05 : 0.5));
    const strike = moved(samples).accents.find(({ seconds }) => Math.abs(seconds - 1) < 0.01);
    expect(strike?.strengthDb).toBeGreaterThan(18);
    expect(strike?.strengthDb).toBeLessThan(22);
  });
});
