/** FLAC streams (RFC 9639): metadata blocks, then frames that are found by their sync code and proved by checksums. */
import type { Hash } from 'node:crypto';
import {
  type AudioBlock,
  type AudioFormat,
  type AudioStream,
  type FrameRange,
  UnreadableAudio,
} from '../audio-stream.ts';
import { inBlocks } from './blocks.ts';
import type { ByteSource, OpenFile } from './byte-source.ts';
import { decodeFlacFrame, type FlacFrameHeader, flacFrameHeader } from './flac-frame.ts';
import { checkHeader } from './limits.ts';
import { warnOnce } from './pcm.ts';

export interface StreamInfo {
  minimumBlock: number;
  maximumBlock: number;
  sampleRateHz: number;
  channels: number;
  bits: number;
  /** 0 when not known. */
  frames: number;
  /** MD5 of the samples, as the encoder saw them; all zero when not computed. */
  md5: Uint8Array;
}

/** A piece of a FLAC stream: whole metadata is gone, frames follow one another. */
export type FlacBytes = AsyncIterable<Uint8Array>;

/** Channel masks for 1 to 8 channels (section 9.1.3). */
const CHANNEL_MASKS = [null, null, 0x7, 0x33, 0x37, 0x3f, 0x70f, 0x63f];
const READ_BYTES = 262_144;
const LONGEST_FRAME_BYTES = 1 << 23;
/** The longest stretch of lost frames that is filled with silence, in seconds. */
const LONGEST_GAP_SECONDS = 600;

export async function openFlac(file: OpenFile): Promise<AudioStream> {
  const { info, audioStart } = await readFlacHead(file);
  const bytes = (): FlacBytes => bytesFrom(file, audioStart);
  return new FlacStream(info, bytes, () => file.close(), []);
}

/** Decodes frames from any place that gives their bytes in order: a file, or the packets of an Ogg stream. */
export class FlacStream implements AudioStream {
  readonly format: AudioFormat;
  readonly warnings: string[];
  readonly #info: StreamInfo;
  readonly #bytes: () => FlacBytes;
  readonly #close: () => Promise<void>;

  constructor(info: StreamInfo, bytes: () => FlacBytes, close: () => Promise<void>, warnings: string[]) {
    this.#info = info;
    this.#bytes = bytes;
    this.#close = close;
    this.warnings = warnings;
    this.format = {
      name: 'FLAC',
      codec: `FLAC, ${info.bits}-bit integer`,
      sampleRateHz: info.sampleRateHz,
      channels: info.channels,
      bitDepth: info.bits,
      lossless: true,
      channelMask: CHANNEL_MASKS[info.channels - 1] ?? null,
      frames: info.frames > 0 ? info.frames : null,
    };
  }

