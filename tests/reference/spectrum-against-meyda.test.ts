/**
 * Centroid, spread and flatness against Meyda, a general-purpose feature library: its own transform, window and
 * extractors, frame by frame, averaged with the frames' energy as our definition says. The extractors take any spectrum;
 * given powers they answer for powers.
 */
import * as meyda from 'meyda';
import { expect, test } from 'vitest';
import { seededRandom } from '../../scripts/place/layout.ts';
import { measureBlocks } from '../../shared/measure/measure.ts';
import { FLATNESS_HIGHEST_HZ, FLATNESS_LOWEST_HZ } from '../../shared/measure/spectrum.ts';

const RATE = 48_000;
const FRAME = 2048;
const HOP = 1024;
const BIN_HZ = RATE / FRAME;

/** Meyda's settings and extractors, which its type declarations leave out. */
interface Extractors {
  bufferSize: number;
  sampleRate: number;
  windowingFunction: string;
  extract(feature: 'powerSpectrum', frame: Float32Array): ArrayLike<number>;
  featureExtractors: Record<
    'spectralCentroid' | 'spectralSpread' | 'spectralFlatness',
    (input: { ampSpectrum: Float32Array }) => number
  >;
}
const Meyda = meyda.default as unknown as Extractors;

interface Spectral {
  centroidHz: number;
  spreadHz: number;
  flatness: number;
}

function byMeyda(samples: Float32Array): Spectral {
  Meyda.bufferSize = FRAME;
  Meyda.sampleRate = RATE;
  Meyda.windowingFunction = 'hanning';
  const { spectralCentroid, spectralSpread, spectralFlatness } = Meyda.featureExtractors;
  const totals = { energy: 0, centroid: 0, variance: 0, flatness: 0 };
  for (let at = 0; at + FRAME <= samples.length; at += HOP) {
    const power = Float32Array.from(Meyda.extract('powerSpectrum', centred(samples.subarray(at, at + FRAME))));
    power[0] = 0;
    const energy = power.reduce((sum, value) => sum + value, 0);
    const band = power.slice(Math.ceil(FLATNESS_LOWEST_HZ / BIN_HZ), Math.floor(FLATNESS_HIGHEST_HZ / BIN_HZ) + 1);
    totals.energy += energy;
    totals.centroid += energy * spectralCentroid({ ampSpectrum: power });
    totals.variance += energy * spectralSpread({ ampSpectrum: power }) ** 2;
    totals.flatness += energy * spectralFlatness({ ampSpectrum: band });
  }
  return {
    centroidHz: (totals.centroid / totals.energy) * BIN_HZ,
    spreadHz: Math.sqrt(totals.variance / totals.energy) * BIN_HZ,
    flatness: totals.flatness / totals.energy,
  };
}

/** Without its constant part as the window sees it: an offset has no colour. */
function centred(frame: Float32Array): Float32Array {
  const weights = Float64Array.from(frame, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * n) / FRAME));
  const constant = frame.reduce((sum, sample, n) => sum + sample * weights[n], 0) / weights.reduce((a, b) => a + b, 0);
  return frame.map((sample) => sample - constant);
}

const random = seededRandom(11);
const noise = (): number => random() * 2 - 1;

/** Noise through a one-pole low-pass: dark for a pole near 1. */
function darkened(pole: number, seconds: number): Float32Array {
  let state = 0;
  return Float32Array.from({ length: seconds * RATE }, () => {
    state = pole * state + (1 - pole) * noise();
    return 0.4 * state;
  });
}

/** Both ends faded over 100 ms: our frames begin before the sound does, and would hear a hard cut that Meyda's do not. */
function faded(samples: Float32Array): Float32Array {
  return samples.map((sample, i) => sample * Math.min(1, i / (0.1 * RATE), (samples.length - 1 - i) / (0.1 * RATE)));
}

test.each<[string, Float32Array]>([
  ['white noise', Float32Array.from({ length: 2 * RATE }, () => 0.3 * noise())],
  ['dark noise', darkened(0.95, 2)],
  ['very dark noise', darkened(0.99, 2)],
  [
    'a bell of three partials that die away at different speeds',
    Float32Array.from({ length: 2 * RATE }, (_, i) => {
      const seconds = i / RATE;
      const partial = (hz: number, decay: number): number =>
        Math.sin(2 * Math.PI * hz * seconds) * Math.exp(-seconds / decay);
      return 0.2 * (partial(440, 1) + partial(1213, 0.6) + partial(3375, 0.3)) + 1e-4 * noise();
    }),
  ],
])('%s', (_, raw) => {
  const samples = faded(raw);
  const expected = byMeyda(samples);
  const { measurements } = measureBlocks([[samples]], {
    sampleRateHz: RATE,
    channels: 1,
    bitDepth: 32,
    channelMask: null,
  });
  expect((measurements.centroidHz ?? 0) / expected.centroidHz).toBeCloseTo(1, 2);
  expect((measurements.spreadHz ?? 0) / expected.spreadHz).toBeCloseTo(1, 2);
  expect(measurements.flatness).toBeCloseTo(expected.flatness, 2);
});
