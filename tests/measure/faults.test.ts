import { describe, expect, test } from 'vitest';
import { measureBlocks } from '../../shared/measure/measure.ts';
import type { FaultDetail, FaultKind, Measurements } from '../../shared/sound.ts';
import { amplitudeOf, harmonics, joined, randomNumbers, scaled, sine, whiteNoise } from './tones.ts';

const RATE = 48_000;

function measure(channels: Float32Array[], bitDepth: number | null = 24): Measurements {
  return measureBlocks([channels], { sampleRateHz: RATE, channels: channels.length, bitDepth, channelMask: null })
    .measurements;
}

function fault(channels: Float32Array[], kind: FaultKind, bitDepth: number | null = 24): FaultDetail | undefined {
  const measured = measure(channels, bitDepth);
  expect(measured.faults).toEqual([...new Set(measured.faultDetails.map((detail) => detail.kind))]);
  return measured.faultDetails.find((detail) => detail.kind === kind);
}

/** A struck thing that dies away in the time given, with a little room noise: nothing is wrong with it. */
function cleanHit(seconds = 1.5, seed = 1, fallSeconds = seconds / 10): Float32Array {
  const random = randomNumbers(seed);
  const partials = Array.from({ length: 8 }, (_, i) => [80 + 900 * random() * (i + 1), random() * 6.28] as const);
  const room = whiteNoise(seconds, RATE, amplitudeOf(-80), seed);
  return room.map((x, n) => {
    const t = n / RATE;
    const body = partials.reduce((sum, [hz, phase], i) => sum + Math.sin(2 * Math.PI * hz * t + phase) / (i + 2), 0);
    return x + 0.25 * body * Math.exp(-t / fallSeconds) * Math.min(1, t / 0.002);
  });
}

test('clean hits, drones, noise swells and loops have no fault', () => {
  for (let seed = 1; seed <= 4; seed++) expect(measure([cleanHit(1.5, seed)]).faultDetails, `hit ${seed}`).toEqual([]);
  const left = cleanHit(1.5, 7);
  expect(measure([left, left.map((x, n) => 0.7 * x + 0.3 * (left[n - 400] ?? 0))]).faultDetails).toEqual([]);
  expect(measure([harmonics(110, 2, RATE, (n) => 0.2 / n)]).faultDetails).toEqual([]);
  const swell = whiteNoise(3, RATE, 0.1).map((x, n, all) => x * Math.sin((Math.PI * n) / all.length) ** 2);
  expect(measure([swell]).faultDetails).toEqual([]);
  // A loop gated to digital silence, four times a second, is meant so.
  const gated = whiteNoise(4, RATE, 0.1).map((x, n) => (n % 12_000 < 9_000 ? x : 0));
  expect(measure([gated]).faultDetails).toEqual([]);
  // A pulse wave rests at zero between its pulses.
  const pulses = Float32Array.from({ length: 2 * RATE }, (_, n) => (n % 480 < 60 ? 0.3 : 0));
  expect(measure([pulses]).faults).not.toContain('dropout');
});

describe('clipping', () => {
  test('is serious where there is much of it, and says where it starts', () => {
    const loud = cleanHit().map((x) => Math.max(-1, Math.min(1, 5 * x)));
    const found = fault([loud], 'clipping');
    expect(found?.severity).toBe('serious');
    expect(found?.seconds).toBeLessThan(0.1);
    expect(found?.message).toMatch(/^\d+ samples/);
  });
});

test('eight bits kept in sixteen are not clipped where a slow wave rests on its top', () => {
  const slow = sine(40, 1, RATE, 0.5);
  const inEight = (samples: Float32Array): Float32Array => samples.map((x) => Math.round(x * 128) / 128);
  for (const bits of [8, 16, 24]) expect(fault([inEight(slow)], 'clipping', bits), `${bits}`).toBeUndefined();
  const loud = sine(1000, 1, RATE, 1).map((x) => Math.max(-0.5, Math.min(0.5, x)));
  expect(fault([inEight(loud)], 'clipping', 16)?.severity).toBe('serious');
});

