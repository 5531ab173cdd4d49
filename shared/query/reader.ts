/**
 * Reads a question piece by piece: case and accents folded away, every place traceable to the text as typed.
 */

const SPACE = /[\s,;]/u;
/** Marks that may stand around words without meaning. */
const PUNCTUATION = /[\s,;.:!?()[\]{}"“”„«»'’‘`]/u;
const QUOTE = /["“”„«»]/u;

/** Letters that Unicode does not take apart into a base letter and a mark. */
const SINGLE_LETTERS: Readonly<Record<string, string>> = {
  ß: 'ss',
  æ: 'ae',
  œ: 'oe',
  ø: 'o',
  ł: 'l',
  đ: 'd',
  ð: 'd',
  þ: 'th',
  ı: 'i',
};

/** Lower case without accents: "Größe" becomes "grosse", "È" becomes "e". */
export function fold(text: string): string {
  // Plain ASCII is most of it, and needs neither normalising nor replacing.
  if (isAscii(text)) return text.toLowerCase();
  return text
    .normalize('NFKD')
    .replace(/\p{M}/gu, '')
    .toLowerCase()
    .normalize('NFKD')
    .replace(/\p{M}/gu, '')
    .replace(/[ßæœøłđðþı]/g, (letter) => SINGLE_LETTERS[letter] ?? letter);
}

function isAscii(text: string): boolean {
  for (let at = 0; at < text.length; at++) if (text.charCodeAt(at) > 127) return false;
  return true;
}

/**
 * A pattern for `Reader.match`: sticky, and ending where a word or number ends (so that of "s" and "secs" the one
 * that fits is taken).
 */
export function wordPattern(source: string): RegExp {
  return new RegExp(`(?:${source})(?![\\p{L}\\p{N}_])`, 'uy');
}

export interface Reading {
  /** What the pattern's groups caught; empty where a group took no part. */
  groups: string[];
  end: number;
}

export class Reader {
  /** The folded text; all positions count in it. */
  readonly text: string;
  private readonly typed: string;
  /** Where in the typed text each folded character comes from; one more entry for the end. */
  private readonly origin: number[] = [];

  constructor(typed: string) {
    this.typed = typed;
    let folded = '';
    let at = 0;
    for (const character of typed) {
      for (const part of fold(character)) {
        folded += part;
        for (let unit = 0; unit < part.length; unit++) this.origin.push(at);
      }
      at += character.length;
    }
    this.origin.push(typed.length);
    this.text = folded;
  }

  /** Matches a sticky pattern at a place, ending where a word may end. */
  match(at: number, pattern: RegExp): Reading | null {
    const reading = this.matchInside(at, pattern);
    return reading && this.endsWord(reading.end) ? reading : null;
  }

  /** As `match`, but may end inside a word, as "3" does in "3s". */
  matchInside(at: number, pattern: RegExp): Reading | null {
    pattern.lastIndex = at;
    const found = pattern.exec(this.text);
    return found ? { groups: found.slice(1).map((group) => group ?? ''), end: pattern.lastIndex } : null;
  }

  /** Whether a word or number may end before `at`: "2s" ends in "2s, dark" and "2s." but not in "2s.wav". */
  endsWord(at: number): boolean {
    for (; at < this.text.length && !SPACE.test(this.text[at]); at++) {
      if (!PUNCTUATION.test(this.text[at])) return false;
    }
    return true;
  }

  /** First place from `at` on where a word or quoted text may begin. */
  skipToWord(at: number): number {
    while (at < this.text.length && PUNCTUATION.test(this.text[at]) && !this.quoted(at)) at++;
    return at;
  }

  skipSpace(at: number): number {
    while (at < this.text.length && SPACE.test(this.text[at])) at++;
    return at;
  }

  /** The run up to the next space or quote, without punctuation at its end. */
  piece(at: number): Reading {
    let end = at;
    while (end < this.text.length && !SPACE.test(this.text[end]) && !QUOTE.test(this.text[end])) end++;
    const next = end;
    while (end > at && PUNCTUATION.test(this.text[end - 1])) end--;
    return { groups: [this.asTyped(at, end)], end: Math.max(next, at + 1) };
  }

  /** Text between quotation marks of any kind, where some begin at `at`; null where they are not closed. */
  quoted(at: number): Reading | null {
    if (at >= this.text.length || !QUOTE.test(this.text[at])) return null;
    let end = at + 1;
    while (end < this.text.length && !QUOTE.test(this.text[end])) end++;
    if (end >= this.text.length) return null;
    // A mark that has no letter to stand on is no part of the text.
    const inside = this.asTyped(at + 1, end).replace(/^[\s\p{M}]+|\s+$/gu, '');
    return hasWord(inside) ? { groups: [inside], end: end + 1 } : null;
  }

  asTyped(start: number, end: number): string {
    return this.typed.slice(this.origin[start], this.origin[end]);
  }

  span(start: number, end: number): readonly [number, number] {
    return [this.origin[start], this.origin[end]];
  }
}

/** True where the text holds at least one letter or digit. */
export function hasWord(text: string): boolean {
  return /[\p{L}\p{N}]/u.test(text);
}
