import { describe, expect, test } from 'vitest';
import { type MeasuredSound, type MeasureInput, measureBlocks, SoundMeasurer } from '../../shared/measure/measure.ts';
import { CEPSTRUM_COEFFICIENTS, CONTOUR_POINTS, PROFILE_BANDS, WAVEFORM_COLUMNS } from '../../shared/sound.ts';
import {
  amplitudeOf,
  faded,
  harmonics,
  inBlocks,
  joined,
  randomNumbers,
  resampled,
  scaled,
  sine,
  whiteNoise,
} from './tones.ts';

const RATE = 48_000;

function measure(channels: Float32Array[], input: Partial<MeasureInput> = {}, sizes = [65_536]): MeasuredSound {
  return measureBlocks(inBlocks(channels, sizes), {
    sampleRateHz: RATE,
    channels: channels.length,
    bitDepth: 24,
    channelMask: null,
    ...input,
  });
}

/** Every number in a record, by its path. */
function* numbersIn(value: unknown, path = ''): Generator<[string, number]> {
  if (typeof value === 'number') yield [path, value];
  else if (value !== null && typeof value === 'object') {
    for (const [key, part] of Object.entries(value)) yield* numbersIn(part, `${path}.${key}`);
  }
}

function expectSound({ measurements, waveform }: MeasuredSound): void {
  for (const [path, value] of numbersIn(measurements)) expect(Number.isFinite(value), `${path} is ${value}`).toBe(true);
  for (const [path, value] of Object.entries(measurements)) expect(value, path).not.toBeUndefined();
  expect(measurements.contour).toHaveLength(CONTOUR_POINTS);
  for (const share of ['temporalCentroid', 'flatness', 'pitchConfidence', 'stereoWidth', 'roughness'] as const) {
    expect(measurements[share] ?? 0, share).toBeGreaterThanOrEqual(0);
    expect(measurements[share] ?? 0, share).toBeLessThanOrEqual(1);
  }
  if (measurements.profile !== null) expect(measurements.profile).toHaveLength(PROFILE_BANDS);
  if (measurements.cepstrumMean !== null) {
    expect(measurements.cepstrumMean).toHaveLength(CEPSTRUM_COEFFICIENTS);
    expect(measurements.cepstrumSpread).toHaveLength(CEPSTRUM_COEFFICIENTS);
  }
  expect(waveform).toHaveLength(2 * WAVEFORM_COLUMNS);
}

const sound = joined(
  new Float32Array(4_000),
  harmonics(180, 1, RATE, (n) => 0.3 / n).map((x, n) => (x + 0.05 * Math.sin(n * n)) * Math.exp(-n / 12_000)),
);

describe('odd sounds give numbers or null, never NaN', () => {
  test.each<[string, Float32Array[], Partial<MeasureInput>]>([
    ['nothing', [new Float32Array(0)], {}],
    ['one frame', [new Float32Array([0.5])], {}],
    ['three frames', [new Float32Array([0, 0.5, -0.2]), new Float32Array([0.1, 0, 0])], {}],
    ['a hundred frames', [whiteNoise(0.002, RATE, 0.1)], {}],
    ['silence', [new Float32Array(RATE), new Float32Array(RATE)], {}],
    ['one step above silence, once', [new Float32Array(RATE).fill(2 ** -23, 100, 101)], {}],
    ['a constant', [new Float32Array(RATE).fill(0.25)], {}],
    ['a constant at full scale', [new Float32Array(RATE).fill(-1)], {}],
    ['clipped square', [sine(50, 1, RATE, 100).map((x) => Math.max(-1, Math.min(1, x)))], {}],
    ['alternating full scale', [new Float32Array(RATE).map((_, n) => (n % 2 === 0 ? 1 : -1))], {}],
    [
      'eight channels',
      Array.from({ length: 8 }, (_, channel) => whiteNoise(0.5, RATE, 0.05, channel + 1)),
      { channelMask: 0x63f },
    ],
    ['three channels, wrong mask', [sound, sound, sound], { channelMask: 0x3f }],
    ['far over full scale, float', [scaled(sound, 1e5)], { bitDepth: 32 }],
    ['absurdly far over full scale, float', [scaled(sound, 1e37)], { bitDepth: 32 }],
    ['too quiet to hear', [scaled(sound, 1e-9)], { bitDepth: 32 }],
    [
      'broken numbers in a float file',
      [sound.map((x, n) => (n % 997 === 0 ? Number.NaN : n % 1_009 === 0 ? Number.POSITIVE_INFINITY : x))],
      { bitDepth: 32 },
    ],
    ['4 kHz', [sound.subarray(0, 5_000)], { sampleRateHz: 4_000, bitDepth: 8 }],
    ['an odd rate', [sound], { sampleRateHz: 44_099 }],
    ['384 kHz', [sound], { sampleRateHz: 384_000 }],
  ])('%s', (_, channels, input) => {
    expectSound(measure(channels, input));
  });

  test('random short sounds', () => {
    const random = randomNumbers(21);
    for (let turn = 0; turn < 25; turn++) {
      const frames = Math.floor(10 ** (4 * random()));
      const channels = Array.from({ length: 1 + Math.floor(3 * random()) }, () =>
        Float32Array.from({ length: frames }, () => (random() < 0.3 ? 0 : (random() - 0.5) * 10 ** (-6 * random()))),
      );
      expectSound(measure(channels, { sampleRateHz: [22_050, 44_100, 48_000, 96_000][turn % 4] }));
    }
  });
});