  async *blocks(range?: FrameRange): AsyncGenerator<AudioBlock> {
    yield* inBlocks(this.#pieces(), this.#info.channels, range);
  }

  async hashPayload(hash: Hash): Promise<void> {
    for await (const bytes of this.#bytes()) hash.update(bytes);
  }

  async close(): Promise<void> {
    await this.#close();
  }

  async *#pieces(): AsyncGenerator<AudioBlock> {
    const info = this.#info;
    let position = 0;
    let base: number | null = null;
    let lost = false;
    for await (const found of flacFrames(this.#bytes(), info)) {
      if (found === 'lost') {
        lost = true;
        continue;
      }
      const first = found.header.numberIsSample ? found.header.number : found.header.number * info.maximumBlock;
      base ??= lost ? 0 : first;
      const gap = first - base - position;
      if (lost && gap > 0 && gap <= LONGEST_GAP_SECONDS * info.sampleRateHz) {
        yield* silence(info.channels, gap);
        position += gap;
      }
      if (lost) warnOnce(this.warnings, 'Some FLAC frames are damaged; silence stands in their place.');
      lost = false;
      yield found.block;
      position += found.block[0]?.length ?? 0;
    }
    if (lost || (info.frames > 0 && position < info.frames)) {
      warnOnce(
        this.warnings,
        `The header promises ${info.frames} frames but only ${position} could be decoded: the end is missing.`,
      );
    }
  }
}

export function readStreamInfo(bytes: Uint8Array): StreamInfo {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const packed = view.getUint32(10);
  const info: StreamInfo = {
    minimumBlock: view.getUint16(0),
    maximumBlock: view.getUint16(2),
    sampleRateHz: packed >>> 12,
    channels: ((packed >>> 9) & 7) + 1,
    bits: ((packed >>> 4) & 31) + 1,
    frames: (packed & 15) * 4_294_967_296 + view.getUint32(14),
    md5: bytes.slice(18, 34),
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

/** Reads STREAMINFO and finds where the frames begin. */
async function readFlacHead(source: ByteSource): Promise<{ info: StreamInfo; audioStart: number }> {
  let info: StreamInfo | null = null;
  let position = 4;
  for (let last = false; !last; ) {
    const head = await source.read(position, 4);
    if (head.length < 4) break;
    const type = (head[0] ?? 0) & 0x7f;
    const size = ((head[1] ?? 0) << 16) | ((head[2] ?? 0) << 8) | (head[3] ?? 0);
    if (type === 127) break;
    last = ((head[0] ?? 0) & 0x80) !== 0;
    if (type === 0 && size >= 34 && info === null) {
      const bytes = await source.read(position + 4, 34);
      if (bytes.length === 34) info = readStreamInfo(bytes);
    }
    position += 4 + size;
  }
  if (!info) {
    throw new UnreadableAudio(
      'A FLAC file without its STREAMINFO block, which would say how to read it.',
      'a STREAMINFO block directly after the "fLaC" mark.',
      'The header is damaged: fetch or export the file again.',
    );
  }
  return { info, audioStart: position };
}

async function* bytesFrom(source: ByteSource, start: number): FlacBytes & AsyncGenerator<Uint8Array> {
  for (let position = start; position < source.size; position += READ_BYTES) {
    yield await source.read(position, READ_BYTES);
  }
}

/** Frames whose checksums fit, in order, and 'lost' once for every stretch of bytes that is none. */
async function* flacFrames(
  chunks: FlacBytes,
  info: StreamInfo,
): AsyncGenerator<{ header: FlacFrameHeader; block: AudioBlock } | 'lost'> {
  let window = new Uint8Array(0);
  let offset = 0;
  let lost = false;
  const iterator = chunks[Symbol.asyncIterator]();
  let atEnd = false;
  const more = async (): Promise<void> => {
    const next = await iterator.next();
    if (next.done) {
      atEnd = true;
      return;
    }
    const rest = window.subarray(offset);
    const joined = new Uint8Array(rest.length + next.value.length);
    joined.set(rest);
    joined.set(next.value, rest.length);
    window = joined;
    offset = 0;
  };
  try {
    while (true) {
      while (!atEnd && window.length - offset < 16) await more();
      if (offset >= window.length) break;
      const header = flacFrameHeader(window, offset);
      const belongs = header !== null && header.channels === info.channels;
      const decoded = belongs ? tryFrame(window, offset, header, info.bits) : 'damaged';
      if (decoded === 'cut' && !atEnd && window.length - offset < LONGEST_FRAME_BYTES) {
        await more();
        continue;
      }
      if (header && typeof decoded !== 'string') {
        if (lost) yield 'lost';
        lost = false;
        offset += decoded.frameBytes;
        yield { header, block: decoded.block };
        continue;
      }
      lost = true;
      offset = nextSync(window, offset + 1);
    }
    if (lost) yield 'lost';
  } finally {
    await iterator.return?.();
  }
}

function tryFrame(
  bytes: Uint8Array,
  offset: number,
  header: FlacFrameHeader,
  bits: number,
): { block: AudioBlock; frameBytes: number } | 'cut' | 'damaged' {
  try {
    return decodeFlacFrame(bytes, offset, header, bits);
  } catch (error) {
    return error instanceof RangeError ? 'cut' : 'damaged';
  }
}

function nextSync(bytes: Uint8Array, from: number): number {
  for (let at = from; at + 1 < bytes.length; at++) {
    if (bytes[at] === 0xff && ((bytes[at + 1] ?? 0) & 0xfe) === 0xf8) return at;
  }
  // The last byte may be the first half of a sync code.
  return Math.max(from, bytes.length - 1);
}

function* silence(channels: number, frames: number): Generator<AudioBlock> {
  const longest = 65_536;
  for (let done = 0; done < frames; done += longest) {
    const length = Math.min(longest, frames - done);
    yield Array.from({ length: channels }, () => new Float32Array(length));
  }
}
