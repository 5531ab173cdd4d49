/** Ogg pages and packets (RFC 3533). Pages are proved by their checksum, so that garbage never reaches a decoder. */
import type { ByteSource } from './byte-source.ts';
import { SearchBudget } from './limits.ts';

export interface OggPage {
  serial: number;
  isFirst: boolean;
  isLast: boolean;
  isContinued: boolean;
  /** Position in the codec's own units after this page; null when no packet ends on it. */
  granule: number | null;
  /** The whole page with its header. */
  bytes: Uint8Array;
  /** Sizes of the packets' parts: one for each packet that ends here, then one for a packet that goes on. */
  parts: { start: number; size: number; ends: boolean }[];
}

export interface OggPacket {
  data: Uint8Array;
  /** Granule position of the page it ends on, when it is the last packet ending there. */
  granule: number | null;
  onLastPage: boolean;
}

const READ_BYTES = 131_072;
const LONGEST_PAGE_BYTES = 27 + 255 + 255 * 255;
/** A cap against files that never end a packet. */
const LONGEST_PACKET_BYTES = 1 << 24;

/** What looks like a page and is none. */
export interface DamagedPage {
  /** Bytes whose checksum did not fit. */
  checkedBytes: number;
}

/** Reads one page at `offset`: null when none begins there, 'cut' when the bytes end first. */
export function oggPage(bytes: Uint8Array, offset: number): OggPage | DamagedPage | 'cut' | null {
  if (offset + 27 > bytes.length) return 'cut';
  if (
    bytes[offset] !== 0x4f ||
    bytes[offset + 1] !== 0x67 ||
    bytes[offset + 2] !== 0x67 ||
    bytes[offset + 3] !== 0x53
  ) {
    return null;
  }
  if (bytes[offset + 4] !== 0) return null;
  const view = new DataView(bytes.buffer, bytes.byteOffset + offset);
  const segments = bytes[offset + 26] ?? 0;
  if (offset + 27 + segments > bytes.length) return 'cut';
  let length = 27 + segments;
  for (let index = 0; index < segments; index++) length += bytes[offset + 27 + index];
  if (offset + length > bytes.length) return 'cut';
  const page = bytes.subarray(offset, offset + length);
  if (pageChecksum(page) !== view.getUint32(22, true)) return { checkedBytes: length };
  const flags = bytes[offset + 5] ?? 0;
  const granule = view.getBigInt64(6, true);
  return {
    serial: view.getUint32(14, true),
    isFirst: (flags & 2) !== 0,
    isLast: (flags & 4) !== 0,
    isContinued: (flags & 1) !== 0,
    granule: granule < 0n ? null : Number(granule),
    bytes: page,
    parts: partsOf(page, segments),
  };
}

function partsOf(page: Uint8Array, segments: number): OggPage['parts'] {
  const parts: OggPage['parts'] = [];
  let at = 27 + segments;
  let size = 0;
  for (let index = 0; index < segments; index++) {
    const lacing = page[27 + index];
    size += lacing;
    if (lacing < 255 || index === segments - 1) {
      parts.push({ start: at, size, ends: lacing < 255 });
      at += size;
      size = 0;
    }
  }
  return parts;
}

/**
 * Whole pages from `start` on; `skippedBytes` counts what lay before each page and was none. Where so much has been
 * tried in vain that the rest is not worth it, all of that counts as skipped.
 */
