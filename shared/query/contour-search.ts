/**
 * The nearest rows of a table to one wanted row, exactly. Where the machine warps eight rows at once (contour-kernel.ts),
 * all are warped. Elsewhere most distances are never worked out: every sound gets the cheap bounds; then sounds come up by
 * rising bound, meet the dearer bounds, and only those that may still be among the nearest are warped, for as long as they
 * may be (early abandoning).
 */
import { CONTOUR_POINTS } from '../sound.ts';
import {
  beyondEnvelope,
  COST_UNIT,
  endsBound,
  type Rest,
  restBeyondEnvelope,
  SEGMENTS,
  sumSegments,
  warpedCost,
  writeEnvelope,
} from './contour-bounds.ts';
import { LANES, type WarpKernel, warpKernel } from './contour-kernel.ts';
import type { ShapeRows } from './contour-rows.ts';

export interface RowSearch {
  table: ShapeRows;
  row: Uint8Array;
  /** The wanted row is silence. */
  silent: boolean;
  sounds: Uint32Array;
  /** What each sound's distance has beside that of its contour, parallel to `sounds`; not negative. */
  added: Float64Array;
  limit: number;
  /** Between silence and anything that sounds. */
  silentDistance: number;
}

export interface RowsFound {
  /** Places in `sounds`, nearest first; equals in order of place. */
  nearest: Uint32Array;
  /** Parallel to `sounds`: exact for the nearest; for others a lower bound no less than the furthest of those. */
  distances: Float64Array;
}

export function nearestRows(asked: RowSearch, kernel: WarpKernel | null = warpKernel()): RowsFound {
  return kernel ? allWarped(asked, kernel) : searched(asked);
}

function allWarped(asked: RowSearch, { wanted, rows, costs, warp }: WarpKernel): RowsFound {
  const { table, row, sounds, added } = asked;
  const distances = new Float64Array(sounds.length);
  const kept = new Nearest(Math.min(asked.limit, sounds.length));
  wanted.set(row);
  for (let first = 0; first < sounds.length; first += LANES) {
    const end = Math.min(sounds.length, first + LANES);
    for (let at = first; at < end; at++) {
      const from = sounds[at] * CONTOUR_POINTS;
      for (let point = 0, to = at - first; point < CONTOUR_POINTS; point++, to += LANES) {
        rows[to] = table.rows[from + point];
      }
    }
    warp();
    for (let at = first; at < end; at++) {
      const isApart = table.silent[sounds[at]] !== Number(asked.silent);
      distances[at] = (isApart ? asked.silentDistance : costs[at - first] / COST_UNIT) + added[at];
      // Of equals the first stays: places come rising.
      if (distances[at] < kept.furthest) kept.offer(at, distances[at]);
    }
  }
  return { nearest: kept.places(), distances };
}

function searched(asked: RowSearch): RowsFound {
  const { table, row, sounds, added, limit } = asked;
  const { upper, lower, sums, upperSums, lowerSums } = wantedTables(row);
  const bounds = table.bounds();
  const distances = new Float64Array(sounds.length);
  for (let at = 0; at < sounds.length; at++) {
    const sound = sounds[at];
    if (table.silent[sound] !== Number(asked.silent)) {
      distances[at] = asked.silentDistance + added[at];
      continue;
    }
    const segment = sound * SEGMENTS;
    const coarse =
      beyondEnvelope(bounds.sums, segment, upperSums, lowerSums, 0, SEGMENTS) +
      beyondEnvelope(sums, 0, bounds.upperSums, bounds.lowerSums, segment, SEGMENTS);
    const ends = endsBound(row, 0, table.rows, sound * CONTOUR_POINTS);
    distances[at] = Math.max(coarse, ends) / COST_UNIT + added[at];
  }
  const kept = new Nearest(Math.min(limit, sounds.length));
  if (kept.size === 0) return { nearest: kept.places(), distances };
  const rest: Rest = { a: new Int32Array(CONTOUR_POINTS + 1), b: new Int32Array(CONTOUR_POINTS + 1) };
  for (const at of byRisingBound(distances)) {
    if (stepOf(distances[at]) / STEPS > kept.furthest) break;
    if (distances[at] > kept.furthest) continue;
    const sound = sounds[at];
    if (table.silent[sound] === Number(asked.silent)) {
      const from = sound * CONTOUR_POINTS;
      const fine =
        restBeyondEnvelope(row, 0, bounds.upper, bounds.lower, from, rest.a) +
        restBeyondEnvelope(table.rows, from, upper, lower, 0, rest.b);
      const bound = fine / COST_UNIT + added[at];
      if (bound > distances[at]) distances[at] = bound;
      if (bound > kept.furthest) continue;
      // Rounded up by one more, so that none is lost to rounding.
      const most = Math.min(COST_UNIT, Math.ceil((kept.furthest - added[at]) * COST_UNIT) + 1);
      const cost = warpedCost(row, 0, table.rows, from, most, rest);
      distances[at] = cost / COST_UNIT + added[at];
    }
    kept.offer(at, distances[at]);
  }
  return { nearest: kept.places(), distances };
}

function wantedTables(row: Uint8Array) {
  const upper = new Uint8Array(CONTOUR_POINTS);
  const lower = new Uint8Array(CONTOUR_POINTS);
  writeEnvelope(row, upper, lower);
  const [sums, upperSums, lowerSums] = [row, upper, lower].map((values) => {
    const out = new Uint16Array(SEGMENTS);
    sumSegments(values, 0, out, 0);
    return out;
  });
  return { upper, lower, sums, upperSums, lowerSums };
}

const STEPS = 2048;
const stepOf = (bound: number): number => Math.min(STEPS - 1, Math.floor(bound * STEPS));

/** Places by rising step of their bound, within a step as they come: linear time, and near enough to stop early. */
function byRisingBound(bounds: Float64Array): Uint32Array {
  const starts = new Uint32Array(STEPS + 1);
  for (const bound of bounds) starts[stepOf(bound) + 1]++;
  for (let at = 0; at < STEPS; at++) starts[at + 1] += starts[at];
  const order = new Uint32Array(bounds.length);
  for (let at = 0; at < bounds.length; at++) order[starts[stepOf(bounds[at])]++] = at;
  return order;
}

/** The nearest so far, in order of distance, then of place. */
class Nearest {
  readonly size: number;
  private readonly distance: Float64Array;
  private readonly place: Uint32Array;
  private held = 0;

  constructor(size: number) {
    this.size = size;
    this.distance = new Float64Array(size);
    this.place = new Uint32Array(size);
  }

  /** What lies beyond cannot be among them any more. */
  get furthest(): number {
    if (this.size === 0) return Number.NEGATIVE_INFINITY;
    return this.held < this.size ? Number.POSITIVE_INFINITY : this.distance[this.held - 1];
  }

  offer(place: number, distance: number): void {
    let from = 0;
    let to = this.held;
    while (from < to) {
      const middle = (from + to) >> 1;
      const other = this.distance[middle];
      if (other < distance || (other === distance && this.place[middle] < place)) from = middle + 1;
      else to = middle;
    }
    if (from === this.size) return;
    if (this.held < this.size) this.held++;
    this.distance.copyWithin(from + 1, from, this.held - 1);
    this.place.copyWithin(from + 1, from, this.held - 1);
    this.distance[from] = distance;
    this.place[from] = place;
  }

  places(): Uint32Array {
    return this.place.slice(0, this.held);
  }
}
