/** FLAC files (RFC 9639): the metadata in front, the true length at the end, and any range by bisection. */
import type { Hash } from 'node:crypto';
import {
  type AudioBlock,
  type AudioFormat,
  type AudioStream,
  type FrameRange,
  UnreadableAudio,
} from '../audio-stream.ts';
import { clampRange, type Decoding, RangeReader } from './blocks.ts';
import type { ByteSource, OpenFile } from './byte-source.ts';
import { type FlacFrame, firstSampleOf, flacFrames, readStreamInfo, type StreamInfo } from './flac-frames.ts';
import { noAudio, SEARCH_ENDED } from './limits.ts';
import { warnOnce } from './warn.ts';

type FoundFrame = FlacFrame | 'lost' | 'given up';

/** What a FLAC stream is made of, whether it stands alone or in Ogg. */
export interface FlacParts {
  info: StreamInfo;
  /** Number of the first sample in the stream: not 0 in a piece cut from a longer recording. */
  baseSample: number;
  /** null where only decoding tells. */
  frames: number | null;
  /** Frames from the nearest place at or before `startFrame`, and the sample that place has. */
  framesFrom(startFrame: number): Promise<{ found: AsyncGenerator<FoundFrame>; firstFrame: number }>;
  /** The coded bytes, for the hash. */
  payload(): AsyncGenerator<Uint8Array>;
  close(): Promise<void>;
}

/** Channel masks for 1 to 8 channels (section 9.1.3). */
const CHANNEL_MASKS = [null, null, 0x7, 0x33, 0x37, 0x3f, 0x70f, 0x63f];
const READ_BYTES = 262_144;
/** The longest stretch of lost frames that is filled with silence, in seconds. */
const LONGEST_GAP_SECONDS = 600;
/** Decoding this far costs about as much as finding a nearer place. */
const SKIP_SECONDS = 5;
/** A cap against files made of nothing but empty metadata blocks. */
const MOST_BLOCKS = 65_536;
/** What may reach beyond the place up to which a frame is looked for. */
const LONGEST_FRAME_BYTES = 1 << 23;
/** Below this distance bisection ends and decoding begins. */
const NEAR_BYTES = 131_072;

export async function openFlac(file: OpenFile): Promise<AudioStream> {
  const { info, audioStart } = await readFlacHead(file);
  const first = await nextFrame(file, audioStart, file.size, info);
  if (!first) throw noAudio('A FLAC file with a header and no audio.');
  const baseSample = first.bytePosition === audioStart ? first.sample : 0;
  const last = await lastFrame(file, audioStart, info);
  const warnings: string[] = [];
  const seekable = await numbersRise(file, audioStart, info, last);
  const found = last ? last.endSample - baseSample : 0;
  if (!seekable) {
    warnings.push('The frames are not numbered in order (several files joined?): the length is not known beforehand.');
  } else if (info.frames > 0 && found < info.frames) {
    warnings.push(
      `The header promises ${info.frames} frames of audio but only ${found} are in the file: the end is missing.`,
    );
  }
  const parts: FlacParts = {
    info,
    baseSample,
    frames: seekable ? found : null,
    framesFrom: async (startFrame) => {
      const place = seekable ? await placeBefore(file, audioStart, startFrame + baseSample, info) : null;
      const firstFrame = place ? place.sample - baseSample : 0;
      return { found: flacFrames(bytesFrom(file, place?.bytePosition ?? audioStart), info), firstFrame };
    },
    payload: () => bytesFrom(file, audioStart),
    close: () => file.close(),
  };
  return new FlacStream(parts, warnings);
}

export class FlacStream implements AudioStream {
  readonly format: AudioFormat;
  readonly warnings: string[];
  readonly #parts: FlacParts;
  readonly #reader: RangeReader;

  constructor(parts: FlacParts, warnings: string[]) {
    const { info } = parts;
    this.#parts = parts;
    this.warnings = warnings;
    this.format = {
      name: 'FLAC',
      codec: `FLAC, ${info.bits}-bit integer`,
      sampleRateHz: info.sampleRateHz,
      channels: info.channels,
      bitDepth: info.bits,
      lossless: true,
      channelMask: CHANNEL_MASKS[info.channels - 1] ?? null,
      frames: parts.frames,
    };
    this.#reader = new RangeReader(
      info.channels,
      (startFrame) => this.#decodingFrom(startFrame),
      SKIP_SECONDS * info.sampleRateHz,
    );
  }

  blocks(range?: FrameRange): AsyncGenerator<AudioBlock> {
    return this.#reader.blocks(clampRange(range, this.format.frames ?? Number.MAX_SAFE_INTEGER));
  }

  async hashPayload(hash: Hash): Promise<void> {
    for await (const bytes of this.#parts.payload()) hash.update(bytes);
  }

  async close(): Promise<void> {
    await this.#reader.close();
    await this.#parts.close();
  }

  async #decodingFrom(startFrame: number): Promise<Decoding> {
    const { found, firstFrame } = await this.#parts.framesFrom(startFrame);
    return { pieces: this.#pieces(found, firstFrame), firstFrame };
  }

  /** Blocks one after another; where frames were lost, silence keeps the rest in its place. */
  async *#pieces(found: AsyncGenerator<FoundFrame>, firstFrame: number): AsyncGenerator<AudioBlock> {
    const { info, baseSample, frames } = this.#parts;
    let position = firstFrame;
    let lost = false;
    const fill = function* (gap: number): Generator<AudioBlock> {
      if (gap <= 0 || gap > LONGEST_GAP_SECONDS * info.sampleRateHz) return;
      position += gap;
      yield* silence(info.channels, gap);
    };
    for await (const frame of found) {
      if (frame === 'lost') {
        lost = true;
        continue;
      }
      if (frame === 'given up') {
        warnOnce(this.warnings, SEARCH_ENDED);
        break;
      }
      if (lost) {
        warnOnce(this.warnings, 'Some FLAC frames are damaged; silence stands in their place.');
        yield* fill(firstSampleOf(frame.header, info) - baseSample - position);
        lost = false;
      }
      yield frame.block;
      position += frame.block[0].length;
    }
    if (frames !== null && position < frames) {
      warnOnce(this.warnings, `Of ${frames} frames of audio the last ${frames - position} could not be decoded.`);
    }
  }
}

