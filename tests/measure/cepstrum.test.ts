import { expect, test } from 'vitest';
import { Cepstrum, MEL_BANDS, MEL_FLOOR_DB, MEL_HIGHEST_HZ, MEL_LOWEST_HZ } from '../../shared/measure/cepstrum.ts';
import { CEPSTRUM_COEFFICIENTS } from '../../shared/sound.ts';
import { randomNumbers } from './tones.ts';

const BINS = 1_025;
const BIN_HZ = 48_000 / 2_048;

function cepstrum(power: Float64Array): number[] {
  const coefficients = new Float64Array(CEPSTRUM_COEFFICIENTS);
  new Cepstrum(BIN_HZ, BINS).compute(power, coefficients);
  return [...coefficients];
}

/** Written straight from the definition: every filter over every bin, every cosine over every band. */
function naive(power: Float64Array): number[] {
  const mel = (hz: number) => 2595 * Math.log10(1 + hz / 700);
  const edges = Array.from({ length: MEL_BANDS + 2 }, (_, i) => {
    const m = mel(MEL_LOWEST_HZ) + (i * (mel(MEL_HIGHEST_HZ) - mel(MEL_LOWEST_HZ))) / (MEL_BANDS + 1);
    return 700 * (10 ** (m / 2595) - 1);
  });
  const energies = Array.from({ length: MEL_BANDS }, (_, band) =>
    power.reduce((sum, p, k) => {
      const hz = k * BIN_HZ;
      const rising = (hz - edges[band]) / (edges[band + 1] - edges[band]);
      const falling = (edges[band + 2] - hz) / (edges[band + 2] - edges[band + 1]);
      return sum + p * Math.max(0, Math.min(rising, falling));
    }, 0),
  );
  const strongest = Math.max(...energies);
  const db = energies.map((energy) => 10 * Math.log10(Math.max(energy, strongest * 10 ** (MEL_FLOOR_DB / 10))));
  return Array.from({ length: CEPSTRUM_COEFFICIENTS }, (_, i) => {
    const sum = db.reduce((total, e, b) => total + e * Math.cos((Math.PI * i * (b + 0.5)) / MEL_BANDS), 0);
    return sum * Math.sqrt((i === 0 ? 1 : 2) / MEL_BANDS);
  });
}

test('equals the definition on random spectra', () => {
  const random = randomNumbers(11);
  for (let turn = 0; turn < 20; turn++) {
    const power = Float64Array.from({ length: BINS }, (_, k) => random() ** 4 / (1 + (k * random()) / 50));
    const expected = naive(power);
    cepstrum(power).forEach((value, i) => {
      expect(value).toBeCloseTo(expected[i], 8);
    });
  }
});

test('gain moves the first coefficient only, by sqrt(bands) times its dB', () => {
  const random = randomNumbers(12);
  const power = Float64Array.from({ length: BINS }, () => random());
  const [first, ...rest] = cepstrum(power);
  const [firstLoud, ...restLoud] = cepstrum(power.map((p) => p * 100));
  expect(firstLoud - first).toBeCloseTo(20 * Math.sqrt(MEL_BANDS), 6);
  restLoud.forEach((value, i) => {
    expect(value).toBeCloseTo(rest[i], 6);
  });
});

test('every band has bins of its own, and no energy gives zeros', () => {
  const power = new Float64Array(BINS);
  expect(cepstrum(power)).toEqual(new Array(CEPSTRUM_COEFFICIENTS).fill(0));
  // Equal energy per band would need equal filters; a filter without a bin would sit at the floor, 80 dB down.
  const flat = cepstrum(power.fill(1));
  expect(Math.abs(flat[1])).toBeLessThan(60);
});
