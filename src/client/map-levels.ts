/** The lie of the land: level lines of how densely sounds lie on the map, worked out once a shelf. */
import { contourDensity } from 'd3-contour';
import { extentOf } from './extent.ts';
import type { MapView } from './state.ts';
import type { Palette } from './theme.ts';

/** Level lines in a unit square of this many steps, worked out once a shelf. */
const LEVEL_STEPS = 512;
const LEVEL_COUNT = 7;
/** Ink laid on at each level. */
const LEVEL_INK = 0.014;
const LEVEL_BANDWIDTH = 17;
/** Coarser than the blur, so that nothing is lost and the work is a quarter. */
const LEVEL_CELL = 8;
/** Fewer make no landscape. */
const FEWEST_SOUNDS = 12;

export interface Levels {
  paths: Path2D[];
  /** Map units a step, and where the square begins. */
  unit: number;
  x: number;
  y: number;
}

const KNOWN = new WeakMap<Float32Array, Levels>();

/** Level lines of how densely points lie; none where there are too few of them. */
export function levelsOf(x: Float32Array, y: Float32Array): Levels {
  const known = KNOWN.get(x);
  if (known) return known;
  const extent = extentOf(x, y);
  const placed = Array.from(x.keys()).filter((i) => !Number.isNaN(x[i]));
  if (extent === null || placed.length < FEWEST_SOUNDS) return { paths: [], unit: 1, x: 0, y: 0 };
  const { left, right, top, bottom } = extent;
  const margin = 0.15;
  const side = Math.max(right - left, bottom - top, 1e-3) * (1 + 2 * margin);
  const unit = side / LEVEL_STEPS;
  const [originX, originY] = [(left + right - side) / 2, (top + bottom - side) / 2];
  const density = contourDensity<number>()
    .x((i) => (x[i] - originX) / unit)
    .y((i) => (y[i] - originY) / unit)
    .size([LEVEL_STEPS, LEVEL_STEPS])
    .cellSize(LEVEL_CELL)
    .bandwidth(LEVEL_BANDWIDTH)
    .thresholds(LEVEL_COUNT);
  const paths = density(placed).map(({ coordinates }) => {
    const path = new Path2D();
    for (const ring of coordinates.flat()) {
      ring.forEach(([pointX, pointY], at) => {
        if (at === 0) path.moveTo(pointX, pointY);
        else path.lineTo(pointX, pointY);
      });
      path.closePath();
    }
    return path;
  });
  const made = { paths, unit, x: originX, y: originY };
  KNOWN.set(x, made);
  return made;
}

/** Draws one level where a view of this size, centred on its view, shows it. */
export function drawLevel(
  context: CanvasRenderingContext2D,
  path: Path2D,
  { unit, x, y }: Levels,
  { view, width, height }: { view: MapView; width: number; height: number },
  palette: Palette,
): void {
  const scale = unit * view.scale;
  context.save();
  context.translate(width / 2 + (x - view.x) * view.scale, height / 2 + (y - view.y) * view.scale);
  context.scale(scale, scale);
  context.fillStyle = palette.ink;
  context.globalAlpha = LEVEL_INK;
  context.fill(path, 'evenodd');
  context.globalAlpha = 1;
  context.strokeStyle = palette.line;
  context.lineWidth = 0.9 / scale;
  context.stroke(path);
  context.restore();
}
