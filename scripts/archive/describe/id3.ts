/** ID3v1 and ID3v2.2 to 2.4 (id3.org informal standards): the text frames that say what a sound is. */
import { id3v2Size } from '../decode/id3-bounds.ts';
import type { Findings } from './findings.ts';
import { dateFrom, decodeField, decodeText, keywordsFrom, tidy, timeFrom, utf16 } from './text.ts';

interface Frame {
  id: string;
  content: Uint8Array;
}

/** Names of version 2.2 and the later ones they became. */
const SHORT_NAMES: Record<string, string> = {
  TT2: 'TIT2',
  TP1: 'TPE1',
  TCO: 'TCON',
  TKE: 'TKEY',
  TYE: 'TYER',
  TDA: 'TDAT',
  TIM: 'TIME',
  COM: 'COMM',
  TXX: 'TXXX',
};

const MOST_FRAMES = 4096;

/** Reads a tag that begins with "ID3"; whatever is broken in it is left out. */
export function readId3v2(bytes: Uint8Array): Findings {
  const size = id3v2Size(bytes.subarray(0, 10));
  const version = bytes[3] ?? 0;
  if (size === null || version < 2 || version > 4) return {};
  const flags = bytes[5] ?? 0;
  let body = bytes.subarray(10, size);
  if (flags & 0x80 && version < 4) body = withoutUnsynchronisation(body);
  if (flags & 0x40 && version > 2) body = body.subarray(extendedHeaderBytes(body, version));

  const texts = new Map<string, string>();
  const comments: string[] = [];
  const custom = new Map<string, string>();
  for (const { id, content } of frames(body, version)) {
    if (id === 'COMM') {
      const { description, text } = described(content, 4);
      // Players keep their own bookkeeping in comments that begin so.
      if (text && !description.startsWith('iTun')) comments.push(text);
    } else if (id === 'TXXX') {
      const { description, text } = described(content, 1);
      if (text) custom.set(description.toUpperCase(), text);
    } else if (id.startsWith('T') && !texts.has(id)) {
      const text = strings(content.subarray(1), content[0] ?? 0).join('; ');
      if (text) texts.set(id, text);
    }
  }
  const recorded = texts.get('TDRC') ?? olderDate(texts);
  const key = texts.get('TKEY');
  return {
    title: texts.get('TIT2') ?? null,
    artist: texts.get('TPE1') ?? null,
    comment: [...new Set(comments)].join('\n') || (custom.get('COMMENT') ?? null),
    description: custom.get('DESCRIPTION') ?? null,
    date: dateFrom(recorded),
    time: timeFrom(recorded.split(/[T ]/)[1] ?? ''),
    keywords: [
      ...keywordsFrom(custom.get('KEYWORDS') ?? ''),
      ...keywordsFrom(texts.get('TCON') ?? '').map(genreName),
      ...(key && key !== 'o' ? [`key ${key}`] : []),
    ],
  };
}

/** The 128 bytes at the end of a file: title, artist, album, year, comment, in fixed fields. */
export function readId3v1(bytes: Uint8Array): Findings {
  if (bytes.length !== 128 || decodeText(bytes.subarray(0, 3)) !== 'TAG') return {};
  return {
    title: decodeField(bytes.subarray(3, 33)),
    artist: decodeField(bytes.subarray(33, 63)),
    comment: decodeField(bytes.subarray(97, 127)),
  };
}

function* frames(body: Uint8Array, version: number): Generator<Frame> {
  const idBytes = version === 2 ? 3 : 4;
  const headBytes = version === 2 ? 6 : 10;
  let at = 0;
  for (let count = 0; count < MOST_FRAMES && at + headBytes < body.length; count++) {
    const name = String.fromCharCode(...body.subarray(at, at + idBytes));
    if (!/^[A-Z][A-Z0-9]+$/.test(name)) return;
    const size = frameSize(body, at + idBytes, version);
    const start = at + headBytes;
    const content = body.subarray(start, start + size);
    at = start + size;
    const readable = version === 2 ? content : plainContent(content, body[start - 1], version);
    if (readable) yield { id: SHORT_NAMES[name] ?? name, content: readable };
  }
}

