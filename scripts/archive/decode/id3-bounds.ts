/** Where tags of the ID3 and APE families lie, so that audio and its hash leave them out. */
import type { ByteSource } from './byte-source.ts';

const MOST_TAGS = 8;

export interface Id3v2Tag {
  start: number;
  /** Whole tag with header and footer. */
  size: number;
}

/** ID3v2 tags at the front, one after another, and the position after them. */
export async function tagsBefore(source: ByteSource): Promise<{ tags: Id3v2Tag[]; end: number }> {
  const tags: Id3v2Tag[] = [];
  let end = 0;
  while (tags.length < MOST_TAGS) {
    const size = id3v2Size(await source.read(end, 10));
    if (size === null) break;
    tags.push({ start: end, size });
    // A size that runs past the file is a lie: go on after the tag's header and look for audio from there.
    end += end + size < source.size ? size : 10;
  }
  return { tags, end };
}

/** The position where trailing tags begin: ID3v1 (128 bytes, "TAG") and APEv2 ("APETAGEX" footer), in any order. */
export async function tagsAfter(source: ByteSource): Promise<number> {
  let end = source.size;
  for (let count = 0; count < MOST_TAGS; count++) {
    const footer = await source.read(Math.max(0, end - 128), Math.min(128, end));
    const size = trailingTagSize(footer, end);
    if (size === 0) break;
    end -= size;
  }
  return end;
}

/** Size of an ID3v2 tag from its ten-byte header, or null when it is none: 4 x 7 bits, plus header and footer. */
export function id3v2Size(header: Uint8Array): number | null {
  const [i, d, three, major, revision, flags, a, b, c, e] = header;
  if (i !== 0x49 || d !== 0x44 || three !== 0x33 || header.length < 10) return null;
  if (major === 0xff || revision === 0xff) return null;
  const parts = [a ?? 0, b ?? 0, c ?? 0, e ?? 0];
  if (parts.some((part) => part > 0x7f)) return null;
  const content = parts.reduce((sum, part) => sum * 128 + part, 0);
  return content + 10 + ((flags ?? 0) & 0x10 ? 10 : 0);
}

function trailingTagSize(last: Uint8Array, end: number): number {
  const text = String.fromCharCode(...last);
  if (last.length === 128 && text.startsWith('TAG')) return 128;
  const apeAt = text.length - 32;
  if (apeAt >= 0 && text.startsWith('APETAGEX', apeAt)) {
    const view = new DataView(last.buffer, last.byteOffset + apeAt, 32);
    const hasHeader = view.getUint32(20, true) >= 0x8000_0000;
    const size = view.getUint32(12, true) + (hasHeader ? 32 : 0);
    if (size >= 32 && size <= end) return size;
  }
  return 0;
}