export async function* oggPages(
  source: ByteSource,
  start = 0,
  budget = new SearchBudget(),
): AsyncGenerator<{ page: OggPage | null; skippedBytes: number }> {
  let carry = new Uint8Array(0);
  let skippedBytes = 0;
  for (let position = start; position < source.size; ) {
    const fresh = await source.read(position, READ_BYTES);
    if (fresh.length === 0) break;
    position += fresh.length;
    const bytes = new Uint8Array(carry.length + fresh.length);
    bytes.set(carry);
    bytes.set(fresh, carry.length);
    let offset = 0;
    while (offset < bytes.length) {
      const page = oggPage(bytes, offset);
      if (page === 'cut' && (position < source.size || bytes.length - offset < 4)) break;
      const from = offset;
      if (page !== null && page !== 'cut' && 'bytes' in page) {
        yield { page, skippedBytes };
        skippedBytes = 0;
        offset += page.bytes.length;
      } else {
        if (page !== null && page !== 'cut' && !budget.spend(page.checkedBytes)) {
          yield { page: null, skippedBytes: skippedBytes + source.size - position + bytes.length - offset };
          return;
        }
        skippedBytes++;
        offset++;
        while (offset < bytes.length && bytes[offset] !== 0x4f) {
          skippedBytes++;
          offset++;
        }
      }
      budget.passed(offset - from);
    }
    carry = bytes.slice(offset);
  }
  skippedBytes += carry.length;
  if (skippedBytes > 0) yield { page: null, skippedBytes };
}

/** The packets of one stream among the pages. */
export async function* oggPackets(source: ByteSource, serial: number): AsyncGenerator<OggPacket> {
  let pieces: Uint8Array[] = [];
  let pending = 0;
  for await (const { page } of oggPages(source)) {
    if (!page || page.serial !== serial) continue;
    if (!page.isContinued) {
      pieces = [];
      pending = 0;
    }
    // A page that goes on with a packet whose beginning was lost: that packet is lost too.
    let orphan = page.isContinued && pieces.length === 0;
    const lastEnding = page.parts.findLastIndex((part) => part.ends);
    for (const [index, part] of page.parts.entries()) {
      if (pending + part.size <= LONGEST_PACKET_BYTES) {
        pieces.push(page.bytes.slice(part.start, part.start + part.size));
        pending += part.size;
      }
      if (!part.ends) continue;
      if (!orphan) {
        yield {
          data: concatenated(pieces, pending),
          granule: index === lastEnding ? page.granule : null,
          onLastPage: page.isLast,
        };
      }
      orphan = false;
      pieces = [];
      pending = 0;
    }
    if (page.isLast) return;
  }
}

export interface OggEnd {
  /** The last granule position of the stream; null when there is none. */
  granule: number | null;
  /** True when its last page is marked as the last. */
  isMarked: boolean;
  /** True when the file goes on with another stream after this one has ended. */
  hasFollower: boolean;
}

/** How a stream ends, found from the end of the file. */
export async function oggEnd(source: ByteSource, serial: number): Promise<OggEnd> {
  for (let reach = 2 * LONGEST_PAGE_BYTES; ; reach *= 16) {
    const start = Math.max(0, source.size - reach);
    const end: OggEnd = { granule: null, isMarked: false, hasFollower: false };
    for await (const { page } of oggPages(source, start)) {
      if (!page) continue;
      // Streams that play together begin together at the front; one that begins elsewhere comes after (RFC 3533).
      if (page.isFirst && page.serial !== serial && end.granule !== null) end.hasFollower = true;
      if (page.serial !== serial) continue;
      if (page.granule !== null) end.granule = page.granule;
      end.isMarked = page.isLast;
    }
    if (end.granule !== null || start === 0) return end;
  }
}

function concatenated(pieces: Uint8Array[], size: number): Uint8Array {
  const [only] = pieces;
  if (pieces.length === 1 && only) return only;
  const all = new Uint8Array(size);
  let at = 0;
  for (const piece of pieces) {
    all.set(piece, at);
    at += piece.length;
  }
  return all;
}

/** CRC-32 with polynomial 0x04c11db7, not reflected, over the page with its checksum field as zero. */
function pageChecksum(page: Uint8Array): number {
  let crc = 0;
  for (let index = 0; index < page.length; index++) {
    const byte = index >= 22 && index < 26 ? 0 : page[index];
    crc = (crc << 8) ^ CRC_TABLE[((crc >>> 24) ^ byte) & 0xff];
  }
  return crc >>> 0;
}

const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
  let crc = byte << 24;
  for (let bit = 0; bit < 8; bit++) crc = (crc << 1) ^ (crc & 0x8000_0000 ? 0x04c1_1db7 : 0);
  return crc;
});
