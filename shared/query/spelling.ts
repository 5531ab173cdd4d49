/**
 * Words spelled by ear: "vibrafone" for vibraphone, "timpany" for timpani, "chelesta" for celesta.
 *
 * The archive's distinct words stand in a FlexSearch index under its phonetic encoder for Latin letters. It is asked
 * last, when nothing in the archive is written like the word; it is built the first time that happens.
 */
import { Charset, Index } from 'flexsearch';

/** Fewer letters leave too little sound to compare. */
const SHORTEST_BY_EAR = 5;
const LETTERS_ONLY = /^[a-z]+$/;

export class SpellingByEar {
  private readonly words: readonly string[];
  private index: Index | null = null;

  /** `words` folded; answers are places in it. */
  constructor(words: readonly string[]) {
    this.words = words;
  }

  /** Places of the words that sound like a folded word, rising. */
  alike(asked: string): number[] {
    if (asked.length < SHORTEST_BY_EAR || !LETTERS_ONLY.test(asked)) return [];
    this.index ??= indexOf(this.words);
    const found = this.index.search(asked, { limit: this.words.length });
    return found.map(Number).sort((a, b) => a - b);
  }
}

function indexOf(words: readonly string[]): Index {
  const index = new Index({ tokenize: 'strict', encoder: Charset.LatinAdvanced, cache: false });
  words.forEach((word, place) => {
    if (word.length >= SHORTEST_BY_EAR && LETTERS_ONLY.test(word)) index.add(place, word);
  });
  return index;
}
