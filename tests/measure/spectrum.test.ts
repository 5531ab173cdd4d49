import { describe, expect, test } from 'vitest';
import { FrameFeeder } from '../../shared/measure/frames.ts';
import { type Spectrum, SpectrumAnalysis } from '../../shared/measure/spectrum.ts';
import { faded, harmonics, inBlocks, joined, scaled, sine, whiteNoise } from './tones.ts';

const RATE = 48_000;

function spectrum(channels: Float32Array[]): Spectrum {
  const analysis = new SpectrumAnalysis(RATE);
  const feeder = new FrameFeeder(channels.length, [analysis]);
  for (const block of inBlocks(channels, [5_000, 300])) feeder.push(block);
  feeder.finish();
  return analysis.finish({ startSeconds: 0, endSeconds: channels[0].length / RATE });
}

const within = (value: number | null, wanted: number, share: number): void => {
  expect(value).not.toBeNull();
  expect(Math.abs((value ?? 0) / wanted - 1), `${value} for ${wanted}`).toBeLessThan(share);
};

describe('signals whose spectrum is known', () => {
  test.each([110, 440, 1_000, 5_000, 15_000])('a sine of %i Hz has itself as centre and next to no spread', (hz) => {
    const measured = spectrum([faded(sine(hz, 1, RATE, 0.3), RATE, 0.1)]);
    within(measured.centroidHz, hz, 0.01);
    // The Hann window alone spreads a sine over about a bin (23.4 Hz) each side: sqrt(1/3) bin, and the fade a little.
    expect(measured.spreadHz).toBeLessThan(24);
    expect(Math.abs((measured.rolloffHz ?? 0) - hz)).toBeLessThan(48);
    expect(measured.flatness).toBeLessThan(0.001);
  });

  test('two sines of equal power stand half their distance from the middle', () => {
    const two = sine(2_000, 1, RATE, 0.2).map((x, n) => x + 0.2 * Math.sin((2 * Math.PI * 4_000 * n) / RATE));
    const measured = spectrum([faded(two, RATE, 0.1)]);
    within(measured.centroidHz, 3_000, 0.005);
    within(measured.spreadHz, 1_000, 0.005);
  });

  test('white noise: rate/4, rate/(4 sqrt 3), 85 % of half the rate, flatness e^-gamma', () => {
    // A uniform density on 0..24 kHz; the flatness of one periodogram of Gaussian noise, whose bins are exponential.
    const measured = spectrum([whiteNoise(10, RATE, 0.1)]);
    within(measured.centroidHz, 12_000, 0.01);
    within(measured.spreadHz, 6_928.2, 0.01);
    within(measured.rolloffHz, 20_400, 0.01);
    // Neighbouring bins of a Hann window are correlated, which leaves the expectation of the logarithm untouched.
    within(measured.flatness, 0.5615, 0.02);
  });

  test('band-limited saw and square of 100 Hz: the power centroid of their series', () => {
    // sum f P / sum P of amplitudes 1/n (all n, odd n) up to 24 kHz.
    within(
      spectrum([
        faded(
          harmonics(100, 1, RATE, (n) => 0.3 / n),
          RATE,
          0.1,
        ),
      ]).centroidHz,
      369.1,
      0.02,
    );
    within(
      spectrum([
        faded(
          harmonics(100, 1, RATE, (n) => (n % 2) * (0.3 / n)),
          RATE,
          0.1,
        ),
      ]).centroidHz,
      274.1,
      0.02,
    );
  });
});

describe('properties', () => {
  const sound = whiteNoise(1, RATE, 0.1, 5).map((x, n) => (x + Math.sin(n / 10)) * Math.exp(-n / 20_000));

  test('level changes nothing', () => {
    const loud = spectrum([sound]);
    const quiet = spectrum([scaled(sound, 0.01)]);
    for (const key of ['centroidHz', 'spreadHz', 'flatness', 'rolloffHz', 'brightnessSlope'] as const) {
      expect(quiet[key], key).toBeCloseTo(loud[key] ?? 0, 3);
    }
    quiet.cepstrumMean?.forEach((value, i) => {
      expect(value).toBeCloseTo(loud.cepstrumMean?.[i] ?? 0, 2);
    });
  });

  test('two equal channels sound like one; an inverted one cancels nothing', () => {
    const mono = spectrum([sound]);
    expect(spectrum([sound, sound]).centroidHz).toBeCloseTo(mono.centroidHz ?? 0, 3);
    expect(spectrum([sound, scaled(sound, -1)]).centroidHz).toBeCloseTo(mono.centroidHz ?? 0, 3);
  });

  test('a constant offset changes nothing', () => {
    const offset = spectrum([sound.map((x) => x + 0.3)]);
    // The step at the start and end of an offset sound is real sound.
    within(offset.rolloffHz, spectrum([sound]).rolloffHz ?? 0, 0.25);
    const steady = sine(1_000, 2, RATE, 0.1);
    const inside = new SpectrumAnalysis(RATE);
    const feeder = new FrameFeeder(1, [inside]);
    feeder.push([steady.map((x) => x + 0.5)]);
    feeder.finish();
    within(inside.finish({ startSeconds: 0.2, endSeconds: 1.8 }).centroidHz, 1_000, 0.001);
  });

  test('time reversed: same colour, opposite change of brightness', () => {
    const sweep = Float32Array.from({ length: 2 * RATE }, (_, n) => {
      // Three octaves in two seconds from 250 Hz: 1.5 octaves a second.
      return 0.3 * Math.sin(((2 * Math.PI * 250) / (1.5 * Math.LN2)) * (2 ** (1.5 * (n / RATE)) - 1));
    });
    const up = spectrum([faded(sweep, RATE)]);
    const down = spectrum([faded(sweep, RATE).reverse()]);
    within(up.brightnessSlope, 1.5, 0.02);
    within(down.brightnessSlope, -1.5, 0.02);
    within(down.centroidHz, up.centroidHz ?? 0, 0.02);
  });

  test('a bright strike and a dark one of equal energy count the same, wherever they fall', () => {
    const burst = (hz: number) => faded(sine(hz, 0.006, RATE, 0.5), RATE, 0.002);
    const pair = joined(burst(8_000), new Float32Array(400), burst(1_000));
    for (let head = 2_000; head < 3_100; head += 130) {
      const { centroidHz } = spectrum([joined(new Float32Array(head), pair, new Float32Array(4_000))]);
      within(centroidHz, (8_000 + 1_000) / 2, 0.01);
    }
  });

  test('steady sounds have next to no slope', () => {
    expect(Math.abs(spectrum([whiteNoise(3, RATE, 0.1)]).brightnessSlope ?? 1)).toBeLessThan(0.01);
  });
});

test('silence and very short sounds', () => {
  expect(spectrum([new Float32Array(RATE)]).centroidHz).toBeNull();
  expect(spectrum([new Float32Array(RATE)]).cepstrumMean).toBeNull();
  const short = spectrum([sine(1_000, 0.004, RATE, 0.3)]);
  expect(short.centroidHz).toBeGreaterThan(500);
  expect(short.brightnessSlope).toBeNull();
});
