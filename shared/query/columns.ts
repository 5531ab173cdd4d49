/** What search reads of a shelf of sounds: columns, so that 50,000 sounds are scanned without making an object each. */
import type { NumericField, TextField } from '../shelf.ts';
import type { FaultKind } from '../sound.ts';

export interface SoundColumns {
  readonly count: number;
  /** Index into GESTURES a sound; 255 where it has none. */
  readonly gesture: Uint8Array;
  /** One value a sound; NaN where it has no meaning. */
  number(field: NumericField): Float32Array;
  /** Empty where there is none; tags are parted by TAG_SEPARATOR. */
  text(field: TextField, index: number): string;
  readonly accentColumns: AccentColumns;
  /** PROFILE_BANDS steps of a third of a decibel below the strongest band; null for silence. */
  profile(index: number): Uint8Array | null;
  faults(index: number): FaultKind[];
}

/** Accents of all sounds in one row: those of sound i stand at offsets[i] up to offsets[i + 1]. */
export interface AccentColumns {
  offsets: Uint32Array;
  seconds: Float32Array;
}
