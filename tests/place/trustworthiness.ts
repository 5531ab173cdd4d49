/**
 * Trustworthiness of a map (Venna & Kaski 2001): 1 - 2 / (n k (2n - 3k - 1)) * sum over i, over those j that are among
 * the k nearest of i on the map but not in the data, of (rank of j from i in the data - k). 1 = no false neighbours.
 */
export function trustworthiness(
  data: readonly (readonly number[])[],
  map: readonly (readonly number[])[],
  k: number,
): number {
  const n = data.length;
  let penalty = 0;
  for (let i = 0; i < n; i++) {
    const rank = new Map(order(data, i).map((j, at) => [j, at + 1]));
    for (const j of order(map, i).slice(0, k)) penalty += Math.max(0, (rank.get(j) ?? 0) - k);
  }
  return 1 - (2 / (n * k * (2 * n - 3 * k - 1))) * penalty;
}

/** All others by distance from point i, nearest first. */
function order(points: readonly (readonly number[])[], i: number): number[] {
  const squared = (j: number): number =>
    points[i].reduce((sum, value, axis) => sum + (value - points[j][axis]) ** 2, 0);
  return points
    .map((_, j) => j)
    .filter((j) => j !== i)
    .sort((a, b) => squared(a) - squared(b) || a - b);
}
