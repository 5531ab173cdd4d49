/** The rectangle that points fill. */

export interface Extent {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** Of those that have a place (the others' is NaN); null for no points. */
export function extentOf(x: Float32Array, y: Float32Array): Extent | null {
  const first = x.findIndex((place) => !Number.isNaN(place));
  if (first < 0) return null;
  const extent: Extent = { left: x[first], right: x[first], top: y[first], bottom: y[first] };
  for (let i = first + 1; i < x.length; i++) {
    if (Number.isNaN(x[i])) continue;
    extent.left = Math.min(extent.left, x[i]);
    extent.right = Math.max(extent.right, x[i]);
    extent.top = Math.min(extent.top, y[i]);
    extent.bottom = Math.max(extent.bottom, y[i]);
  }
  return extent;
}
