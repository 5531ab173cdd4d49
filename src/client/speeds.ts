/** The switch "Also at other speeds", and which speed a sound is taken in hand at. */
import { MOST_SHIFTS, parseShifts } from '../../shared/query/varispeed.ts';
import type { Semitones } from '../../shared/sound.ts';
import { byId, onClick, setPressed } from './dom.ts';
import { readSetting, writeSetting } from './settings.ts';
import { type Store, wholeSpeed } from './state.ts';

const USUAL_SPEEDS = '-24 -12 12';
const SETTING = 'speeds';

export class Speeds {
  private readonly store: Store;
  private readonly say: (sentence: string) => void;
  private readonly button = byId('also');
  private readonly field = byId('also-at', HTMLInputElement);

  constructor(store: Store, say: (sentence: string) => void) {
    this.store = store;
    this.say = say;
    onClick(this.button, () => this.toggle());
    this.field.addEventListener('change', () => this.take());
    store.on(['alsoAt'], () => this.show());
    this.show();
  }

  toggle(): void {
    const isOn = this.store.get().alsoAt.length > 0;
    this.store.set({ alsoAt: isOn ? [] : speedsIn(readSetting(SETTING) ?? '') });
  }

  /** What the person wrote: kept for the next time, unless it cannot be read. */
  private take(): void {
    const speeds = parseShifts(this.field.value);
    const wrong = speeds === null || speeds.length === 0 || speeds.some((shift) => !Number.isInteger(shift));
    this.field.toggleAttribute('aria-invalid', wrong);
    if (wrong) {
      this.say(`Speeds are whole semitones from −24 to 24, up to ${MOST_SHIFTS} of them, such as −24 −12 12.`);
      return;
    }
    writeSetting(SETTING, speeds.join(' '));
    this.store.set({ alsoAt: speeds });
    this.show();
  }

  private show(): void {
    const { alsoAt } = this.store.get();
    setPressed(this.button, alsoAt.length > 0);
    this.field.hidden = alsoAt.length === 0;
    this.field.removeAttribute('aria-invalid');
    this.field.value = alsoAt.join(' ').replaceAll('-', '−');
  }
}

/** Whole semitones only, as the slider has them; the usual speeds where the text names none. */
export function speedsIn(text: string): Semitones[] {
  const named = parseShifts(text)?.filter(Number.isInteger) ?? [];
  return named.length > 0 ? named : (parseShifts(USUAL_SPEEDS) ?? []);
}

/**
 * The speed follows the row: a sound that answers at another speed is taken at it, one that answers as asked brings the
 * speed back. Where the person moved the slider in between, it stays where it was put, until a row answers at another
 * speed again.
 */
export class RowSpeed {
  private readonly store: Store;
  /** The varispeed a sound answers at, and the one the question asks for. */
  private readonly answersAt: (sound: number) => Semitones;
  private readonly asked: () => Semitones;
  /** The speed last set from here. */
  private followed = 0;

  constructor(store: Store, answersAt: (sound: number) => Semitones, asked: () => Semitones) {
    this.store = store;
    this.answersAt = answersAt;
    this.asked = asked;
  }

  /** What the slider is to show when this sound is taken. */
  speedFor(sound: number): Semitones {
    const { speed } = this.store.get();
    const answer = this.answersAt(sound);
    const moved = speed !== this.followed;
    if (answer === this.asked() && moved) return speed;
    this.followed = wholeSpeed(answer);
    return this.followed;
  }

  /** The question asks at another speed now, or a link set one: that is no move of the slider by hand. */
  restart(speed: Semitones): void {
    this.followed = speed;
  }
}
