/** When nothing fits: says so plainly under the list and offers to write the wish down, with its figures, to be recorded. */

import { formatMetre } from '../../shared/music.ts';
import { type Chip, lengthSeconds, type Query } from '../../shared/query/chips.ts';
import type { MusicalTarget } from '../../shared/query/musical.ts';
import type { Reason } from '../../shared/query/rank.ts';
import { archive, byId, make, onClick } from './dom.ts';
import { trueMinus } from './format.ts';
import type { PickUp } from './pick-up-list.ts';

/** The question as answered. */
export interface Answered {
  query: Query;
  target: MusicalTarget | null;
  /** Nothing found answers quite what was asked. */
  weak: boolean;
  /** The first of the sounds found; null where none was. */
  nearest: { id: string; name: string; reasons: readonly Reason[] } | null;
}

export interface WishSource {
  answered: () => Answered;
  has: (wish: string) => boolean;
  add: (pickUp: PickUp) => void;
  say: (sentence: string) => void;
  showList: () => void;
}

/** The sentence waits for the hands to rest: half a word answers nothing, and nobody asked half a word. */
const REST_MILLISECONDS = 350;

export class Wish {
  private readonly source: WishSource;
  private readonly band = byId('wish');
  private resting = 0;

  constructor(source: WishSource) {
    this.source = source;
  }

  /** After every question, and after the pick-up list changed. */
  renew(): void {
    window.clearTimeout(this.resting);
    const { query, weak } = this.source.answered();
    if (query.chips.length === 0 || !weak) this.band.hidden = true;
    else this.resting = window.setTimeout(() => this.show(), REST_MILLISECONDS);
  }

  /** Writes the wish down, however well it was answered. */
  write(): void {
    const answered = this.source.answered();
    const wish = wishText(answered.query);
    if (wish === '') this.source.say('Ask for something first; then p writes it on the pick-up list.');
    else this.source.add(pickUpOf(wish, answered, new Date()));
    this.renew();
  }

  private show(): void {
    const answered = this.source.answered();
    const isKnown = this.source.has(wishText(answered.query));
    const act = make('button', { type: 'button' }, isKnown ? 'Show the pick-up list' : 'Put it on the pick-up list');
    onClick(act, () => (isKnown ? this.source.showList() : this.write()));
    const key = isKnown ? [] : [make('kbd', { 'aria-hidden': 'true' }, 'p')];
    this.band.replaceChildren(make('p', {}, ...sentenceOf(answered, isKnown)), act, ...key);
    this.band.hidden = false;
  }
}

function sentenceOf({ nearest }: Answered, isKnown: boolean): (string | HTMLElement)[] {
  if (isKnown) return ['Nothing fits quite; it is on the pick-up list.'];
  if (!nearest) return ['Not on the shelf: it may be one to record.'];
  const misses = missesOf(nearest.reasons);
  return ['Nothing fits quite. Nearest: ', archive(nearest.name), misses === '' ? '.' : `, ${misses}.`];
}

function missesOf(reasons: readonly Reason[]): string {
  const misses = reasons.filter(({ fits }) => !fits).map(({ text }) => text);
  return trueMinus(misses.join(', '));
}

/** The question in its own words, piece by piece. */
export function wishText({ text, chips }: Query): string {
  return chips.map(({ span }) => text.slice(span[0], span[1]).trim()).join(', ');
}

export function pickUpOf(wish: string, { query, target, nearest }: Answered, now: Date): PickUp {
  const misses = nearest ? missesOf(nearest.reasons) : '';
  return {
    id: `${now.getTime().toString(36)}-${Math.floor(Math.random() * 36 ** 6).toString(36)}`,
    wish,
    askedOn: [now.getFullYear(), now.getMonth() + 1, now.getDate()]
      .map((part) => String(part).padStart(2, '0'))
      .join('-'),
    figures: query.chips
      .filter(({ detail }) => detail !== '')
      .map(({ label, detail }) => trueMinus(`${label}: ${detail}`)),
    lengthSeconds: wantedLength(query.chips),
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
