import { describe, expect, test } from 'vitest';
import { type Stereo, StereoMeter } from '../../shared/measure/stereo.ts';
import { inBlocks, scaled, sine, whiteNoise } from './tones.ts';

const RATE = 48_000;
const left = whiteNoise(2, RATE, 0.1, 1);
const right = whiteNoise(2, RATE, 0.1, 2);

function stereo(channels: Float32Array[]): Stereo {
  const meter = new StereoMeter(channels.length);
  for (const block of inBlocks(channels, [1_000, 13])) meter.push(block);
  return meter.finish();
}

describe('signals whose answer is known by thought', () => {
  test.each<[string, Float32Array[], number | null, number | null]>([
    ['identical channels', [left, left], 0, 1],
    ['one channel inverted', [left, scaled(left, -1)], 1, -1],
    ['independent noise', [left, right], 0.5, 0],
    ['left only', [left, new Float32Array(left.length)], 0.5, null],
    ['panned by 6 dB: S^2/(M^2+S^2) = (1/4)^2 / ((3/4)^2 + (1/4)^2)', [left, scaled(left, 0.5)], 0.1, 1],
    ['a quarter period apart', [sine(1_000, 1, RATE), sine(1_000, 1, RATE, 1, Math.PI / 2)], 0.5, 0],
    ['mono', [left], null, null],
    ['silence', [new Float32Array(100), new Float32Array(100)], null, null],
    ['nothing', [new Float32Array(0), new Float32Array(0)], null, null],
    ['constant channels', [new Float32Array(100).fill(0.5), new Float32Array(100).fill(-0.5)], null, null],
  ])('%s', (_, channels, width, correlation) => {
    const measured = stereo(channels);
    if (width === null) expect(measured.stereoWidth).toBeNull();
    else expect(Math.abs((measured.stereoWidth ?? 9) - width)).toBeLessThan(0.01);
    if (correlation === null) expect(measured.correlation).toBeNull();
    else expect(Math.abs((measured.correlation ?? 9) - correlation)).toBeLessThan(0.01);
  });
});

test('channels may be swapped, gain and constant offsets change nothing', () => {
  const wide = [left, left.map((x, n) => 0.6 * x + 0.4 * right[n])];
  const plain = stereo(wide);
  for (const other of [
    stereo([wide[1], wide[0]]),
    stereo(wide.map((samples) => scaled(samples, 0.01))),
    stereo(wide.map((samples, channel) => samples.map((x) => x + 0.3 * channel))),
  ]) {
    expect(other.stereoWidth).toBeCloseTo(plain.stereoWidth ?? 9, 4);
    expect(other.correlation).toBeCloseTo(plain.correlation ?? 9, 4);
  }
});

test('of more than two channels the front pair is looked at', () => {
  expect(stereo([left, left, right, right, right, right]).stereoWidth).toBeCloseTo(0, 6);
});
