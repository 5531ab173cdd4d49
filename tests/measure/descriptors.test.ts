import { readdirSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { DESCRIPTORS, FAMILIES } from '../../shared/measure/descriptors.ts';
import { measureBlocks } from '../../shared/measure/measure.ts';
import type { Measurements } from '../../shared/sound.ts';
import { measureFile, SAMPLES } from './recordings.ts';
import { whiteNoise } from './tones.ts';

const noise = measureBlocks([[whiteNoise(0.5, 48_000, 0.1)]], {
  sampleRateHz: 48_000,
  channels: 1,
  bitDepth: 24,
  channelMask: null,
});

describe('the table of descriptors', () => {
  test('covers every field that is measured, and none that is not', () => {
    expect(Object.keys(DESCRIPTORS).sort()).toEqual(Object.keys(noise.measurements).sort());
  });

  test('says something in every column, in one plain sentence style', () => {
    for (const [field, { family, title, meaning, formula, source, edges }] of Object.entries(DESCRIPTORS)) {
      expect(FAMILIES, field).toContain(family);
      for (const text of [title, meaning, source, edges]) expect(text.length, `${field}: ${text}`).toBeGreaterThan(3);
      for (const text of [meaning, source, edges]) expect(text, field).toMatch(/[.]$/);
      if (family !== 'file') expect(formula.length, field).toBeGreaterThan(5);
      expect(title, field).toMatch(/^[A-Z]/);
    }
  });

  test('units agree with the names of the fields', () => {
    const endings: [RegExp, string][] = [
      [/Seconds$/, 's'],
      [/Hz$/, 'Hz'],
      [/Lufs$/, 'LUFS'],
      [/Lu$/, 'LU'],
      [/Dbtp$/, 'dBTP'],
      [/Dbfs$/, 'dBFS'],
      [/Db$/, 'dB'],
      [/Bpm$/, 'bpm'],
    ];
    for (const [field, { unit }] of Object.entries(DESCRIPTORS)) {
      const wanted = endings.find(([ending]) => ending.test(field))?.[1];
      if (wanted !== undefined) expect(unit, field).toBe(wanted);
    }
  });
});

test('real sounds stay within the ranges it names', async () => {
  const files = readdirSync(SAMPLES).filter((_, index) => index % 20 === 0);
  expect(files.length).toBeGreaterThan(9);
  for (const file of files) expectInRange(await measureFile(SAMPLES + file, 3), file);
  expectInRange(noise.measurements, 'noise');
});

function expectInRange(measured: Measurements, name: string): void {
  for (const [field, value] of Object.entries(measured)) {
    const range = DESCRIPTORS[field as keyof Measurements].range;
    if (range === null) continue;
    for (const number of numbersIn(value)) {
      expect(number, `${field} of ${name}`).toBeGreaterThanOrEqual(range[0]);
      expect(number, `${field} of ${name}`).toBeLessThanOrEqual(range[1]);
    }
  }
}

function numbersIn(value: unknown): number[] {
  if (typeof value === 'number') return [value];
  return value !== null && typeof value === 'object' ? Object.values(value).flatMap(numbersIn) : [];
}
