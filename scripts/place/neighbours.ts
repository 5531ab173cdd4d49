/** The k nearest rows of every row, exactly, by Euclidean distance over the given dimensions. */

export interface Neighbours {
  /** For each row its k nearest, itself first. */
  indices: number[][];
  distances: number[][];
}

/**
 * `rows`: count x width numbers, row by row. Every pair is looked at once; ties go to the lower index, so that the
 * answer depends on nothing but the input. Time grows with the square of the count.
 */
export function nearestRows(rows: Float32Array, width: number, k: number): Neighbours {
  const count = rows.length / width;
  const size = Math.min(k, count);
  const nearest = new Int32Array(count * size).fill(-1);
  const squared = new Float64Array(count * size).fill(Number.POSITIVE_INFINITY);
  for (let a = 0; a < count; a++) insert(a, a, -1);
  for (let a = 0; a < count; a++) {
    for (let b = a + 1; b < count; b++) {
      const limit = Math.max(squared[a * size + size - 1], squared[b * size + size - 1]);
      let sum = 0;
      for (let i = 0, p = a * width, q = b * width; i < width && sum <= limit; i++) {
        const difference = rows[p + i] - rows[q + i];
        sum += difference * difference;
      }
      if (sum < squared[a * size + size - 1]) insert(a, b, sum);
      if (sum < squared[b * size + size - 1]) insert(b, a, sum);
    }
  }
  const indices: number[][] = [];
  const distances: number[][] = [];
  for (let row = 0; row < count; row++) {
    indices.push([...nearest.subarray(row * size, (row + 1) * size)]);
    distances.push([...squared.subarray(row * size, (row + 1) * size)].map((value) => Math.sqrt(Math.max(0, value))));
  }
  return { indices, distances };

  function insert(row: number, other: number, value: number): void {
    let at = row * size + size - 1;
    while (at > row * size && squared[at - 1] > value) {
      squared[at] = squared[at - 1];
      nearest[at] = nearest[at - 1];
      at--;
    }
    squared[at] = value;
    nearest[at] = other;
  }
}
