/** What blades and rows read of a sound, worked out once and kept. */
import { type MainAccent, mainAccent, wedgeShares } from '../../shared/main-accent.ts';
import { semitonesToRate } from '../../shared/music.ts';
import { headSecondsOf, heardSecondsOf } from '../../shared/query/heard.ts';
import type { Shelf } from '../../shared/shelf.ts';
import type { Measurements } from '../../shared/sound.ts';
import { type BladeShape, brightnessOf } from './blade.ts';
import { plural, seconds } from './format.ts';

/** More wedges than this say "it repeats" no better and clutter the sign. */
export const SHOWN_ACCENTS = 6;

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
    const shape: BladeShape = {
      contour: this.shelf.contour(index),
      brightness: brightnessOf(this.shelf.value('centroidHz', index)),
      accents: wedgeShares({ ...this.moments(index), durationSeconds: this.duration(index) }, SHOWN_ACCENTS),
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

  /** The accent that counts; null for silence. */
  mainAccent(index: number): MainAccent | null {
    return mainAccent(this.moments(index));
  }

  private moments(index: number): Pick<Measurements, 'climaxSeconds' | 'accents'> {
    return { climaxSeconds: this.shelf.value('climaxSeconds', index), accents: this.shelf.accents(index) };
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
    const main = this.mainAccent(index);
    const pieces = [seconds(this.heardSeconds(index) / rate), this.shelf.gestureOf(index)];
    if (main !== null) {
      const at = seconds(Math.max(0, main.seconds - this.headSeconds(index)) / rate);
      if (!main.strikes) pieces.push(`loudest at ${at}`);
      else pieces.push(accents === 1 ? `accent at ${at}` : `${plural(accents, 'accent')}, the main one at ${at}`);
    }
    return pieces.filter((piece) => piece !== null).join(', ');
  }
}
