/** The rectangle that points fill. */

export interface Extent {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** null for no points. */
export function extentOf(x: Float32Array, y: Float32Array): Extent | null {
  if (x.length === 0) return null;
  const extent: Extent = { left: x[0], right: x[0], top: y[0], bottom: y[0] };
  for (let i = 1; i < x.length; i++) {
    extent.left = Math.min(extent.left, x[i]);
    extent.right = Math.max(extent.right, x[i]);
    extent.top = Math.min(extent.top, y[i]);
    extent.bottom = Math.max(extent.bottom, y[i]);
  }
  return extent;
}
