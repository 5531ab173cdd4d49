/** Writes scores down for the sounds once it is known which of the archive's words answer. */
import type { TextField } from '../shelf.ts';

/** Fields in the order of their bits, with how much a match there weighs. */
export const WORD_FIELDS = ['name', 'tags', 'session', 'description', 'file', 'rights', 'owner', 'format'] as const;
export type WordField = (typeof WORD_FIELDS)[number] & TextField;
const FIELD_WEIGHTS: Readonly<Record<WordField, number>> = {
  name: 1,
  tags: 0.95,
  session: 0.9,
  description: 0.75,
  file: 0.7,
  rights: 1,
  owner: 1,
  format: 1,
};

/** Where a plain word is looked for. Rights, owner and format answer only when asked for by name. */
export const PLAIN_FIELDS: readonly WordField[] = ['name', 'tags', 'session', 'description', 'file'];

export type MatchKind = 'word' | 'form' | 'beginning' | 'alike' | 'kind' | 'inside' | 'slip' | 'slip beginning' | 'ear';
export const KIND_WEIGHTS: Readonly<Record<MatchKind, number>> = {
  word: 1,
  form: 0.97,
  beginning: 0.8,
  alike: 0.75,
  kind: 0.7,
  inside: 0.5,
  slip: 0.45,
  'slip beginning': 0.35,
  ear: 0.3,
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

/** A word of the archive, or a phrase of several, that answers the word asked for. */
export interface Candidate {
  text: string;
  kind: MatchKind;
  weight: number;
  sounds: Uint32Array;
  fields: Uint8Array;
}

/** Weight of the best field among the bits, for every combination of bits. */
const BEST_FIELD_WEIGHT = Float32Array.from({ length: 1 << WORD_FIELDS.length }, (_, bits) =>
  Math.max(0, ...WORD_FIELDS.filter((_field, bit) => (bits >> bit) & 1).map((field) => FIELD_WEIGHTS[field])),
);

export function scoreCandidates(candidates: readonly Candidate[], bits: number, count: number): WordMatch {
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
export function allOf(parts: readonly WordMatch[], count: number): WordMatch {
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

export function eitherOf(a: WordMatch, b: WordMatch, count: number): WordMatch {
  const scores = new Float32Array(count);
  let found = 0;
  for (let sound = 0; sound < count; sound++) {
    scores[sound] = Math.max(a.scores[sound], b.scores[sound]);
    if (scores[sound] > 0) found++;
  }
  return { found, scores, reason: (sound) => (a.scores[sound] >= b.scores[sound] ? a : b).reason(sound) };
}

export function inBoth(a: Candidate, b: Candidate): Candidate {
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
export function firstNotBefore<T extends string | number>(list: ArrayLike<T>, value: T): number {
  let low = 0;
  let high = list.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (list[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}