describe('dropouts', () => {
  const sound = harmonics(220, 2, RATE, (n) => 0.2 / n, 5_000);

  test.each([0.001, 0.005, 0.02])('a hole of %f s in one of two channels is found where it is', (seconds) => {
    const start = Math.round(1.2345 * RATE);
    const broken = sound.map((x, n) => (n >= start && n < start + seconds * RATE ? 0 : x));
    const found = fault([sound, broken], 'dropout');
    expect(found?.severity).toBe('serious');
    expect(Math.abs((found?.seconds ?? 0) - 1.2345)).toBeLessThan(0.0005);
    expect(found?.message).toContain(`${(1000 * seconds).toFixed(1)} ms`);
  });

  test.each([64, 256, 1024])('a block of %i samples played twice is found', (size) => {
    const noise = whiteNoise(1, RATE, 0.05);
    const found = fault([joined(noise.subarray(0, 20_000), noise.subarray(20_000 - size))], 'dropout');
    expect(found?.message).toContain('twice');
    expect(found?.seconds).toBeCloseTo(20_000 / RATE, 3);
  });

  /** As a converter of `bits` keeps it: whole steps of 2 / 2^bits. */
  const coarse = (samples: Float32Array, bits: number): Float32Array =>
    samples.map((x) => Math.round(x * 2 ** (bits - 1)) / 2 ** (bits - 1));
  /** A wave that weakens to a step or two of eight bits, and so rests on zero again and again. */
  const quiet = (hz: number): Float32Array =>
    sine(hz, 2, RATE, 0.3).map((x, n) => x * Math.exp(-n / 20_000) + 0.009 * Math.sin((2 * Math.PI * 31 * n) / RATE));

  test.each([8, 16, 24])('eight bits kept in %i that rest on zero are whole', (bitDepth) => {
    for (const hz of [110, 333, 1234]) expect(fault([coarse(quiet(hz), 8)], 'dropout', bitDepth)).toBeUndefined();
    // Turned down and rounded to sixteen bits, as an editor leaves them.
    expect(fault([coarse(scaled(coarse(quiet(333), 8), 0.7), 16)], 'dropout', 16)).toBeUndefined();
  });

  test('a hole in eight bits is one all the same', () => {
    const start = Math.round(1.2345 * RATE);
    const broken = coarse(sound, 8).map((x, n) => (n >= start && n < start + 300 ? 0 : x));
    expect(fault([broken], 'dropout', 8)?.seconds).toBeCloseTo(1.2345, 3);
  });

  test('several are counted in the sentence', () => {
    const starts = [11_000, 31_000, 61_000, 77_000];
    const broken = sound.map((x, n) => (starts.some((start) => n >= start && n < start + 300) ? 0 : x));
    expect(fault([broken], 'dropout')?.message).toMatch(/and 3 times more/);
  });
});

describe('channels', () => {
  const left = cleanHit(1.5, 3);

  test('a silent side is noted, not called serious', () => {
    expect(fault([left, new Float32Array(left.length)], 'dead-channel')).toMatchObject({
      severity: 'note',
      message: 'Channel 2 of 2 is silent.',
    });
  });

  test('two equal channels are mono; nearly equal ones after a lossy codec, too', () => {
    expect(fault([left, left], 'mono-as-stereo')?.severity).toBe('note');
    const nearly = left.map((x, n) => x + 1e-5 * Math.sin(n));
    expect(fault([left, nearly], 'mono-as-stereo', 24)).toBeUndefined();
    expect(fault([left, nearly], 'mono-as-stereo', null)).toBeDefined();
    // As 64 kbit/s Opus leaves it and five times that; and a faint room, 40 dB down at the side.
    const power = left.reduce((sum, x) => sum + x * x, 0) / left.length;
    const apart = (share: number): Float32Array => {
      const side = whiteNoise(1.5, RATE, Math.sqrt(2 * share * power), 8);
      return left.map((x, n) => x + side[n]);
    };
    for (const share of [2e-6, 8e-6]) {
      expect(fault([left, apart(share)], 'mono-as-stereo', null)?.message).toContain('codec');
      expect(fault([left, apart(share)], 'mono-as-stereo', 24)).toBeUndefined();
    }
    expect(fault([left, apart(5e-5)], 'mono-as-stereo', null)).toBeUndefined();
  });

  test('an inverted channel is found though it is softer', () => {
    expect(fault([left, scaled(left, -0.7)], 'inverted-channel')?.severity).toBe('serious');
  });
});

test('a constant offset is told from a slow wave', () => {
  expect(fault([cleanHit().map((x) => x + 0.02)], 'dc-offset')?.message).toContain('2.0 %');
  expect(fault([sine(3, 2, RATE, 0.5)], 'dc-offset')).toBeUndefined();
  // Eight bits have no code nearer to the centre than this.
  const inEight = cleanHit().map((x) => (Math.floor(x * 128) + 0.999) / 128);
  expect(fault([inEight], 'dc-offset', 8)).toBeUndefined();
  // Half a period of a very low thump: its mean is far from zero, but it is no offset.
  const thump = Float32Array.from(
    { length: RATE / 5 },
    (_, n) => 0.5 * Math.sin((2 * Math.PI * 12 * n) / RATE) * Math.exp(-n / 2_000),
  );
  expect(fault([thump], 'dc-offset')).toBeUndefined();
});

test('the offset told is the one measured', () => {
  // A wave off centre that also leans: the middle of its moments is not its mean.
  const leaning = harmonics(55, 2, RATE, (n) => 0.2 / n, 2_000).map(
    (x, n) => 0.03 + (x > 0 ? x : x / 3) * Math.exp(-n / 30_000),
  );
  const { dcOffset, faultDetails } = measure([leaning]);
  const told = faultDetails.find(({ kind }) => kind === 'dc-offset');
  expect(told?.message).toContain(`${(100 * dcOffset).toFixed(1)} %`);
});

