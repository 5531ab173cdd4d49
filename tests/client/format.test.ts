import { expect, test } from 'vitest';
import { decibels, hertz, seconds, signedTime } from '../../src/client/format.ts';

test.each([
  [0.0042, '4 ms'],
  [0.34, '0.34 s'],
  [6.32, '6.3 s'],
  [59.94, '59.9 s'],
  [99.94, '99.9 s'],
  [120, '2 min 00 s'],
  [124.4, '2 min 04 s'],
  [3599.4, '59 min 59 s'],
  [3599.6, '1 h 00 min'],
  [7500, '2 h 05 min'],
])('%f seconds', (value, text) => expect(seconds(value)).toBe(text));

test.each([
  [0, '0 ms'],
  [-0.012, '−12 ms'],
  [0.0994, '+99 ms'],
  [1.204, '+1.20 s'],
  [-12.06, '−12.1 s'],
])('%f seconds with a sign', (value, text) => expect(signedTime(value)).toBe(text));

test('levels and frequencies have their units, and a true minus', () => {
  expect(decibels(-23.04, 'LUFS')).toBe('−23.0 LUFS');
  expect([65.41, 440.2, 1234, 12_345].map(hertz)).toEqual(['65.4 Hz', '440 Hz', '1.23 kHz', '12.3 kHz']);
});
