/**
 * Finds sounds by word: an inverted index over names, tags, sessions, descriptions and paths.
 *
 * Every distinct word of the archive stands once, in order, with the sounds it occurs in and the fields it occurs in
 * there. A question's word is compared with these words (there are far fewer of them than sounds), each comparison
 * saying how it matched, and only then are scores written down for the sounds. So the answer is exact over every sound.
 */
import type { TextField } from '../shelf.ts';
import type { SoundColumns } from './columns.ts';
import { fold } from './reader.ts';
import { slipOf } from './slips.ts';
import { isFigures, otherForms, tokenise } from './tokens.ts';
import type { Vocabulary } from './vocabulary.ts';

/** Fields in the order of their bits, with how much a match there weighs. */
export const WORD_FIELDS = ['name', 'tags', 'session', 'description', 'file', 'rights', 'owner', 'format'] as const;
export type WordField = (typeof WORD_FIELDS)[number] & TextField;
const FIELD_WEIGHTS: Readonly<Record<WordField, number>> = {
  name: 1,
  tags: 0.95,
  session: 0.7,
  description: 0.6,
  file: 0.55,
  rights: 1,
  owner: 1,
  format: 1,
};

/** Where a plain word is looked for. Rights, owner and format answer only when asked for by name. */
export const PLAIN_FIELDS: readonly WordField[] = ['name', 'tags', 'session', 'description', 'file'];

export type MatchKind = 'word' | 'form' | 'beginning' | 'alike' | 'kind' | 'inside' | 'slip' | 'slip beginning';
const KIND_WEIGHTS: Readonly<Record<MatchKind, number>> = {
  word: 1,
  form: 0.97,
  beginning: 0.8,
  alike: 0.75,
  kind: 0.7,
  inside: 0.5,
  slip: 0.45,
  'slip beginning': 0.35,
};

/** What matched in one sound. `text` is the archive's word, folded. */
export interface WordReason {
  field: WordField;
  text: string;
  kind: MatchKind;
}

export interface WordMatch {
  /** Sounds with a score above 0. */
  found: number;
  /** 0..1 a sound; 0 means the word does not occur there in any way. */
  scores: Float32Array;
  reason(sound: number): WordReason | null;
}

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

/** A word of the archive, or a phrase of several, that answers the word asked for. */
interface Candidate {
  text: string;
  kind: MatchKind;
  weight: number;
  sounds: Uint32Array;
  fields: Uint8Array;
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

