/** The row of frames in a FLAC stream: found by their sync code, believed only when both checksums fit (RFC 9639). */
import { type AudioBlock, UnreadableAudio } from '../audio-stream.ts';
import { decodeFlacFrame, type FlacFrameHeader, type FrameWork, flacFrameHeader } from './flac-frame.ts';
import { checkHeader, SearchBudget } from './limits.ts';
import { passMemoryErrors } from './quietly.ts';

/** Section 8.2. */
export interface StreamInfo {
  maximumBlock: number;
  sampleRateHz: number;
  channels: number;
  bits: number;
  /** 0 when not known. */
  frames: number;
}

export interface FlacFrame {
  header: FlacFrameHeader;
  block: AudioBlock;
  /** Where the frame begins, counted from the first byte given. */
  offset: number;
}

const LONGEST_FRAME_BYTES = 1 << 23;

export function readStreamInfo(bytes: Uint8Array): StreamInfo {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const packed = view.getUint32(10);
  const info: StreamInfo = {
    maximumBlock: view.getUint16(2),
    sampleRateHz: packed >>> 12,
    channels: ((packed >>> 9) & 7) + 1,
    bits: ((packed >>> 4) & 31) + 1,
    frames: (packed & 15) * 4_294_967_296 + view.getUint32(14),
  };
  checkHeader('FLAC', info.channels, info.sampleRateHz);
  if (info.bits < 4) {
    throw new UnreadableAudio(
      `The FLAC header says ${info.bits} bits a sample.`,
      '4 to 32 bits.',
      'The header is damaged: fetch or export the file again.',
    );
  }
  return info;
}

/** Frames of one size are numbered, frames of several sizes carry the number of their first sample (section 9.1.5). */
export function firstSampleOf(header: FlacFrameHeader, info: StreamInfo): number {
  return header.numberIsSample ? header.number : header.number * info.maximumBlock;
}

/**
 * Whole frames in order, and 'lost' once for every stretch of bytes that is none. Ends with 'given up' where so much has
 * been tried in vain that the rest is not worth it.
 */
export async function* flacFrames(
  chunks: AsyncGenerator<Uint8Array>,
  info: StreamInfo,
  budget = new SearchBudget(),
): AsyncGenerator<FlacFrame | 'lost' | 'given up'> {
  const work: FrameWork = { bytes: 0, samples: 0 };
  let window = new Uint8Array(0);
  let windowStart = 0;
  let at = 0;
  let lost = false;
  let atEnd = false;
  /** Bytes to have before the frame under way is tried once more: twice as many each time. */
  let wanted = 16;
  try {
    while (true) {
      if (window.length - at < wanted && !atEnd) {
        const parts: Uint8Array[] = [window.subarray(at)];
        for (let bytes = window.length - at; bytes < wanted && !atEnd; ) {
          const next = await chunks.next();
          if (next.done) atEnd = true;
          else parts.push(next.value);
          bytes += next.done ? 0 : next.value.length;
        }
        window = joined(parts);
        windowStart += at;
        at = 0;
      }
      const header = flacFrameHeader(window, at);
      const isOne = header !== null && belongs(header, info);
      const decoded = isOne ? tryFrame(window, at, header, info.bits, work) : 'damaged';
      if (header && typeof decoded !== 'string') {
        if (lost) yield 'lost';
        lost = false;
        yield { header, block: decoded.block, offset: windowStart + at };
        at += decoded.frameBytes;
        budget.passed(decoded.frameBytes);
        wanted = 16;
        continue;
      }
      const left = window.length - at;
      if (decoded === 'cut' && left < LONGEST_FRAME_BYTES && !atEnd) {
        wanted = left * 2;
        continue;
      }
      if (left === 0) break;
      lost = true;
      wanted = 16;
      const next = nextSync(window, at + 1);
      budget.passed(next - at);
      at = next;
      if (isOne && !budget.spend(work.bytes + work.samples)) {
        yield 'given up';
        return;
      }
    }
    if (lost) yield 'lost';
  } finally {
    await chunks.return(undefined);
  }
}

function belongs(header: FlacFrameHeader, info: StreamInfo): boolean {
  return (
    header.channels === info.channels && (header.sampleRateHz === null || header.sampleRateHz === info.sampleRateHz)
  );
}

function tryFrame(
  bytes: Uint8Array,
  offset: number,
  header: FlacFrameHeader,
  bits: number,
  work: FrameWork,
): { block: AudioBlock; frameBytes: number } | 'cut' | 'damaged' {
  try {
    return decodeFlacFrame(bytes, offset, header, bits, work);
  } catch (error) {
    passMemoryErrors(error);
    return error instanceof RangeError ? 'cut' : 'damaged';
  }
}

function nextSync(bytes: Uint8Array, from: number): number {
  for (let at = from; at + 1 < bytes.length; at++) {
    if (bytes[at] === 0xff && (bytes[at + 1] & 0xfe) === 0xf8) return at;
  }
  // The last byte may be the first half of a sync code.
  return Math.max(from, bytes.length - 1);
}

function joined(parts: readonly Uint8Array[]): Uint8Array<ArrayBuffer> {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}
