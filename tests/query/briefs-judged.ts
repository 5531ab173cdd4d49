/** Asks briefs of a shelf and judges the answers by truth. */
import { createRandom } from '../../scripts/demo/synth/random.ts';
import { parseQuery } from '../../shared/query/parse.ts';
import { rankSounds } from '../../shared/query/rank.ts';
import type { WordIndex } from '../../shared/query/words.ts';
import type { Shelf } from '../../shared/shelf.ts';
import type { TrueSound } from './brief-truth.ts';
import type { Brief } from './briefs.ts';

/** A rival counts as worse by truth only where it misses by so much more of what was asked: less is not heard. */
const CLEAR = 0.1;

/**
 * The sound a brief means by truth, and after it those that are as right; throws where the judgement itself does not hold.
 */
export function soundsMeant(brief: Brief, sounds: readonly TrueSound[]): [TrueSound, ...TrueSound[]] {
  const { misses = () => 0, equals = 0 } = brief;
  const [meant, ...others] = sounds.filter(brief.among).sort((a, b) => misses(a) - misses(b));
  const said = ({ file, name }: TrueSound) => `${file}: ${name}`;
  if (!meant || meant.file !== brief.file || meant.name !== brief.name) {
    throw new Error(`"${brief.asks}" means ${meant ? said(meant) : 'no sound'}, not ${brief.file}: ${brief.name}.`);
  }
  const asRight = others.filter((sound) => misses(sound) < misses(meant) + CLEAR);
  if (asRight.length !== equals) {
    throw new Error(`"${brief.asks}" could mean ${asRight.map(said).join(' or ') || 'no other sound'} as well.`);
  }
  return [meant, ...asRight];
}

/** Place of each true sound in the shelf: the take that shares most of its time; -1 where none holds it. */
export function placesInShelf(sounds: readonly TrueSound[], shelf: Shelf): Map<TrueSound, number> {
  const takes = new Map<string, { at: number; from: number; to: number }[]>();
  for (let at = 0; at < shelf.count; at++) {
    for (const { file, startSeconds } of shelf.places(at)) {
      const take = { at, from: startSeconds, to: startSeconds + (shelf.value('durationSeconds', at) ?? 0) };
      takes.set(file, [...(takes.get(file) ?? []), take]);
    }
  }
  return new Map(
    sounds.map((sound) => {
      const { startSeconds: from, lengthSeconds } = sound;
      let best = -1;
      let most = 0;
      for (const take of takes.get(sound.file) ?? []) {
        const shared = Math.min(take.to, from + lengthSeconds) - Math.max(take.from, from);
        if (shared > most) {
          most = shared;
          best = take.at;
        }
      }
      return [sound, best];
    }),
  );
}

export interface Answered {
  /** 1 for the first of the list; 0 where it is not in the list. */
  place: number;
  /** The shortest text of the brief's own pieces that brings the sound meant into the first five; null where none does. */
  shortest: string | null;
  /** Its letters and the presses of Arrow Down until the sound plays. */
  keystrokes: number;
}

const FIRST = 5;

/** 1 for the first of the list; 0 where none of the sounds meant is in it. */
export function placeOf(asks: string, meant: readonly number[], shelf: Shelf, index: WordIndex): number {
  return rankSounds(shelf, index, parseQuery(asks)).order.findIndex((sound) => meant.includes(sound)) + 1;
}

export function answer(asks: string, meant: readonly number[], shelf: Shelf, index: WordIndex): Answered {
  const place = placeOf(asks, meant, shelf, index);
  let shortest: string | null = null;
  let keystrokes = Number.POSITIVE_INFINITY;
  for (const text of partsOf(asks)) {
    if (text.length >= keystrokes) continue;
    const at = placeOf(text, meant, shelf, index);
    if (at > 0 && at <= FIRST && text.length + at < keystrokes) {
      shortest = text;
      keystrokes = text.length + at;
    }
  }
  return { place, shortest, keystrokes };
}

/** Every choice of the pieces a text is understood in, in their order, shorter first. */
function partsOf(asks: string): string[] {
  const pieces = parseQuery(asks).chips.map(({ span: [start, end] }) => asks.slice(start, end).trim());
  const choices = Array.from({ length: 2 ** pieces.length - 1 }, (_, chosen) =>
    pieces.filter((_piece, at) => ((chosen + 1) >> at) & 1).join(' '),
  );
  return [asks, ...choices].sort((a, b) => a.length - b.length);
}

const MOST_OF_A_GESTURE = 7;
const WRITTEN_SHARE = 10;
const CARRIED_SHARES = { name: 12, subject: 10, place: 8 };

/** The sounds that the forty briefs describe: by chance, spread over gestures and over what files carry. */
export function drawn(sounds: readonly TrueSound[], written: ReadonlySet<string>, seed: string): TrueSound[] {
  const random = createRandom(seed);
  const left: Record<string, number> = { written: WRITTEN_SHARE, ...CARRIED_SHARES };
  const gestures = new Map<string, number>();
  return sounds
    .map((sound) => ({ sound, key: random.unit() }))
    .sort((a, b) => a.key - b.key)
    .map(({ sound }) => sound)
    .filter(({ file, carries, gesture }) => {
      const kind = written.has(file) ? 'written' : carries;
      const so = gestures.get(gesture) ?? 0;
      if (left[kind] === 0 || so === MOST_OF_A_GESTURE) return false;
      left[kind]--;
      gestures.set(gesture, so + 1);
      return true;
    });
}