/** Reads STREAMINFO and finds where the frames begin (section 8). */
async function readFlacHead(source: ByteSource): Promise<{ info: StreamInfo; audioStart: number }> {
  let info: StreamInfo | null = null;
  let position = 4;
  for (let count = 0, last = false; !last && count < MOST_BLOCKS; count++) {
    const head = await source.read(position, 4);
    const type = head[0] & 0x7f;
    if (head.length < 4 || type === 127) break;
    const size = (head[1] << 16) | (head[2] << 8) | head[3];
    last = head[0] >= 0x80;
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

interface Place {
  bytePosition: number;
  sample: number;
  endSample: number;
}

/** Frames looked at to see whether their numbers rise through the file. */
const PROBES = 16;

/** False for files joined from several without renumbering, in which no position can be found by its number. */
async function numbersRise(
  source: ByteSource,
  audioStart: number,
  info: StreamInfo,
  last: Place | null,
): Promise<boolean> {
  let before = -1;
  for (let probe = 0; probe < PROBES; probe++) {
    const from = audioStart + Math.floor(((source.size - audioStart) * probe) / PROBES);
    const place = await nextFrame(source, from, source.size, info);
    if (place && place.sample < before) return false;
    before = place?.sample ?? before;
  }
  return last === null || last.sample >= before;
}

/** The last frame that begins at or before `sample`, or one shortly before it; null when none was found. */
async function placeBefore(
  source: ByteSource,
  audioStart: number,
  sample: number,
  info: StreamInfo,
): Promise<Place | null> {
  let best: Place | null = null;
  let low = audioStart;
  let high = source.size;
  while (high - low > NEAR_BYTES) {
    const middle = Math.floor((low + high) / 2);
    const place = await nextFrame(source, middle, high, info);
    if (place && place.sample <= sample) {
      best = place;
      low = place.bytePosition + 1;
    } else {
      high = middle;
    }
  }
  return best;
}

/** The first whole frame that begins between two places; its checksum proves it. */
async function nextFrame(source: ByteSource, from: number, to: number, info: StreamInfo): Promise<Place | null> {
  for await (const frame of flacFrames(bytesFrom(source, from, to + LONGEST_FRAME_BYTES), info)) {
    if (frame === 'lost') continue;
    if (frame === 'given up') break;
    const bytePosition = from + frame.offset;
    return bytePosition < to ? placeOf(frame, bytePosition, info) : null;
  }
  return null;
}

/** The last whole frame of the file, looked for in ever longer stretches at its end. */
async function lastFrame(source: ByteSource, audioStart: number, info: StreamInfo): Promise<Place | null> {
  for (let reach = 65_536; ; reach *= 8) {
    const from = Math.max(audioStart, source.size - reach);
    let last: Place | null = null;
    for await (const frame of flacFrames(bytesFrom(source, from), info)) {
      if (typeof frame !== 'string') last = placeOf(frame, from + frame.offset, info);
    }
    if (last || from === audioStart) return last;
  }
}

function placeOf(frame: FlacFrame, bytePosition: number, info: StreamInfo): Place {
  const sample = firstSampleOf(frame.header, info);
  return { bytePosition, sample, endSample: sample + frame.header.blockSamples };
}

async function* bytesFrom(source: ByteSource, start: number, end = source.size): AsyncGenerator<Uint8Array> {
  // Small steps at first: whoever looks for one frame needs no more.
  let step = READ_BYTES / 8;
  for (let position = start; position < Math.min(end, source.size); step = READ_BYTES) {
    const bytes = await source.read(position, step);
    if (bytes.length === 0) return;
    yield bytes;
    position += bytes.length;
  }
}

function* silence(channels: number, frames: number): Generator<AudioBlock> {
  const longest = 65_536;
  for (let done = 0; done < frames; done += longest) {
    const length = Math.min(longest, frames - done);
    yield Array.from({ length: channels }, () => new Float32Array(length));
  }
}
