/**
 * Finds sounds by word: an inverted index over names, tags, sessions, descriptions and paths.
 *
 * Every distinct word of the archive stands once, in order, with the sounds it occurs in and the fields it occurs in
 * there. A question's word is compared with these words (there are far fewer of them than sounds), each comparison
 * saying how it matched, and only then are scores written down for the sounds. So the answer is exact over every sound.
 */
import type { SoundColumns } from './columns.ts';
import { fold } from './reader.ts';
import { slipOf } from './slips.ts';
import { SpellingByEar } from './spelling.ts';
import { isFigures, otherForms, tokenise } from './tokens.ts';
import { type Synonym, synonymsOf, type Vocabulary } from './vocabulary.ts';
import {
  allOf,
  type Candidate,
  eitherOf,
  firstNotBefore,
  inBoth,
  KIND_WEIGHTS,
  type MatchKind,
  PLAIN_FIELDS,
  scoreCandidates,
  WORD_FIELDS,
  type WordField,
  type WordMatch,
} from './word-score.ts';

/** The index as plain data. */
export interface WordIndexData {
  count: number;
  vocabulary: Vocabulary;
  /** Distinct words, sorted by code unit. */
  words: string[];
  /** Sounds of word w stand at offsets[w] up to offsets[w + 1], rising. */
  offsets: Uint32Array;
  sounds: Uint32Array;
  /** One bit a field, beside `sounds`. */
  fields: Uint8Array;
  /** All sounds by session and name: the order of last resort everywhere. */
  order: Uint32Array;
}

export function buildWordIndex(columns: SoundColumns, vocabulary: Vocabulary): WordIndex {
  const numbers = new Map<string, number>();
  const lastSound: number[] = [];
  const lastPosting: number[] = [];
  const postingWord: number[] = [];
  const postingSound: number[] = [];
  const postingFields: number[] = [];
  for (let sound = 0; sound < columns.count; sound++) {
    for (let bit = 0; bit < WORD_FIELDS.length; bit++) {
      for (const token of tokenise(columns.text(WORD_FIELDS[bit], sound), true)) {
        let word = numbers.get(token);
        if (word === undefined) {
          word = numbers.size;
          numbers.set(token, word);
          lastSound.push(-1);
          lastPosting.push(-1);
        }
        if (lastSound[word] === sound) {
          postingFields[lastPosting[word]] |= 1 << bit;
        } else {
          lastSound[word] = sound;
          lastPosting[word] = postingWord.length;
          postingWord.push(word);
          postingSound.push(sound);
          postingFields.push(1 << bit);
        }
      }
    }
  }
  const words = [...numbers.keys()].sort();
  const place = new Uint32Array(words.length);
  const offsets = new Uint32Array(words.length + 1);
  words.forEach((word, at) => {
    place[numbers.get(word) ?? 0] = at;
  });
  for (const word of postingWord) offsets[place[word] + 1]++;
  for (let at = 0; at < words.length; at++) offsets[at + 1] += offsets[at];
  const next = offsets.slice();
  const sounds = new Uint32Array(postingWord.length);
  const fields = new Uint8Array(postingWord.length);
  for (let at = 0; at < postingWord.length; at++) {
    const slot = next[place[postingWord[at]]]++;
    sounds[slot] = postingSound[at];
    fields[slot] = postingFields[at];
  }
  const order = orderByName(columns);
  return new WordIndex({ count: columns.count, vocabulary, words, offsets, sounds, fields, order });
}

/** Session, then name, figures by value ("take 2" before "take 10"), then as stored. */
function orderByName(columns: SoundColumns): Uint32Array {
  const sortable = (text: string) => fold(text).replace(/\d+/g, (figures) => figures.padStart(12, '0'));
  const keys = Array.from(
    { length: columns.count },
    (_, sound) => `${sortable(columns.text('session', sound))}\n${sortable(columns.text('name', sound))}`,
  );
  const order = Uint32Array.from(keys, (_, sound) => sound);
  return order.sort((a, b) => (keys[a] < keys[b] ? -1 : keys[a] > keys[b] ? 1 : a - b));
}

/** Fewer letters than these stand inside too many words. */
const SHORTEST_INSIDE = 3;
/** Words whose answers are kept, so that typing on does not ask for the earlier words again. */
const REMEMBERED_WORDS = 48;

export class WordIndex {
  readonly data: WordIndexData;
  readonly count: number;
  private readonly synonyms: Map<string, Synonym[]>;
  private readonly remembered = new Map<string, WordMatch>();
  private readonly spelling: SpellingByEar;

  constructor(data: WordIndexData) {
    this.data = data;
    this.count = data.count;
    this.synonyms = synonymsOf(data.vocabulary);
    this.spelling = new SpellingByEar(data.words);
  }

  /**
   * Scores every sound for a word. A word of several parts ("017-03") takes sounds that hold all parts. `strictly`
   * takes the word, its plural and the vocabulary only: no beginnings and no slips.
   */
  match(text: string, fields: readonly WordField[] = PLAIN_FIELDS, strictly = false): WordMatch {
    const key = `${strictly}:${fields.join()}:${text}`;
    const known = this.remembered.get(key);
    this.remembered.delete(key);
    const match = known ?? this.answer(text, fields, strictly);
    this.remembered.set(key, match);
    if (this.remembered.size > REMEMBERED_WORDS) {
      for (const oldest of this.remembered.keys()) {
        this.remembered.delete(oldest);
        break;
      }
    }
    return match;
  }

