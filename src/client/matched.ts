/** Sounds as they are to be played: brought to the level set, two that are compared to one loudness. */
import { otherOf } from './context/settings.ts';
import { type Match, matchLoudness } from './output.ts';
import type { Shapes } from './shapes.ts';
import type { Store } from './state.ts';
import type { Playable } from './voice.ts';

export class Matched {
  private readonly store: Store;
  private readonly shapes: Shapes;
  /** The level set, in LUFS. */
  private readonly target: () => number;

  constructor(store: Store, shapes: Shapes, target: () => number) {
    this.store = store;
    this.shapes = shapes;
    this.target = target;
  }

  playable(sound: number): Playable {
    const { shelf } = this.shapes;
    const durationSeconds = this.shapes.duration(sound);
    const start = shelf.value('activeStartSeconds', sound) ?? 0;
    const length = shelf.value('activeSeconds', sound) ?? durationSeconds;
    return {
      id: shelf.text('id', sound),
      parts: Math.max(1, shelf.value('previewParts', sound) ?? 1),
      durationSeconds,
      loopStartSeconds: start,
      loopEndSeconds: Math.min(durationSeconds, start + length),
      gainDb: this.match(sound, this.lowerDb).gainDb,
    };
  }

  /** While one goes between two takes, both are played as loud as the one its peaks hold back more may be. */
  get lowerDb(): number {
    const { sound, pair } = this.store.get();
    const other = otherOf(pair, sound);
    if (!pair.comparing || sound < 0 || other < 0) return 0;
    return Math.max(0, this.match(sound).heldBackDb, this.match(other).heldBackDb);
  }

  /** By itself, or so much under the level set. */
  match(sound: number, lowerDb = 0): Match {
    const { shelf } = this.shapes;
    const levels = {
      integratedLufs: shelf.value('integratedLufs', sound),
      momentaryMaxLufs: shelf.value('momentaryMaxLufs', sound),
      truePeakDbtp: shelf.value('truePeakDbtp', sound),
    };
    return matchLoudness(levels, this.target() - lowerDb);
  }
}
