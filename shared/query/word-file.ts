/**
 * The word index as bytes, so that the build makes it once and the page only unpacks it.
 *
 * A pack (see pack.ts) with three columns: `words`, one text with the words parted by line feeds; `order`, all sounds by
 * session and name; and `postings`. There, for each word in turn: a number n * 2 + s, then n steps from one sound to the next, then the field bits: one byte for
 * all where s is 1, else n bytes. Numbers are written seven bits a byte, low bits first, the top bit set on all but the
 * last byte.
 */
import { decodePack, encodePack, TextColumn } from '../pack.ts';
import { readVocabulary } from './vocabulary.ts';
import { WORD_FIELDS } from './word-score.ts';
import { WordIndex } from './words.ts';

export const WORD_INDEX_VERSION = 1;

export function exportWordIndex(index: WordIndex): Uint8Array {
  const { count, vocabulary, words, offsets, sounds, fields, order } = index.data;
  const out = new ByteWriter(sounds.length * 2 + words.length * 3);
  for (let word = 0; word < words.length; word++) {
    const from = offsets[word];
    const to = offsets[word + 1];
    const same = fields.subarray(from, to).every((bits) => bits === fields[from]);
    out.number((to - from) * 2 + Number(same));
    for (let at = from, last = 0; at < to; at++) {
      out.number(sounds[at] - last);
      last = sounds[at];
    }
    for (let at = from; at < (same ? Math.min(from + 1, to) : to); at++) out.byte(fields[at]);
  }
  return encodePack({
    count,
    parameters: {
      wordIndexVersion: WORD_INDEX_VERSION,
      fields: [...WORD_FIELDS],
      vocabulary,
      words: words.length,
      postings: sounds.length,
    },
    columns: new Map<string, Uint8Array | Uint32Array | TextColumn>([
      ['words', TextColumn.from([words.join('\n')])],
      ['postings', out.bytes()],
      ['order', order],
    ]),
  });
}

/** Throws a sentence where the bytes are of another version or damaged. */
export function importWordIndex(bytes: Uint8Array): WordIndex {
  const { count, parameters, columns } = decodePack(bytes);
  if (parameters.wordIndexVersion !== WORD_INDEX_VERSION || String(parameters.fields) !== String(WORD_FIELDS)) {
    throw new Error(
      `Word index: found version ${parameters.wordIndexVersion}, expected ${WORD_INDEX_VERSION}. Build again.`,
    );
  }
  const text = columns.get('words');
  const postings = columns.get('postings');
  const order = columns.get('order');
  if (!(text instanceof TextColumn) || !(postings instanceof Uint8Array) || !(order instanceof Uint32Array)) {
    throw new Error('Word index: expected the columns words, postings and order. Build again.');
  }
  const joined = text.at(0);
  const words = joined === '' ? [] : joined.split('\n');
  const offsets = new Uint32Array(words.length + 1);
  const sounds = new Uint32Array(Number(parameters.postings));
  const fields = new Uint8Array(sounds.length);
  let at = 0;
  const next = () => {
    let value = 0;
    for (let shift = 0; ; shift += 7) {
      const byte = postings[at++];
      value |= (byte & 0x7f) << shift;
      if (!(byte & 0x80)) return value;
    }
  };
  for (let word = 0, slot = 0; word < words.length; word++) {
    const head = next();
    const size = head >>> 1;
    for (let i = 0, last = 0; i < size; i++) {
      last += next();
      sounds[slot + i] = last;
    }
    if (head & 1) {
      if (size > 0) fields.fill(postings[at++], slot, slot + size);
    } else {
      fields.set(postings.subarray(at, at + size), slot);
      at += size;
    }
    slot += size;
    offsets[word + 1] = slot;
  }
  if (offsets[words.length] !== sounds.length || at !== postings.length) {
    throw new Error(`Word index: read ${at} of ${postings.length} bytes of postings; it is damaged. Build again.`);
  }
  const vocabulary = readVocabulary(parameters.vocabulary);
  return new WordIndex({ count, vocabulary, words, offsets, sounds, fields, order });
}

class ByteWriter {
  private buffer: Uint8Array;
  private length = 0;

  constructor(capacity: number) {
    this.buffer = new Uint8Array(Math.max(16, capacity));
  }

  byte(value: number): void {
    if (this.length === this.buffer.length) {
      const wider = new Uint8Array(this.buffer.length * 2);
      wider.set(this.buffer);
      this.buffer = wider;
    }
    this.buffer[this.length++] = value;
  }

  number(value: number): void {
    let rest = value;
    while (rest > 0x7f) {
      this.byte((rest & 0x7f) | 0x80);
      rest >>>= 7;
    }
    this.byte(rest);
  }

  bytes(): Uint8Array {
    return this.buffer.slice(0, this.length);
  }
}