describe('hum', () => {
  const hum = (mains: number, seconds: number, level: number) =>
    harmonics(mains, seconds, RATE, (n) => [0, 1, 0.5, 0.6, 0.2][n] * amplitudeOf(level), mains * 4.5);

  test.each([50, 60])('of %i Hz under a hit is found at its level', (mains) => {
    const lines = hum(mains, 4, -60);
    const found = fault([cleanHit(4, 2).map((x, n) => x + lines[n])], 'hum');
    expect(found?.message).toContain(`${mains} Hz`);
    // Mean square of the four sines: 3.0 dB below their peak squares, which add up to 1 + .25 + .36 + .04 of the first.
    expect(Math.abs(Number(found?.message.match(/(-\d+) dBFS/)?.[1]) - (-60 - 3.01 + 2.17))).toBeLessThan(1);
  });

  test('a bass note near the mains frequency, or one that is the sound itself, is none', () => {
    // G1 and B1 (ISO 16) lie 1.0 and 1.7 Hz beside 50 and 60 Hz.
    for (const hz of [48.999, 61.735]) {
      const note = harmonics(hz, 4, RATE, (n) => 0.01 / n, 600);
      expect(fault([cleanHit(4, 2).map((x, n) => x + note[n])], 'hum'), `${hz}`).toBeUndefined();
    }
    expect(fault([hum(50, 4, -20)], 'hum')).toBeUndefined();
    expect(fault([whiteNoise(4, RATE, 0.01)], 'hum')).toBeUndefined();
  });
});

test('a low recording is called low', () => {
  expect(fault([scaled(cleanHit(), amplitudeOf(-40))], 'low-level')?.severity).toBe('warning');
});

test('a hit over loud noise has a high noise floor; noise that is the sound has none', () => {
  const noise = whiteNoise(3, RATE, amplitudeOf(-45), 9);
  const hit = cleanHit(3, 4, 0.1);
  expect(
    fault(
      [
        joined(
          noise.subarray(0, RATE),
          noise.subarray(0, 3 * RATE - 1).map((x, n) => x + hit[n]),
        ),
      ],
      'high-noise-floor',
    ),
  ).toBeDefined();
  expect(fault([noise], 'high-noise-floor')).toBeUndefined();
});

test('sounds that hold throughout have no background', () => {
  // An engine: bursts of low noise, twelve a second, never still between them; louder and softer as it turns.
  const rough = whiteNoise(3, RATE, 1, 3);
  const engine = rough.map((x, n) => {
    const firing = Math.max(0.12, Math.sin((2 * Math.PI * 12 * n) / RATE)) ** 2;
    return 0.02 * x * firing * (1 + 0.5 * Math.sin((2 * Math.PI * 0.7 * n) / RATE));
  });
  expect(fault([engine], 'high-noise-floor')).toBeUndefined();
  // A choir that swells out of its own softest moment.
  const choir = harmonics(220, 4, RATE, (n) => 0.02 / n, 4_000).map(
    (x, n, all) => x * (0.3 + 0.7 * Math.sin(Math.PI * Math.min(1, Math.max(0, (1.4 * n) / all.length - 0.2))) ** 2),
  );
  expect(fault([choir], 'high-noise-floor')).toBeUndefined();
});

describe('a tail', () => {
  const hit = cleanHit(3, 5, 0.6);
  const cut = hit.subarray(0, Math.round(0.4 * RATE));

  test('that stops while it still sounds is cut off, and its last level is told', () => {
    const found = fault([cut], 'truncated-tail');
    expect(found?.seconds).toBeCloseTo(0.4, 3);
    const power = (from: number, to: number): number =>
      cut.subarray(from, to).reduce((sum, x) => sum + x * x, 0) / (to - from);
    const loudest = Math.max(...Array.from({ length: 380 }, (_, k) => power(k * 48, k * 48 + 960)));
    const below = 10 * Math.log10(loudest / power(cut.length - 960, cut.length));
    expect(Math.abs(Number(found?.message.match(/ends (-?\d+) dB/)?.[1]) - below)).toBeLessThan(1);
  });

  test.each([0.005, 0.01, 0.05])('faded over %f s is not cut off', (seconds) => {
    const faded = cut.map((x, n) => x * Math.min(1, (cut.length - 1 - n) / (seconds * RATE)));
    expect(fault([faded], 'truncated-tail')).toBeUndefined();
  });

  test('of a dry, short knock that is over anyhow is not cut off, nor is one period of a wave', () => {
    const knock = cleanHit(1, 6, 0.03);
    expect(fault([knock.subarray(0, Math.round(0.12 * RATE))], 'truncated-tail')).toBeUndefined();
    expect(fault([harmonics(100, 0.01, RATE, (n) => 0.4 / n)], 'truncated-tail')).toBeUndefined();
  });
});

test('silence is one fault, and the only one', () => {
  for (const channels of [
    [new Float32Array(RATE)],
    [new Float32Array(0)],
    [new Float32Array(1), new Float32Array(1)],
  ]) {
    expect(measure(channels).faultDetails).toEqual([
      { kind: 'silent', severity: 'serious', seconds: null, message: 'Nothing is heard in this sound.' },
    ]);
  }
});