  constructor(data: WordIndexData) {
    this.data = data;
    this.count = data.count;
    this.synonyms = synonymsOf(data.vocabulary);
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

  /** 1 for each sound that has any word in the field. */
  filledIn(field: WordField): Uint8Array {
    const bit = 1 << WORD_FIELDS.indexOf(field);
    const filled = new Uint8Array(this.count);
    const { sounds, fields } = this.data;
    for (let at = 0; at < sounds.length; at++) if (fields[at] & bit) filled[sounds[at]] = 1;
    return filled;
  }

  private answer(text: string, fields: readonly WordField[], strictly: boolean): WordMatch {
    const bits = fields.reduce((sum, field) => sum | (1 << WORD_FIELDS.indexOf(field)), 0);
    const tokens = tokenise(text);
    const whole = tokens.length > 1 ? this.synonymCandidates(tokens.join(' ')) : [];
    const parts = tokens.map((token) => score(this.candidates(token, strictly), bits, this.count));
    const together = parts.length === 1 ? parts[0] : allOf(parts, this.count);
    return whole.length === 0 ? together : eitherOf(together, score(whole, bits, this.count), this.count);
  }

  /**
   * All words of the archive that answer a folded word. Only where the word itself, its plural, its beginning and the
   * vocabulary answer nothing are words taken that hold it inside or differ by a typing slip: else "ring" would bring
   * every string, and "metal" every petal. Figures are taken whole: "1" is not the beginning of 17, unless there is
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
    return out;
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

interface Synonym {
  tokens: string[];
  kind: 'alike' | 'kind';
}

/** Each word or phrase of the vocabulary, folded, with what else answers it. */
function synonymsOf({ alike, kinds }: Vocabulary): Map<string, Synonym[]> {
  const synonyms = new Map<string, Synonym[]>();
  const add = (asked: string, answer: string, kind: Synonym['kind']) => {
    const key = tokenise(asked).join(' ');
    const tokens = tokenise(answer);
    if (tokens.length === 0 || tokens.join(' ') === key) return;
    synonyms.set(key, [...(synonyms.get(key) ?? []), { tokens, kind }]);
  };
  for (const group of alike) {
    for (const asked of group) for (const answer of group) add(asked, answer, 'alike');
  }
  for (const [general, particulars] of Object.entries(kinds)) {
    for (const particular of particulars) add(general, particular, 'kind');
  }
  return synonyms;
}

/** Weight of the best field among the bits, for every combination of bits. */
const BEST_FIELD_WEIGHT = Float32Array.from({ length: 1 << WORD_FIELDS.length }, (_, bits) =>
  Math.max(0, ...WORD_FIELDS.filter((_field, bit) => (bits >> bit) & 1).map((field) => FIELD_WEIGHTS[field])),
);

function score(candidates: readonly Candidate[], bits: number, count: number): WordMatch {
  const scores = new Float32Array(count);
  const best = new Int32Array(count).fill(-1);
  let found = 0;
  candidates.forEach(({ weight, sounds, fields }, number) => {
    for (let at = 0; at < sounds.length; at++) {
      const value = weight * BEST_FIELD_WEIGHT[fields[at] & bits];
      const sound = sounds[at];
      if (value <= scores[sound]) continue;
      if (scores[sound] === 0) found++;
      scores[sound] = value;
      best[sound] = number;
    }
  });
  return {
    found,
    scores,
    reason(sound) {
      const candidate = candidates[best[sound]];
      if (!candidate) return null;
      const at = firstNotBefore(candidate.sounds, sound);
      const field = bestField(candidate.fields[at] & bits);
      return field && { field, text: candidate.text, kind: candidate.kind };
    },
  };
}

function bestField(bits: number): WordField | null {
  let best: WordField | null = null;
  WORD_FIELDS.forEach((field, bit) => {
    if ((bits >> bit) & 1 && (best === null || FIELD_WEIGHTS[field] > FIELD_WEIGHTS[best])) best = field;
  });
  return best;
}

/** Sounds that answer every part; the score is the mean of the parts', the reason that of the weakest part. */
function allOf(parts: readonly WordMatch[], count: number): WordMatch {
  const scores = new Float32Array(count);
  let found = 0;
  for (let sound = 0; sound < count && parts.length > 0; sound++) {
    let sum = 0;
    let all = true;
    for (const part of parts) {
      if (part.scores[sound] === 0) {
        all = false;
        break;
      }
      sum += part.scores[sound];
    }
    if (!all) continue;
    scores[sound] = sum / parts.length;
    found++;
  }
  return {
    found,
    scores,
    reason(sound) {
      if (scores[sound] === 0) return null;
      const weakest = parts.reduce((low, part) => (part.scores[sound] < low.scores[sound] ? part : low));
      const reasons = parts.map((part) => part.reason(sound)?.text ?? '');
      const reason = weakest.reason(sound);
      return reason && { ...reason, text: [...new Set(reasons)].join(' ') };
    },
  };
}

function eitherOf(a: WordMatch, b: WordMatch, count: number): WordMatch {
  const scores = new Float32Array(count);
  let found = 0;
  for (let sound = 0; sound < count; sound++) {
    scores[sound] = Math.max(a.scores[sound], b.scores[sound]);
    if (scores[sound] > 0) found++;
  }
  return { found, scores, reason: (sound) => (a.scores[sound] >= b.scores[sound] ? a : b).reason(sound) };
}

function inBoth(a: Candidate, b: Candidate): Candidate {
  const sounds: number[] = [];
  const fields: number[] = [];
  for (let i = 0, j = 0; i < a.sounds.length && j < b.sounds.length; ) {
    if (a.sounds[i] === b.sounds[j]) {
      sounds.push(a.sounds[i]);
      fields.push(a.fields[i] | b.fields[j]);
      i++;
      j++;
    } else if (a.sounds[i] < b.sounds[j]) {
      i++;
    } else {
      j++;
    }
  }
  return { ...a, sounds: Uint32Array.from(sounds), fields: Uint8Array.from(fields) };
}

/** First place in a rising list that does not come before the value. */
function firstNotBefore<T extends string | number>(list: ArrayLike<T>, value: T): number {
  let low = 0;
  let high = list.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (list[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}
