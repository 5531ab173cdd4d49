/** What ranking works out once for a shelf and keeps: how sounds stand in each field. */
import type { NumericField } from '../shelf.ts';
import type { Semitones } from '../sound.ts';
import type { SoundColumns } from './columns.ts';
import { factorUnder, fieldAt } from './varispeed.ts';

export interface ShelfFacts {
  /**
   * Each sound's standing in the archive, as it would sound at `semitones`: the share 0..1 of measured sounds whose value
   * as recorded lies below its own, equal ones counting half; NaN where it has no value.
   */
  standing(field: NumericField, semitones: Semitones): Float32Array;
}

const KNOWN = new WeakMap<SoundColumns, ShelfFacts>();
/** Standings kept at a time: a handful of colours at a few varispeeds. */
const KEPT_STANDINGS = 48;

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
    standing(field, semitones) {
      const factor = factorUnder(field, semitones);
      const key = `${field} ${factor}`;
      const known = standings.get(key);
      if (known) return known;
      const order = orders.get(field) ?? risingOrder(columns.number(field));
      orders.set(field, order);
      if (standings.size >= KEPT_STANDINGS) standings.clear();
      const values = columns.number(field);
      // What a shift takes from a spectrum is another share of each sound's: only then do sounds change places.
      const standing =
        field === 'centroidHz' && semitones !== 0
          ? standingAmong(values, order, movedValues(columns, field, semitones))
          : standingOf(values, order, factor);
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

function movedValues(columns: SoundColumns, field: NumericField, semitones: Semitones): Float32Array {
  const at = fieldAt(columns, field, semitones);
  return Float32Array.from({ length: columns.count }, (_, sound) => at(sound));
}

/** The same for any values: how each of `moved` would stand among `values`, whose rising order is `order`. */
export function standingAmong(values: Float32Array, order: Uint32Array, moved: Float32Array): Float32Array {
  const standing = new Float32Array(moved.length).fill(Number.NaN);
  let below = 0;
  let notAbove = 0;
  for (const sound of risingOrder(moved)) {
    const value = moved[sound];
    while (below < order.length && values[order[below]] < value) below++;
    while (notAbove < order.length && values[order[notAbove]] <= value) notAbove++;
    standing[sound] = (below + notAbove) / 2 / order.length;
  }
  return standing;
}
