/** `LIST INFO`: short texts, each in a chunk of its own (Multimedia Programming Interface 1.0, 1991, chapter 2). */
import { identifierAt, isIdentifier } from '../decode/chunks.ts';
import type { Findings } from './findings.ts';
import { dateFrom, decodeField, keywordsFrom } from './text.ts';

/** Reads the content of a LIST chunk after its type. */
export function readInfoList(bytes: Uint8Array): Findings {
  const texts = new Map<string, string>();
  for (const { id, content } of subChunks(bytes, true)) {
    const text = decodeField(content);
    if (text && !texts.has(id)) texts.set(id, text);
  }
  const text = (id: string): string | null => texts.get(id) ?? null;
  return {
    title: text('INAM'),
    artist: text('IART'),
    comment: text('ICMT'),
    description: text('ISBJ'),
    originator: text('IENG'),
    project: text('IPRD'),
    date: dateFrom(text('ICRD') ?? ''),
    keywords: [...keywordsFrom(text('IKEY') ?? ''), ...keywordsFrom(text('IGNR') ?? '')],
  };
}

/** Chunks inside a chunk. Stops where an identifier cannot be one; a size beyond the end is clamped. */
export function* subChunks(bytes: Uint8Array, littleEndian: boolean): Generator<{ id: string; content: Uint8Array }> {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  for (let at = 0; at + 8 <= bytes.length && isIdentifier(bytes, at); ) {
    const size = view.getUint32(at + 4, littleEndian);
    const start = at + 8;
    yield { id: identifierAt(bytes, at), content: bytes.subarray(start, start + size) };
    const end = start + size;
    // Some writers forget the pad byte: go on where an identifier stands.
    at = size % 2 === 1 && (isIdentifier(bytes, end + 1) || !isIdentifier(bytes, end)) ? end + 1 : end;
  }
}
