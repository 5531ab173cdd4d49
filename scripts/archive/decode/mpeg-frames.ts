/**
 * The frames of an MPEG audio stream (ISO/IEC 11172-3 and 13818-3): each begins with 11 set bits and four bytes that
 * give its length. A frame counts only when another one of the same kind follows, or the audio ends after it.
 */
import type { ByteSource } from './byte-source.ts';

export interface MpegHeader {
  /** 1, 2 or 2.5 */
  version: number;
  layer: number;
  bitrateKbps: number;
  sampleRateHz: number;
  channels: number;
  frameBytes: number;
  /** Samples a channel in one frame. */
  frameSamples: number;
}

/** kbit/s by index 1..14, for MPEG-1 layers I, II, III and MPEG-2 layer I and layers II/III. */
const BITRATES_KBPS = {
  first: [
    [32, 64, 96, 128, 160, 192, 224, 256, 288, 320, 352, 384, 416, 448],
    [32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384],
    [32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320],
  ],
  second: [
    [32, 48, 56, 64, 80, 96, 112, 128, 144, 160, 176, 192, 224, 256],
    [8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160],
    [8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160],
  ],
};
const RATES_HZ = [44_100, 48_000, 32_000];
/** Garbage allowed before the first frame. */
const SEARCH_BYTES = 65_536;
/** Frames that must follow one another before bytes of unknown kind are believed to be MPEG audio. */
const BELIEVED_FRAMES = 3;
const READ_BYTES = 131_072;
/** Larger than any frame: layer I at 448 kbit/s and 32 kHz takes 672 bytes, layer II at 384 kbit/s 1728. */
const LONGEST_FRAME_BYTES = 4096;

/** Reads a frame header, or null when the bytes are none. Free-format streams (no bit rate given) are not read. */
export function mpegHeader(bytes: Uint8Array, offset: number): MpegHeader | null {
  const second = bytes[offset + 1] ?? 0;
  const third = bytes[offset + 2] ?? 0;
  const fourth = bytes[offset + 3];
  if (bytes[offset] !== 0xff || second < 0xe0 || fourth === undefined) return null;
  const versionBits = (second >> 3) & 3;
  const layer = 4 - ((second >> 1) & 3);
  const bitrateIndex = third >> 4;
  const rate = RATES_HZ[(third >> 2) & 3];
  if (versionBits === 1 || layer === 4 || bitrateIndex === 0 || bitrateIndex === 15 || rate === undefined) return null;
  const version = versionBits === 3 ? 1 : versionBits === 2 ? 2 : 2.5;
  const table = version === 1 ? BITRATES_KBPS.first : BITRATES_KBPS.second;
  const bitrateKbps = table[layer - 1]?.[bitrateIndex - 1] ?? 0;
  const sampleRateHz = rate / (version === 1 ? 1 : version === 2 ? 2 : 4);
  const frameSamples = layer === 1 ? 384 : layer === 3 && version !== 1 ? 576 : 1152;
  const padding = (third >> 1) & 1;
  const slotBytes = layer === 1 ? 4 : 1;
  const slots = Math.floor(((frameSamples / 8) * bitrateKbps * 1000) / sampleRateHz / slotBytes) + padding;
  const channels = fourth >> 6 === 3 ? 1 : 2;
  return { version, layer, bitrateKbps, sampleRateHz, channels, frameBytes: slots * slotBytes, frameSamples };
}

/** The first frame of a believable row of frames near `start`, or null. */
export async function findFirstFrame(
  source: ByteSource,
  start: number,
): Promise<{ position: number; header: MpegHeader } | null> {
  const bytes = await source.read(start, SEARCH_BYTES + BELIEVED_FRAMES * LONGEST_FRAME_BYTES);
  const last = Math.min(SEARCH_BYTES, bytes.length - 4);
  for (let offset = 0; offset <= last; offset++) {
    if (bytes[offset] !== 0xff) continue;
    const header = mpegHeader(bytes, offset);
    if (header && rowOfFrames(bytes, offset, header, offset === 0)) return { position: start + offset, header };
  }
  return null;
}

/**
 * Walks the frames from `start` to `end`, alike in version, layer and rate. Gives several whole frames at a time, with
 * the number of bytes between frames that belonged to none; a cut-off frame at the end is not counted.
 */
export async function* mpegFrames(
  source: ByteSource,
  start: number,
  end: number,
  first: MpegHeader,
): AsyncGenerator<{ frames: Uint8Array[]; skippedBytes: number }> {
  let carry = new Uint8Array(0);
  let skippedBytes = 0;
  let inRow = false;
  for (let position = start; position < end; ) {
    const fresh = await source.read(position, Math.min(READ_BYTES, end - position));
    if (fresh.length === 0) break;
    position += fresh.length;
    const atEnd = position >= end;
    const bytes = joined(carry, fresh);
    const frames: Uint8Array[] = [];
    let between = 0;
    let offset = 0;
    // Away from the end, keep two frames' worth of bytes so that the follower can be looked at.
    const stop = atEnd ? bytes.length - 4 : bytes.length - 2 * LONGEST_FRAME_BYTES;
    while (offset <= stop) {
      const header = mpegHeader(bytes, offset);
      const fits = header !== null && alike(header, first) && offset + header.frameBytes <= bytes.length;
      if (fits && (inRow || follows(bytes, offset + header.frameBytes, first))) {
        frames.push(bytes.subarray(offset, offset + header.frameBytes));
        between += skippedBytes;
        skippedBytes = 0;
        offset += header.frameBytes;
        inRow = true;
      } else {
        inRow = false;
        skippedBytes++;
        offset++;
      }
    }
    carry = bytes.slice(offset);
    yield { frames, skippedBytes: between };
  }
}

function alike(a: MpegHeader, b: MpegHeader): boolean {
  return a.version === b.version && a.layer === b.layer && a.sampleRateHz === b.sampleRateHz;
}

function follows(bytes: Uint8Array, offset: number, first: MpegHeader): boolean {
  if (offset + 4 > bytes.length) return true;
  const next = mpegHeader(bytes, offset);
  return next !== null && alike(next, first);
}

function rowOfFrames(bytes: Uint8Array, start: number, first: MpegHeader, atStart: boolean): boolean {
  let offset = start;
  for (let count = 0; count < BELIEVED_FRAMES; count++) {
    const header = mpegHeader(bytes, offset);
    // A file of one or two frames is believed only when it begins with them and ends after them.
    if (!header || !alike(header, first)) return atStart && count > 0 && offset >= bytes.length - 1;
    offset += header.frameBytes;
  }
  return true;
}

function joined(first: Uint8Array, second: Uint8Array): Uint8Array {
  if (first.length === 0) return second;
  const both = new Uint8Array(first.length + second.length);
  both.set(first);
  both.set(second, first.length);
  return both;
}
