/** From a question and its answer to the pick-up that is written down. Pure. */
import { formatMetre } from '../../shared/music.ts';
import { type Chip, lengthSeconds, type Query } from '../../shared/query/chips.ts';
import type { MusicalTarget } from '../../shared/query/musical.ts';
import type { Reason } from '../../shared/query/rank.ts';
import { curveWords } from './curve-words.ts';
import { type DrawnShape, writeShape } from './drawn-shape.ts';
import { seconds, trueMinus } from './format.ts';
import type { PickUp, Wished } from './pick-up-list.ts';

/** The question as answered. */
export interface Answered {
  query: Query;
  /** The curve drawn beside the words. */
  shape: DrawnShape | null;
  target: MusicalTarget | null;
  /** Nothing found answers quite what was asked. */
  weak: boolean;
  /** The first of the sounds found; null where none was. */
  nearest: { id: string; name: string; reasons: readonly Reason[] } | null;
}

export function missesOf(reasons: readonly Reason[]): string {
  const misses = reasons.filter(({ fits }) => !fits).map(({ text }) => text);
  return trueMinus(misses.join(', '));
}

const DRAWN = 'a shape drawn';

/** The question in its own words, piece by piece, and the shape drawn; no words where nothing is asked. */
export function wishOf({ query: { text, chips }, shape }: Answered): Wished {
  const pieces = chips.map(({ span }) => text.slice(span[0], span[1]).trim());
  return {
    wish: [...pieces, ...(shape === null ? [] : [DRAWN])].join(', '),
    shape: shape === null ? '' : writeShape(shape),
  };
}

/** What to ask to hear whether a wish has been recorded since. */
export function wordsOf({ wish, shape }: Wished): string {
  return shape === '' ? wish : wish.slice(0, -DRAWN.length).replace(/, $/, '');
}

export function pickUpOf(answered: Answered, now: Date): PickUp {
  const { query, shape, target, nearest } = answered;
  const curve = shape && curveWords(shape.heights);
  const misses = nearest ? missesOf(nearest.reasons) : '';
  return {
    id: `${now.getTime().toString(36)}-${Math.floor(Math.random() * 36 ** 6).toString(36)}`,
    ...wishOf(answered),
    askedOn: [now.getFullYear(), now.getMonth() + 1, now.getDate()]
      .map((part) => String(part).padStart(2, '0'))
      .join('-'),
    figures: [
      ...query.chips.filter(({ detail }) => detail !== '').map(({ label, detail }) => trueMinus(`${label}: ${detail}`)),
      ...(curve === null ? [] : [`drawn: ${curve}${shape?.seconds ? `, ${seconds(shape.seconds)}` : ''}`]),
    ],
    lengthSeconds: wantedLength(query.chips) ?? shape?.seconds ?? null,
    accentSeconds: target?.part === 'accent' ? target.seconds : null,
    tempoBpm: query.tempo?.bpm ?? null,
    metre: query.metre && formatMetre(query.metre),
    nearest: nearest ? [nearest.name, misses].filter((piece) => piece !== '').join(', ') : '',
    nearestId: nearest?.id ?? '',
    note: '',
  };
}

function wantedLength(chips: readonly Chip[]): number | null {
  for (const chip of chips) {
    if (chip.kind === 'length' && !chip.negated && (chip.fit === 'exact' || chip.fit === 'about'))
      return lengthSeconds(chip.length);
  }
  return null;
}
