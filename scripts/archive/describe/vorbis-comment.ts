/** Vorbis comments, shared by FLAC, Ogg Vorbis and Opus (Vorbis I specification, section 5; RFC 7845, section 5.2). */
import type { Findings } from './findings.ts';
import { dateFrom, decodeText, keywordsFrom, timeFrom } from './text.ts';

/** "A=b": what is shorter says nothing. */
const SHORTEST_ENTRY_BYTES = 3;
/** Longer entries are pictures. */
const LONGEST_ENTRY_BYTES = 65_536;

/** Reads vendor and entries: each a length in four bytes, little-endian, and "NAME=text" in UTF-8. */
export function readVorbisComment(bytes: Uint8Array): Findings {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const entries = new Map<string, string[]>();
  const lengthAt = (at: number): number => (at + 4 <= bytes.length ? view.getUint32(at, true) : -1);
  const vendorLength = lengthAt(0);
  const count = vendorLength < 0 ? 0 : lengthAt(4 + vendorLength);
  for (let at = 8 + vendorLength, index = 0; index < count; index++) {
    const length = lengthAt(at);
    if (length < 0 || at + 4 + length > bytes.length) break;
    if (length >= SHORTEST_ENTRY_BYTES && length <= LONGEST_ENTRY_BYTES)
      addEntry(entries, decodeText(bytes.subarray(at + 4, at + 4 + length)));
    at += 4 + length;
  }
  const text = (...names: string[]): string | null => {
    const all = names.flatMap((name) => entries.get(name) ?? []);
    return all.length > 0 ? [...new Set(all)].join('\n') : null;
  };
  const date = text('DATE') ?? '';
  const key = text('KEY', 'INITIALKEY');
  return {
    title: text('TITLE'),
    artist: text('ARTIST'),
    description: text('DESCRIPTION'),
    comment: text('COMMENT', 'COMMENTS'),
    date: dateFrom(date),
    time: timeFrom(date.split(/[T ]/)[1] ?? ''),
    keywords: [
      ...['KEYWORDS', 'KEYWORD', 'GENRE'].flatMap((name) => entries.get(name) ?? []).flatMap(keywordsFrom),
      ...(key ? [`key ${key}`] : []),
    ],
  };
}

function addEntry(entries: Map<string, string[]>, entry: string): void {
  const equals = entry.indexOf('=');
  if (equals < 1) return;
  const name = entry.slice(0, equals).toUpperCase();
  const text = entry.slice(equals + 1).trim();
  if (!text) return;
  const all = entries.get(name);
  if (all) all.push(text);
  else entries.set(name, [text]);
}
