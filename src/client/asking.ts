/** From a text to what was understood and what was found; the page's only way into search. */
import { lengthSeconds, type Query } from '../../shared/query/chips.ts';
import { STANDING_FIELDS } from '../../shared/query/colours.ts';
import { prepareShapeRows } from '../../shared/query/contour-rows.ts';
import { factsOf } from '../../shared/query/facts.ts';
import type { Nearness } from '../../shared/query/nearness.ts';
import { parseQuery } from '../../shared/query/parse.ts';
import { type Ranking, type Reason, rankSounds } from '../../shared/query/rank.ts';
import { NO_VOCABULARY } from '../../shared/query/vocabulary.ts';
import { importWordIndex } from '../../shared/query/word-file.ts';
import { buildWordIndex, type WordIndex } from '../../shared/query/words.ts';
import type { Shelf } from '../../shared/shelf.ts';
import type { Seconds, Semitones } from '../../shared/sound.ts';
import { bytesOf } from './receive.ts';
import { questionText, type State } from './state.ts';

export interface Answer {
  query: Query;
  ranking: Ranking;
}

export class Asking {
  readonly sessions: readonly string[];
  /** Every tag, the most used first. */
  readonly tags: readonly string[];
  private readonly shelf: Shelf;
  private readonly index: WordIndex;
  private ranking: Ranking | null = null;
  /** Further speeds each sound may answer at. */
  private alsoAt: readonly Semitones[] = [];

  /** `words` is the index made beforehand, base64; without it (or if it cannot be read) one is made here. */
  constructor(shelf: Shelf, words: string | undefined) {
    this.shelf = shelf;
    this.index = readIndex(words) ?? buildWordIndex(shelf, NO_VOCABULARY);
    const sessions = new Set<string>();
    const tags = new Map<string, number>();
    for (let sound = 0; sound < shelf.count; sound++) {
      sessions.add(shelf.text('session', sound));
      for (const tag of shelf.tags(sound)) tags.set(tag, (tags.get(tag) ?? 0) + 1);
    }
    sessions.delete('');
    this.sessions = [...sessions].sort();
    this.tags = [...tags].sort((a, b) => b[1] - a[1]).map(([tag]) => tag);
  }

  /** What the first questions about a colour or a shape would have to work out, in short steps for idle moments. */
  *preparations(): Generator<void> {
    for (const field of STANDING_FIELDS) {
      factsOf(this.shelf).standing(field, 0);
      yield;
    }
    yield* this.speedPreparations();
    yield* prepareShapeRows(this.shelf);
  }

  /** The same for further speeds: where a shift takes something from a spectrum, every sound has to be looked at. */
  *speedPreparations(): Generator<void> {
    for (const semitones of this.alsoAt) {
      factsOf(this.shelf).standing('centroidHz', semitones);
      yield;
    }
  }

  parse(text: string): Query {
    return parseQuery(text, { sessions: this.sessions });
  }

  /** A text cut where its chips begin and end; what gave no chip is left out. */
  pieces(text: string): string[] {
    return this.parse(text).chips.map(({ span }) => text.slice(span[0], span[1]).trim());
  }

  /** A length written beside the question, in seconds; bars and beats go by the question's tempo. null if not understood. */
  lengthOf(text: string, question: Pick<State, 'pieces' | 'typed'>): Seconds | null {
    const written = /^\d+([.,]\d+)?$/.test(text) ? `${text.replace(',', '.')} s` : text;
    const whole = [questionText(question), written].filter((piece) => piece !== '').join(', ');
    const from = whole.length - written.length;
    const chip = this.parse(whole).chips.find(({ kind, span }) => kind === 'length' && span[0] >= from);
    return chip?.kind === 'length' ? lengthSeconds(chip.length) : null;
  }

  /** `near`: what the sounds found should come near to. */
  ask(pieces: readonly string[], typed: string, near: Nearness | null = null): Answer {
    const query = this.parse(questionText({ pieces, typed }));
    const ranking = rankSounds(this.shelf, this.index, query, { near, alsoAtSemitones: this.alsoAt });
    this.ranking = ranking;
    return { query, ranking };
  }

  /** From the next question on. */
  askAlsoAt(speeds: readonly Semitones[]): void {
    this.alsoAt = speeds;
  }

  /** The varispeed a sound answers at, by the last question asked. */
  semitonesOf(sound: number): Semitones {
    return this.ranking?.semitonesOf(sound) ?? 0;
  }

  /** Why a found sound is there, by the last question asked. */
  reasons(sound: number): Reason[] {
    return this.ranking?.reasons(sound) ?? [];
  }

  count(text: string): number {
    return rankSounds(this.shelf, this.index, this.parse(text), { alsoAtSemitones: this.alsoAt }).found;
  }
}

function readIndex(words: string | undefined): WordIndex | null {
  if (words === undefined) return null;
  try {
    return importWordIndex(bytesOf(words));
  } catch {
    return null;
  }
}
