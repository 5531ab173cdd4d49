import { expect, test } from 'vitest';
import { extentOf } from '../../src/client/extent.ts';

test('the rectangle of points is that of those that have a place', () => {
  const nowhere = Number.NaN;
  const x = Float32Array.of(nowhere, 0.5, nowhere, -0.25);
  const y = Float32Array.of(nowhere, -1, nowhere, 0.75);
  expect(extentOf(x, y)).toEqual({ left: -0.25, right: 0.5, top: -1, bottom: 0.75 });
  expect(extentOf(x.subarray(0, 1), y.subarray(0, 1))).toBeNull();
});
