/** What search reads of a shelf of sounds: columns, so that 50,000 sounds are scanned without making an object each. */
import type { NumericField, TextField } from '../shelf.ts';
import type { Accent } from '../sound.ts';

export interface SoundColumns {
  readonly count: number;
  /** Index into GESTURES a sound; 255 where it has none. */
  readonly gesture: Uint8Array;
  /** One value a sound; NaN where it has no meaning. */
  number(field: NumericField): Float32Array;
  /** Empty where there is none; tags are parted by TAG_SEPARATOR. */
  text(field: TextField, index: number): string;
  accents(index: number): Accent[];
}

/** Accents of all sounds in one row: those of sound i stand at offsets[i] up to offsets[i + 1]. */
export interface AccentColumns {
  offsets: Uint32Array;
  seconds: Float64Array;
}

export function accentColumns(columns: SoundColumns): AccentColumns {
  const offsets = new Uint32Array(columns.count + 1);
  const seconds: number[] = [];
  for (let i = 0; i < columns.count; i++) {
    for (const accent of columns.accents(i)) seconds.push(accent.seconds);
    offsets[i + 1] = seconds.length;
  }
  return { offsets, seconds: Float64Array.from(seconds) };
}

/**
 * Each sound's standing in the archive: the share 0..1 of other measured sounds that lie below it, equal values
 * sharing the middle of their run. NaN where the sound has no value; a lone value stands at 0.5.
 */
export function standing(values: Float32Array | Float64Array): Float32Array {
  const order: number[] = [];
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i])) order.push(i);
  order.sort((a, b) => values[a] - values[b]);
  const share = new Float32Array(values.length).fill(Number.NaN);
  const last = order.length - 1;
  for (let start = 0; start <= last; ) {
    let end = start;
    while (end < last && values[order[end + 1]] === values[order[start]]) end++;
    const middle = last === 0 ? 0.5 : (start + end) / 2 / last;
    for (let at = start; at <= end; at++) share[order[at]] = middle;
    start = end + 1;
  }
  return share;
}
