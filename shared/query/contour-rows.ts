/** Contours made ready for comparing, all of a shelf at once: what does not depend on the question. */
import type { Shelf } from '../shelf.ts';
import { CONTOUR_POINTS } from '../sound.ts';
import { SEGMENTS, sumSegments, writeEnvelope } from './contour-bounds.ts';

/** Contour values are bytes here, 255 the loudest. Each table holds one row a sound. */
export interface ShapeRows {
  count: number;
  /** CONTOUR_POINTS values: the active part stretched to all points. All 0 for silence. */
  rows: Uint8Array;
  /** 1 where nothing sounds. */
  silent: Uint8Array;
  /** Worked out when first asked for: only machines that cannot warp all rows need them. */
  bounds: () => ShapeBounds;
}

export interface ShapeBounds {
  /** Greatest and least value within the band of each point. */
  upper: Uint8Array;
  lower: Uint8Array;
  /** Sums of SEGMENTS equal parts of rows, upper and lower. */
  sums: Uint16Array;
  upperSums: Uint16Array;
  lowerSums: Uint16Array;
}

const READY = new WeakMap<Shelf, ShapeRows>();

/** Worked out at the first question by shape, unless prepared before, and kept as long as the shelf. */
export function shapeRowsOf(shelf: Shelf): ShapeRows {
  for (const _ of prepareShapeRows(shelf));
  return READY.get(shelf) as ShapeRows;
}

/** Sounds between two rests: a few milliseconds' work. */
const PORTION = 2048;

/** The same in portions, for idle moments; what is left unfinished counts for nothing. */
export function* prepareShapeRows(shelf: Shelf): Generator<void> {
  if (READY.has(shelf)) return;
  const { count } = shelf;
  const rows = new Uint8Array(count * CONTOUR_POINTS);
  const silent = new Uint8Array(count);
  const seconds = shelf.number('durationSeconds');
  const starts = shelf.number('activeStartSeconds');
  const lengths = shelf.number('activeSeconds');
  const contour = new Uint8Array(CONTOUR_POINTS);
  for (let sound = 0; sound < count; sound++) {
    const at = sound * CONTOUR_POINTS;
    contour.set(shelf.contour(sound));
    const row = rows.subarray(at, at + CONTOUR_POINTS);
    // Comparisons with NaN are false: a sound without an active part is taken whole.
    const first = starts[sound] > 0 ? (starts[sound] / seconds[sound]) * CONTOUR_POINTS : 0;
    const length = lengths[sound] > 0 ? (lengths[sound] / seconds[sound]) * CONTOUR_POINTS : CONTOUR_POINTS;
    writeRow(contour, first, Math.min(CONTOUR_POINTS, first + length), row);
    silent[sound] = row.some((value) => value > 0) ? 0 : 1;
    if (sound % PORTION === PORTION - 1) yield;
  }
  let bounds: ShapeBounds | null = null;
  READY.set(shelf, {
    count,
    rows,
    silent,
    bounds() {
      bounds ??= boundsOf(rows, count);
      return bounds;
    },
  });
}

function boundsOf(rows: Uint8Array, count: number): ShapeBounds {
  const table: ShapeBounds = {
    upper: new Uint8Array(count * CONTOUR_POINTS),
    lower: new Uint8Array(count * CONTOUR_POINTS),
    sums: new Uint16Array(count * SEGMENTS),
    upperSums: new Uint16Array(count * SEGMENTS),
    lowerSums: new Uint16Array(count * SEGMENTS),
  };
  for (let sound = 0; sound < count; sound++) {
    const at = sound * CONTOUR_POINTS;
    writeEnvelope(rows.subarray(at, at + CONTOUR_POINTS), table.upper.subarray(at), table.lower.subarray(at));
    const segment = sound * SEGMENTS;
    sumSegments(rows, at, table.sums, segment);
    sumSegments(table.upper, at, table.upperSums, segment);
    sumSegments(table.lower, at, table.lowerSums, segment);
  }
  return table;
}

/**
 * The part of a contour (values 0..255) between two places, in points from its beginning, stretched to CONTOUR_POINTS by
 * straight lines between the middles of points, as the square root of its loudness.
 */
export function writeRow(contour: ArrayLike<number>, first: number, end: number, to: Uint8Array): void {
  const step = Math.max(0, end - first) / CONTOUR_POINTS;
  const last = CONTOUR_POINTS - 1;
  for (let point = 0; point < CONTOUR_POINTS; point++) {
    const place = Math.max(0, Math.min(last, first + (point + 0.5) * step - 0.5));
    const before = Math.floor(place);
    const value = contour[before];
    const next = contour[Math.min(last, before + 1)];
    to[point] = Math.round(255 * Math.sqrt((value + (next - value) * (place - before)) / 255));
  }
}
