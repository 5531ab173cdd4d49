/** What ranking works out once for a shelf and keeps: how sounds stand in each field. */
import type { NumericField } from '../shelf.ts';
import type { SoundColumns } from './columns.ts';

export interface ShelfFacts {
  /**
   * Each sound's standing in the archive: the share 0..1 of measured sounds whose value lies below its own times
   * `factor`, equal ones counting half; NaN where it has no value.
   */
  standing(field: NumericField, factor: number): Float32Array;
}

const KNOWN = new WeakMap<SoundColumns, ShelfFacts>();
/** Standings kept at a time: a handful of colours at a few varispeeds. */
const KEPT_STANDINGS = 24;

export function factsOf(columns: SoundColumns): ShelfFacts {
  let facts = KNOWN.get(columns);
  if (!facts) {
    facts = gather(columns);
    KNOWN.set(columns, facts);
  }
  return facts;
}

function gather(columns: SoundColumns): ShelfFacts {
  const orders = new Map<NumericField, Uint32Array>();
  const standings = new Map<string, Float32Array>();
  return {
    standing(field, factor) {
      const key = `${field} ${factor}`;
      const known = standings.get(key);
      if (known) return known;
      const order = orders.get(field) ?? risingOrder(columns.number(field));
      orders.set(field, order);
      if (standings.size >= KEPT_STANDINGS) standings.clear();
      const standing = standingOf(columns.number(field), order, factor);
      standings.set(key, standing);
      return standing;
    },
  };
}

/** Indices of the values that are there, by rising value. */
export function risingOrder(values: Float32Array): Uint32Array {
  const count = values.length;
  const bits = new Int32Array(values.buffer, values.byteOffset, count);
  const keys = new Float64Array(count);
  let present = 0;
  for (let at = 0; at < count; at++) {
    if (Number.isNaN(values[at])) continue;
    // The bits of floats rise with their values, except that those of negative ones run backwards.
    const rank = bits[at] < 0 ? -(bits[at] & 0x7fffffff) : bits[at];
    keys[present++] = rank * count + at;
  }
  const sorted = keys.subarray(0, present).sort();
  return Uint32Array.from(sorted, (key) => ((key % count) + count) % count);
}

/** Linear: both the values and the values times a positive factor rise along `order`. */
export function standingOf(values: Float32Array, order: Uint32Array, factor: number): Float32Array {
  const standing = new Float32Array(values.length).fill(Number.NaN);
  let below = 0;
  let notAbove = 0;
  for (const sound of order) {
    const value = values[sound] * factor;
    while (below < order.length && values[order[below]] < value) below++;
    while (notAbove < order.length && values[order[notAbove]] <= value) notAbove++;
    standing[sound] = (below + notAbove) / 2 / order.length;
  }
  return standing;
}