/** Three bytes in 2.2, four in 2.3, four of seven bits in 2.4 (where some writers kept to four of eight). */
function frameSize(body: Uint8Array, at: number, version: number): number {
  const bytes = [...body.subarray(at, at + (version === 2 ? 3 : 4))];
  const base = version === 4 && bytes.every((byte) => byte < 0x80) ? 128 : 256;
  return bytes.reduce((sum, byte) => sum * base + byte, 0);
}

/** Undoes what the second flag byte says; null for compressed or encrypted frames, which no text is worth. */
function plainContent(content: Uint8Array, format: number, version: number): Uint8Array | null {
  if (version === 3) {
    if (format & 0xc0) return null;
    return format & 0x20 ? content.subarray(1) : content;
  }
  if (format & 0x0c) return null;
  let plain = content;
  if (format & 0x40) plain = plain.subarray(1);
  if (format & 0x01) plain = plain.subarray(4);
  return format & 0x02 ? withoutUnsynchronisation(plain) : plain;
}

/** Every 0xFF that was followed by 0x00 stands alone again. */
function withoutUnsynchronisation(bytes: Uint8Array): Uint8Array {
  const plain = new Uint8Array(bytes.length);
  let length = 0;
  for (let at = 0; at < bytes.length; at++) {
    plain[length++] = bytes[at] ?? 0;
    if (bytes[at] === 0xff && bytes[at + 1] === 0) at++;
  }
  return plain.subarray(0, length);
}

function extendedHeaderBytes(body: Uint8Array, version: number): number {
  const [a, b, c, d] = body;
  if (version === 4) return (((a ?? 0) * 128 + (b ?? 0)) * 128 + (c ?? 0)) * 128 + (d ?? 0);
  return 4 + (((a ?? 0) * 256 + (b ?? 0)) * 256 + (c ?? 0)) * 256 + (d ?? 0);
}

/** Frames that hold a short description and a text: encoding, `skip - 1` bytes of language, description, text. */
function described(content: Uint8Array, skip: number): { description: string; text: string } {
  const parts = strings(content.subarray(skip), content[0] ?? 0, true);
  return {
    description: parts[0] ?? '',
    text: parts
      .slice(1)
      .filter((part) => part !== '')
      .join('\n'),
  };
}

/** Of a frame so much is read: a text is cut long before, and a frame of nothing but NULs holds millions of empty ones. */
const LONGEST_TEXTS_BYTES = 1 << 17;

/** NUL-separated texts in encoding 0 Latin-1, 1 UTF-16 with mark, 2 UTF-16BE or 3 UTF-8. Of the empty ones only the first is kept, where wanted. */
function strings(whole: Uint8Array, encoding: number, keepFirst = false): string[] {
  const bytes = whole.subarray(0, LONGEST_TEXTS_BYTES);
  const wide = encoding === 1 || encoding === 2;
  const texts: string[] = [];
  const step = wide ? 2 : 1;
  let from = 0;
  for (let at = 0; at <= bytes.length; at += step) {
    const ends = at >= bytes.length || (bytes[at] === 0 && (!wide || bytes[at + 1] === 0));
    if (!ends) continue;
    const text = at > from ? decodeAs(bytes.subarray(from, at), encoding) : '';
    if (text !== '' || (keepFirst && from === 0)) texts.push(text);
    from = at + step;
  }
  return texts;
}

function decodeAs(bytes: Uint8Array, encoding: number): string {
  const marked = (bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff);
  if (encoding === 1 && !marked) return tidy(utf16(bytes, 'utf-16le'));
  if (encoding === 2 && !marked) return tidy(utf16(bytes, 'utf-16be'));
  return decodeText(bytes);
}

/** Before 2.4 the date was spread: year, day and month as DDMM, time as HHMM. */
function olderDate(texts: Map<string, string>): string {
  const dayMonth = texts.get('TDAT') ?? '';
  if (!/^\d{4}$/.test(dayMonth)) return texts.get('TYER') ?? '';
  const time = /^\d{4}$/.test(texts.get('TIME') ?? '') ? `T${texts.get('TIME')}00` : '';
  return `${texts.get('TYER')}-${dayMonth.slice(2)}-${dayMonth.slice(0, 2)}${time}`;
}

/** "(17)Rock" or "(17)": the words count, a number alone says nothing. */
function genreName(genre: string): string {
  const words = tidy(genre.replace(/^(\(\d+\))+/, ''));
  return /^\d+$/.test(words) ? '' : words;
}
