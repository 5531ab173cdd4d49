/**
 * Positions on the map: near each other = alike to the ear in colour and movement; length and level do not count.
 *
 * UMAP (McInnes, Healy & Melville 2018, by umap-js) over the exact nearest neighbours, with a seeded random source, so
 * that the same sounds in the same order always give the same map. Too few sounds for that stand on their two principal
 * axes.
 */
import { UMAP } from 'umap-js';
import { GROUP_RANGES, VECTOR_SIZE } from '../../shared/vectors.ts';
import { nearestRows } from './neighbours.ts';

export const LAYOUT = {
  version: 1,
  neighbours: 15,
  minDist: 0.25,
  spread: 1.4,
  epochs: 300,
  seed: 20_260_417,
} as const;

/** What counts on the map: timbre and movement in full, pitch a little. */
const MAP_WEIGHTS = { timbre: 1, movement: 0.7, pitch: 0.25, length: 0 } as const;

export interface Position {
  x: number;
  y: number;
}

export interface LayoutOptions {
  onProgress?: (share: number) => void;
}

/** One position a likeness vector; all within -1..1, the wider axis filling it. */
export function layoutMap(vectors: Float32Array, options: LayoutOptions = {}): Promise<Position[]> {
  const rows = weighted(vectors);
  return layoutRows(rows, rows.length / Math.max(1, vectors.length / VECTOR_SIZE), options);
}

/** The same for any rows of `width` numbers. */
export async function layoutRows(rows: Float32Array, width: number, options: LayoutOptions = {}): Promise<Position[]> {
  const count = width > 0 ? rows.length / width : 0;
  const k = Math.min(LAYOUT.neighbours, Math.floor((count - 1) / 2));
  if (k < 2) return fitToSquare(principalAxes(rows, width));
  const { indices, distances } = nearestRows(rows, width, k);
  const umap = new UMAP({
    nNeighbors: k,
    minDist: LAYOUT.minDist,
    spread: LAYOUT.spread,
    nEpochs: LAYOUT.epochs,
    random: seededRandom(LAYOUT.seed),
  });
  umap.setPrecomputedKNN(indices, distances);
  const data = Array.from({ length: count }, (_, row) => [...rows.subarray(row * width, (row + 1) * width)]);
  const epochs = umap.initializeFit(data);
  for (let epoch = 0; epoch < epochs; epoch++) {
    umap.step();
    if (epoch % 20 === 0) {
      options.onProgress?.(epoch / epochs);
      await new Promise((resolve) => setImmediate(resolve));
    }
  }
  return fitToSquare(umap.getEmbedding().map(([x, y]) => ({ x, y })));
}

function weighted(vectors: Float32Array): Float32Array {
  const dimensions = Object.entries(MAP_WEIGHTS).flatMap(([group, weight]) => {
    const [first, end] = GROUP_RANGES[group as keyof typeof MAP_WEIGHTS];
    return weight === 0
      ? []
      : Array.from({ length: end - first }, (_, i) => ({ at: first + i, scale: Math.sqrt(weight) }));
  });
  const count = vectors.length / VECTOR_SIZE;
  const out = new Float32Array(count * dimensions.length);
  for (let row = 0, to = 0; row < count; row++) {
    for (const { at, scale } of dimensions) out[to++] = vectors[row * VECTOR_SIZE + at] * scale;
  }
  return out;
}

/** mulberry32: a small generator with a 32-bit state; the sequence is the same on every machine. */
export function seededRandom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** Projection on the two directions of greatest variance, by power iteration. */
function principalAxes(rows: Float32Array, width: number): Position[] {
  const count = width > 0 ? rows.length / width : 0;
  const centred = Float64Array.from(rows);
  for (let i = 0; i < width; i++) {
    let mean = 0;
    for (let row = 0; row < count; row++) mean += rows[row * width + i] / count;
    for (let row = 0; row < count; row++) centred[row * width + i] -= mean;
  }
  const first = axis(centred, width, null);
  const second = axis(centred, width, first);
  const along = (row: number, direction: Float64Array): number =>
    direction.reduce((sum, value, i) => sum + value * centred[row * width + i], 0);
  return Array.from({ length: count }, (_, row) => ({ x: along(row, first), y: along(row, second) }));
}

function axis(centred: Float64Array, width: number, not: Float64Array | null): Float64Array {
  let direction = Float64Array.from({ length: width }, (_, i) => 1 + i / width);
  for (let round = 0; round < 100; round++) {
    const next = new Float64Array(width);
    for (let row = 0; row * width < centred.length; row++) {
      let along = 0;
      for (let i = 0; i < width; i++) along += direction[i] * centred[row * width + i];
      for (let i = 0; i < width; i++) next[i] += along * centred[row * width + i];
    }
    if (not) {
      const overlap = next.reduce((sum, value, i) => sum + value * not[i], 0);
      for (let i = 0; i < width; i++) next[i] -= overlap * not[i];
    }
    const length = Math.hypot(...next);
    if (length < 1e-12) return new Float64Array(width);
    direction = next.map((value) => value / length);
  }
  return direction;
}

/** Moves and scales evenly so that everything lies within -1..1. */
function fitToSquare(positions: Position[]): Position[] {
  const range = (values: number[]): [number, number] => [
    values.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY),
    values.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY),
  ];
  const [left, right] = range(positions.map(({ x }) => x));
  const [bottom, top] = range(positions.map(({ y }) => y));
  const scale = Math.max(right - left, top - bottom) / 2 || 1;
  return positions.map(({ x, y }) => ({ x: (x - (left + right) / 2) / scale, y: (y - (bottom + top) / 2) / scale }));
}
