import { describe, expect, test } from 'vitest';
import type { Partial } from '../../shared/measure/partials.ts';
import { powerWeightA, RulingPartialWatch } from '../../shared/measure/ruling-partial.ts';

// IEC 61672-1, table of frequency weightings, to a tenth of a decibel (from memory).
test.each([
  [31.5, -39.4],
  [63, -26.2],
  [125, -16.1],
  [250, -8.6],
  [500, -3.2],
  [1_000, 0],
  [2_000, 1.2],
  [4_000, 1],
  [8_000, -1.1],
])('weighting A at the band of %f Hz is %f dB', (nominalHz, db) => {
  // The table is for exact thirds of an octave, 1000 * 10^(n / 10).
  const hz = 1_000 * 10 ** (Math.round(10 * Math.log10(nominalHz / 1_000)) / 10);
  expect(Math.abs(10 * Math.log10(powerWeightA(hz)) - db)).toBeLessThan(0.06);
});

describe('the ruling partial', () => {
  const BIN_HZ = 48_000 / 16_384;

  /** Frames of lines given as frequency and level in dB; each frame with its level. */
  function ruling(frames: readonly { lines: readonly [number, number][]; noiseDb?: number }[]) {
    const watch = new RulingPartialWatch(BIN_HZ);
    for (const { lines, noiseDb = -80 } of frames) {
      const power = new Float64Array(8_193).fill(10 ** (noiseDb / 10) / 8_193);
      const partials: Partial[] = lines.map(([hz, db]) => ({ hz, power: 10 ** (db / 10) }));
      for (const { hz, power: peak } of partials) {
        const bin = Math.round(hz / BIN_HZ);
        for (const [at, share] of [
          [bin - 1, 0.25],
          [bin, 1],
          [bin + 1, 0.25],
        ])
          power[at] += peak * share;
      }
      watch.push(power, partials);
    }
    return watch.finish(0, frames.length);
  }

  const pair = (firstHz: number, secondHz: number, secondDb: number) =>
    ruling([
      {
        lines: [
          [firstHz, 0],
          [secondHz, secondDb],
        ],
      },
    ]);

  test('is the one that stands 15 dB over all others, not the one that stands 14', () => {
    // The weights of 1270 and 1000 Hz differ by 0.7 dB.
    expect(pair(1_270, 1_000, -15)?.hz).toBeCloseTo(1_270, 2);
    expect(pair(1_270, 1_000, -13)).toBeNull();
  });

  test('or the lowest where it stands 13 dB over the others, as in a bar, not where it stands 12', () => {
    expect(pair(262, 708, -13.5)?.hz).toBeCloseTo(262, 2);
    expect(pair(262, 708, -12)).toBeNull();
  });

  test('is what the ear hears: a thump at 45 Hz, as strong as a high string, does not count', () => {
    expect(
      ruling([
        {
          lines: [
            [45, 0],
            [3_000, 0],
          ],
        },
      ])?.hz,
    ).toBeCloseTo(3_000, 0);
    expect(
      ruling([
        {
          lines: [
            [450, 0],
            [3_000, 0],
          ],
        },
      ]),
    ).toBeNull();
  });

  test('must hold a quarter of all that is heard', () => {
    expect(ruling([{ lines: [[1_000, 0]], noiseDb: 0 }])).not.toBeNull();
    expect(ruling([{ lines: [[1_000, 0]], noiseDb: 12 }])).toBeNull();
  });

  test('rules in most of the sound, the long ring of a bright blow, and not now here, now there', () => {
    const blow = {
      lines: [
        [1_000, 0],
        [2_700, 0],
        [5_400, 0],
      ] as [number, number][],
    };
    const ring = (hz: number, db: number) => ({ lines: [[hz, db]] as [number, number][] });
    const rung = ruling([blow, ring(1_000, -4), ring(1_002, -8), ring(998, -12), ring(1_000, -16)]);
    expect(rung?.hz).toBeCloseTo(1_000, -1);
    expect(rung?.share).toBeGreaterThan(0.5);
    expect(ruling([blow, ring(1_000, -30)])).toBeNull();
    expect(ruling([ring(800, 0), ring(1_000, 0), ring(1_250, 0)])).toBeNull();
  });

  test('of silence and of nothing is none', () => {
    expect(ruling([{ lines: [], noiseDb: Number.NEGATIVE_INFINITY }])).toBeNull();
    expect(ruling([])).toBeNull();
  });
});
