/** What blades and rows read of a sound, worked out once and kept. */
import { semitonesToRate } from '../../shared/music.ts';
import { headSecondsOf, heardSecondsOf } from '../../shared/query/heard.ts';
import type { Shelf } from '../../shared/shelf.ts';
import { type BladeShape, brightnessOf } from './blade.ts';
import { plural, seconds } from './format.ts';

/** More wedges than this say "it repeats" no better and clutter the sign. */
const SHOWN_ACCENTS = 6;

export class Shapes {
  readonly shelf: Shelf;
  private readonly heard: (sound: number) => number;
  private readonly head: (sound: number) => number;
  private readonly kept = new Map<number, BladeShape>();

  constructor(shelf: Shelf) {
    this.shelf = shelf;
    this.heard = heardSecondsOf(shelf);
    this.head = headSecondsOf(shelf);
  }

  of(index: number): BladeShape {
    const known = this.kept.get(index);
    if (known) return known;
    const length = this.duration(index);
    const strongest = [...this.shelf.accents(index)]
      .sort((a, b) => b.strengthDb - a.strengthDb)
      .slice(0, SHOWN_ACCENTS);
    const shape: BladeShape = {
      contour: this.shelf.contour(index),
      brightness: brightnessOf(this.shelf.value('centroidHz', index)),
      accents: length > 0 ? strongest.map((accent) => Math.min(1, accent.seconds / length)) : [],
    };
    this.kept.set(index, shape);
    return shape;
  }

  /** As it is listed, asked for and compared: without head and stillness after it. */
  heardSeconds(index: number): number {
    return this.heard(index);
  }

  /** What lies before it is heard. */
  headSeconds(index: number): number {
    return this.head(index);
  }

  /** Of the whole, as it is drawn and played. */
  duration(index: number): number {
    return this.shelf.value('durationSeconds', index) ?? 0;
  }

  /** The accent that counts: the strongest, or null where none stands out. */
  accentSeconds(index: number): number | null {
    const accents = this.shelf.accents(index);
    if (accents.length === 0) return null;
    return this.shelf.value('climaxSeconds', index) ?? accents[0].seconds;
  }

  name(index: number): string {
    return this.shelf.text('name', index) || 'without a name';
  }

  /** A sound in one breath, for those who hear the page read: name, length, gesture, accent. */
  spoken(index: number): string {
    return `${this.name(index)}, ${this.spokenFacts(index)}`;
  }

  /** At `semitones`, times are those of that speed. */
  spokenFacts(index: number, semitones = 0): string {
    const rate = semitonesToRate(semitones);
    const accents = this.shelf.accents(index).length;
    const accent = this.accentSeconds(index);
    const pieces = [seconds(this.heardSeconds(index) / rate), this.shelf.gestureOf(index)];
    if (accents === 1 && accent !== null) pieces.push(`accent at ${seconds(accent / rate)}`);
    else if (accents > 1 && accent !== null)
      pieces.push(`${plural(accents, 'accent')}, the main one at ${seconds(accent / rate)}`);
    return pieces.filter((piece) => piece !== null).join(', ');
  }
}
