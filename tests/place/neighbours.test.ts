import { expect, test } from 'vitest';
import { seededRandom } from '../../scripts/place/layout.ts';
import { nearestRows } from '../../scripts/place/neighbours.ts';

/** Naive twin: every distance of a row, sorted; ties by index. */
function naive(rows: Float32Array, width: number, k: number, row: number): { index: number; distance: number }[] {
  const count = rows.length / width;
  const all = Array.from({ length: count }, (_, index) => {
    let sum = 0;
    for (let i = 0; i < width; i++) sum += (rows[row * width + i] - rows[index * width + i]) ** 2;
    return { index, distance: index === row ? -1 : Math.sqrt(sum) };
  });
  return all.sort((a, b) => a.distance - b.distance || a.index - b.index).slice(0, k);
}

test('nearest rows are those a full sort finds, each row first among its own', () => {
  const random = seededRandom(3);
  for (const [count, width, k] of [
    [1, 3, 1],
    [7, 2, 7],
    [200, 5, 9],
    [120, 38, 15],
  ]) {
    // Rounded, so that ties and equal rows occur.
    const rows = Float32Array.from({ length: count * width }, () => Math.round(random() * 4));
    const { indices, distances } = nearestRows(rows, width, k);
    for (let row = 0; row < count; row++) {
      const expected = naive(rows, width, k, row);
      expect(indices[row][0]).toBe(row);
      expect(distances[row]).toEqual(expected.map(({ distance }) => Math.max(0, distance)));
      // Among equally far rows either choice is right; those nearer than the last must agree.
      const nearer = expected.filter(({ distance }) => distance < expected[expected.length - 1].distance);
      expect(new Set(indices[row])).toEqual(
        new Set([...nearer.map(({ index }) => index), ...indices[row].slice(nearer.length)]),
      );
      expect(new Set(indices[row]).size).toBe(k);
    }
  }
});
