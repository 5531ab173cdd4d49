/** The house vocabulary: which words mean the same, which name a kind of another, and which tags the house uses. */
import { tokenise } from './tokens.ts';

export interface Vocabulary {
  /** Words and phrases that mean the same; asking for one finds all. */
  alike: string[][];
  /** A general word and the particular ones it takes in: asking for "metal" finds gongs, but not the reverse. */
  kinds: Record<string, string[]>;
  /** The house tags, by what they describe (material, action, ...). */
  tags: Record<string, string[]>;
}

export interface Synonym {
  /** A word, or the words of a phrase, folded. */
  tokens: string[];
  kind: 'alike' | 'kind';
}

export const NO_VOCABULARY: Vocabulary = { alike: [], kinds: {}, tags: {} };

/** Checks the parsed vocabulary file; throws a sentence that says what stands where it should not. */
export function readVocabulary(data: unknown): Vocabulary {
  if (data === null || data === undefined) return NO_VOCABULARY;
  if (typeof data !== 'object' || Array.isArray(data)) {
    throw new Error('The vocabulary must be a list of sections: alike, kinds, tags.');
  }
  const sections = new Map<string, unknown>(Object.entries(data));
  for (const name of sections.keys()) {
    if (name !== 'alike' && name !== 'kinds' && name !== 'tags') {
      throw new Error(`The vocabulary has a section "${name}". Known sections: alike, kinds, tags.`);
    }
  }
  const alike = sections.get('alike') ?? [];
  if (!Array.isArray(alike)) throw new Error('The section "alike" must be a list of lists of words.');
  return {
    alike: alike.map((group, at) => words(group, `group ${at + 1} of "alike"`)),
    kinds: lists(sections.get('kinds'), 'kinds'),
    tags: lists(sections.get('tags'), 'tags'),
  };
}

function lists(data: unknown, section: string): Record<string, string[]> {
  if (data === null || data === undefined) return {};
  if (typeof data !== 'object' || Array.isArray(data)) {
    throw new Error(`The section "${section}" must hold names, each with a list of words.`);
  }
  return Object.fromEntries(
    Object.entries(data).map(([name, list]) => [name, words(list, `"${name}" of "${section}"`)]),
  );
}

function words(data: unknown, place: string): string[] {
  if (!Array.isArray(data)) throw new Error(`Expected a list of words in ${place}, found ${JSON.stringify(data)}.`);
  return data.map((word) => {
    if (typeof word === 'string' && word.trim() !== '') return word.trim();
    if (typeof word === 'number') return String(word);
    throw new Error(`Expected a word in ${place}, found ${JSON.stringify(word)}. Put it in quotation marks.`);
  });
}

/**
 * Each word or phrase of the vocabulary, folded, with what else answers it: what means the same, and the particular
 * kinds of any of these, and what means the same as a kind.
 */
export function synonymsOf({ alike, kinds }: Vocabulary): Map<string, Synonym[]> {
  const key = (phrase: string) => tokenise(phrase).join(' ');
  const same = new Map<string, Set<string>>();
  for (const group of alike) {
    for (const asked of group) for (const answer of group) addTo(same, key(asked), key(answer));
  }
  const particular = new Map<string, Set<string>>();
  for (const [general, list] of Object.entries(kinds))
    for (const kind of list) addTo(particular, key(general), key(kind));
  const synonyms = new Map<string, Synonym[]>();
  for (const asked of new Set([...same.keys(), ...particular.keys()])) {
    const alikeAsked = new Set([asked, ...(same.get(asked) ?? [])]);
    const kindsOfAsked = new Set<string>();
    const open = [...alikeAsked];
    for (let word = open.pop(); word !== undefined; word = open.pop()) {
      for (const kind of particular.get(word) ?? []) {
        for (const answer of [kind, ...(same.get(kind) ?? [])]) {
          if (alikeAsked.has(answer) || kindsOfAsked.has(answer)) continue;
          kindsOfAsked.add(answer);
          open.push(answer);
        }
      }
    }
    alikeAsked.delete(asked);
    synonyms.set(asked, [...answers(alikeAsked, 'alike'), ...answers(kindsOfAsked, 'kind')]);
  }
  return synonyms;
}

function addTo(map: Map<string, Set<string>>, key: string, value: string): void {
  if (key === '' || value === '') return;
  const values = map.get(key) ?? new Set();
  map.set(key, values.add(value));
}

function answers(phrases: Iterable<string>, kind: Synonym['kind']): Synonym[] {
  return Array.from(phrases, (phrase) => ({ tokens: phrase.split(' '), kind }));
}