describe('what must not matter', () => {
  test('how the sound is cut into blocks: not at all', () => {
    const whole = measure([sound, scaled(sound, 0.5)]);
    const pieces = measure([sound, scaled(sound, 0.5)], {}, [1, 333, 4_096, 17]);
    const other = [...numbersIn(pieces.measurements)];
    for (const [index, [path, value]] of [...numbersIn(whole.measurements)].entries()) {
      expect(other[index][1], path).toBeCloseTo(value, 5);
    }
    expect(pieces.waveform).toEqual(whole.waveform);
  });

  test('gain moves levels by its decibels and nothing else', () => {
    const loud = measure([sound]).measurements;
    const soft = measure([scaled(sound, amplitudeOf(-12))]).measurements;
    const levels = [
      'integratedLufs',
      'momentaryMaxLufs',
      'shortTermMaxLufs',
      'truePeakDbtp',
      'samplePeakDbfs',
    ] as const;
    for (const level of levels) expect((soft[level] ?? 0) - (loud[level] ?? 0), level).toBeCloseTo(-12, 2);
    const colours = [
      'crestDb',
      'centroidHz',
      'spreadHz',
      'rolloffHz',
      'flatness',
      'pitchHz',
      'roughness',
      'brightnessSlope',
    ] as const;
    for (const colour of colours) expect((soft[colour] ?? 0) / (loud[colour] ?? 0), colour).toBeCloseTo(1, 3);
    soft.cepstrumMean?.forEach((value, i) => {
      expect(value).toBeCloseTo(loud.cepstrumMean?.[i] ?? 0, 2);
    });
  });

  test('time reversed: same level and colour', () => {
    const forwards = measure([sound]).measurements;
    const backwards = measure([Float32Array.from(sound).reverse()]).measurements;
    expect(backwards.samplePeakDbfs).toBe(forwards.samplePeakDbfs);
    expect(Math.abs((backwards.truePeakDbtp ?? 0) - (forwards.truePeakDbtp ?? 0))).toBeLessThan(0.01);
    // The gating blocks fall elsewhere and the filter rings the other way.
    expect(Math.abs((backwards.momentaryMaxLufs ?? 0) - (forwards.momentaryMaxLufs ?? 0))).toBeLessThan(0.2);
    expect((backwards.centroidHz ?? 0) / (forwards.centroidHz ?? 1)).toBeCloseTo(1, 1);
    expect(Math.abs((backwards.pitchHz ?? 0) - (forwards.pitchHz ?? 1))).toBeLessThan(1);
  });

  test('the rate of the file moves loudness by less than 0.1 LU and colour by less than 3 %', () => {
    const at = (rate: number) => {
      const tone = faded(
        harmonics(180, 1, rate, (n) => 0.3 / n, 15_000),
        rate,
      ).map((x, n) => x * Math.exp((-4 * n) / rate));
      return measure([tone], { sampleRateHz: rate }).measurements;
    };
    const reference = at(48_000);
    for (const rate of [44_100, 88_200, 96_000]) {
      const other = at(rate);
      expect(Math.abs((other.integratedLufs ?? 0) - (reference.integratedLufs ?? 0)), `${rate}`).toBeLessThan(0.1);
      for (const key of ['centroidHz', 'spreadHz', 'rolloffHz', 'pitchHz'] as const) {
        expect(Math.abs((other[key] ?? 0) / (reference[key] ?? 1) - 1), `${key} at ${rate}`).toBeLessThan(0.03);
      }
    }
    // Below 16 kHz loudness is read after conversion to 48 kHz, where the K curve is exact.
    const low = measure([resampled([sound], RATE, 8_000)[0]], { sampleRateHz: 8_000 }).measurements;
    const same = measure(resampled(resampled([sound], RATE, 8_000), 8_000, RATE)).measurements;
    expect(low.integratedLufs).toBeCloseTo(same.integratedLufs ?? 0, 2);
  });

  test('silence before a sound moves its times, not what it is', () => {
    const plain = measure([sound]).measurements;
    const later = measure([joined(new Float32Array(RATE), sound)]).measurements;
    expect((later.activeStartSeconds ?? 0) - (plain.activeStartSeconds ?? 0)).toBeCloseTo(1, 2);
    expect(Math.abs((later.centroidHz ?? 0) / (plain.centroidHz ?? 1) - 1)).toBeLessThan(0.03);
    expect(Math.abs((later.pitchHz ?? 0) / (plain.pitchHz ?? 1) - 1)).toBeLessThan(0.01);
  });
});

test('the waveform holds the extremes of every stretch', () => {
  const ramp = Float32Array.from({ length: 60_000 }, (_, n) => n / 60_000);
  const { waveform } = measure([ramp, scaled(ramp, -0.5)]);
  for (let column = 0; column < WAVEFORM_COLUMNS; column++) {
    const end = (column + 1) / WAVEFORM_COLUMNS;
    expect(Math.abs(waveform[2 * column + 1] - 127 * end)).toBeLessThanOrEqual(1);
    expect(Math.abs(waveform[2 * column] + 63.5 * end)).toBeLessThanOrEqual(1);
  }
});

test('an unexpected length does no harm', () => {
  for (const totalFrames of [0, 10, 1e9]) {
    const measurer = new SoundMeasurer({
      sampleRateHz: RATE,
      channels: 1,
      bitDepth: 24,
      channelMask: null,
      totalFrames,
    });
    for (const block of inBlocks([sound])) measurer.push(block);
    const measured = measurer.finish();
    expectSound(measured);
    expect(measured.measurements.durationSeconds).toBeCloseTo(sound.length / RATE, 6);
    expect(Math.max(...measured.waveform)).toBeGreaterThan(20);
  }
});