  /** Sounds that hold exactly this folded word, nothing like it. */
  exactly(word: string, fields: readonly WordField[] = PLAIN_FIELDS): WordMatch {
    const out: Candidate[] = [];
    this.pushWord(out, word, 'word');
    return scoreCandidates(out, bitsOf(fields), this.count);
  }

  /**
   * Words and phrases, folded, that the vocabulary takes for what a word or phrase asks for; not the word itself. What it
   * says of the very form asked goes before what it says of singular or plural: "blows" are a pulse, "blow" is a hit.
   */
  answersTo(text: string): string[] {
    const tokens = tokenise(text);
    const said = (form: string) => (this.synonyms.get(form) ?? []).map((synonym) => synonym.tokens.join(' '));
    const own = said(tokens.join(' '));
    return own.length > 0 || tokens.length !== 1 ? own : otherForms(tokens[0]).flatMap(said);
  }

  /** 1 for each sound that has any word in the field. */
  filledIn(field: WordField): Uint8Array {
    const bit = 1 << WORD_FIELDS.indexOf(field);
    const filled = new Uint8Array(this.count);
    const { sounds, fields } = this.data;
    for (let at = 0; at < sounds.length; at++) if (fields[at] & bit) filled[sounds[at]] = 1;
    return filled;
  }

  private answer(text: string, fields: readonly WordField[], strictly: boolean): WordMatch {
    const bits = bitsOf(fields);
    const tokens = tokenise(text);
    const whole = tokens.length > 1 ? this.synonymCandidates(tokens.join(' ')) : [];
    const parts = tokens.map((token) => scoreCandidates(this.candidates(token, strictly), bits, this.count));
    const together = parts.length === 1 ? parts[0] : allOf(parts, this.count);
    return whole.length === 0 ? together : eitherOf(together, scoreCandidates(whole, bits, this.count), this.count);
  }

  /**
   * All words of the archive that answer a folded word. Only where the word itself, its plural, its beginning and the
   * vocabulary answer nothing are words taken that hold it inside or differ by a typing slip, and where these are none
   * either, words that sound like it: else "ring" would bring every string, and "metal" every petal. Figures are taken whole: "1" is not the beginning of 17, unless there is
   * no 1.
   */
  private candidates(asked: string, strictly: boolean): Candidate[] {
    const { words } = this.data;
    const out: Candidate[] = [];
    this.pushWord(out, asked, 'word');
    if (!strictly && (out.length === 0 || !isFigures(asked))) {
      for (let at = firstNotBefore(words, asked); at < words.length && words[at].startsWith(asked); at++) {
        if (words[at] !== asked) out.push(this.candidate(at, 'beginning', asked.length / words[at].length));
      }
    }
    for (const form of otherForms(asked)) this.pushWord(out, form, 'form');
    out.push(...this.synonymCandidates(asked));
    return out.length > 0 || strictly || isFigures(asked) ? out : this.distantCandidates(asked);
  }

  private distantCandidates(asked: string): Candidate[] {
    const { words } = this.data;
    const out: Candidate[] = [];
    for (let at = 0; at < words.length; at++) {
      if (asked.length >= SHORTEST_INSIDE && words[at].indexOf(asked, 1) > 0) {
        out.push(this.candidate(at, 'inside', 1));
      } else {
        const slip = slipOf(asked, words[at]);
        if (slip) out.push(this.candidate(at, slip === 'whole' ? 'slip' : 'slip beginning', 1));
      }
    }
    if (out.length > 0) return out;
    return this.spelling.alike(asked).map((at) => this.candidate(at, 'ear', 1));
  }

  private synonymCandidates(asked: string): Candidate[] {
    const out: Candidate[] = [];
    const forms = [asked, ...otherForms(asked)];
    for (const synonym of forms.flatMap((form) => this.synonyms.get(form) ?? [])) {
      if (synonym.tokens.length > 1) {
        this.pushPhrase(out, synonym);
      } else {
        for (const form of [synonym.tokens[0], ...otherForms(synonym.tokens[0])]) {
          this.pushWord(out, form, synonym.kind);
        }
      }
    }
    return out;
  }

  private pushWord(out: Candidate[], word: string, kind: MatchKind): void {
    const at = this.find(word);
    if (at >= 0) out.push(this.candidate(at, kind, 1));
  }

  private pushPhrase(out: Candidate[], { tokens, kind }: Synonym): void {
    const places = tokens.map((token) => this.find(token));
    if (places.includes(-1)) return;
    let phrase = this.candidate(places[0], kind, 1);
    for (const place of places.slice(1)) phrase = inBoth(phrase, this.candidate(place, kind, 1));
    if (phrase.sounds.length > 0) out.push({ ...phrase, text: tokens.join(' ') });
  }

  private find(word: string): number {
    const at = firstNotBefore(this.data.words, word);
    return this.data.words[at] === word ? at : -1;
  }

  /** `share` 0..1: how much of the archive's word was typed; being half typed costs up to a quarter. */
  private candidate(at: number, kind: MatchKind, share: number): Candidate {
    const { words, offsets, sounds, fields } = this.data;
    return {
      text: words[at],
      kind,
      weight: KIND_WEIGHTS[kind] * (0.75 + 0.25 * share),
      sounds: sounds.subarray(offsets[at], offsets[at + 1]),
      fields: fields.subarray(offsets[at], offsets[at + 1]),
    };
  }
}

function bitsOf(fields: readonly WordField[]): number {
  return fields.reduce((bits, field) => bits | (1 << WORD_FIELDS.indexOf(field)), 0);
}
