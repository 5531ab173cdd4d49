/**
 * MP3 (and MPEG layers I and II), decoded by mpg123. Frames are found here, so that garbage never reaches the decoder
 * and the encoder's delay and padding can be cut exactly where the info frame gives them.
 */
import type { Hash } from 'node:crypto';
import { MPEGDecoder } from 'mpg123-decoder';
import {
  type AudioBlock,
  type AudioFormat,
  type AudioStream,
  type FrameRange,
  UnreadableAudio,
} from '../audio-stream.ts';
import { clampRange, RangeReader } from './blocks.ts';
import type { OpenFile } from './byte-source.ts';
import { tagsAfter, tagsBefore } from './id3-bounds.ts';
import { type Mp3Info, mp3Info } from './mp3-info.ts';
import { findFirstFrame, type MpegHeader, mpegFrames } from './mpeg-frames.ts';
import { quietly } from './quietly.ts';
import { warnOnce } from './warn.ts';

/** Samples any layer III decoder adds in front: 528 of its filter bank and 1 (LAME technical FAQ). */
const DECODER_DELAY_SAMPLES = 529;

/** Frames decoded before the wanted one: a frame may use bits of up to nine before it (the bit reservoir). */
const RUN_UP_FRAMES = 32;
/** Decoding this far costs about as much as beginning anew. */
const SKIP_SECONDS = 5;

/**
 * The frame to begin with. The decoder's filter bank turns round once in 16 frames (or a part of that); begun at a
 * multiple, it rounds exactly as it would have from the beginning.
 */
function startNear(wantedFrame: number): number {
  return Math.max(0, Math.floor((wantedFrame - RUN_UP_FRAMES) / 16) * 16);
}

interface Mp3Layout {
  /** First frame of sound, after tags and the info frame. */
  start: number;
  end: number;
  header: MpegHeader;
  info: Mp3Info | null;
}

export async function openMp3(file: OpenFile, warnings: string[] = []): Promise<AudioStream> {
  const { end: tagsEnd } = await tagsBefore(file);
  const end = await tagsAfter(file);
  const first = await findFirstFrame(file, tagsEnd);
  if (!first) {
    throw new UnreadableAudio(
      'An MP3 file in which no row of audio frames was found.',
      'MPEG audio frames near the beginning of the file.',
      'Fetch or export the file again.',
    );
  }
  const { position, header } = first;
  const info = mp3Info(await file.read(position, header.frameBytes), header);
  const start = info ? position + header.frameBytes : position;
  return new Mp3Stream(file, { start, end, header, info }, warnings);
}

class Mp3Stream implements AudioStream {
  readonly format: AudioFormat;
  readonly warnings: string[];
  readonly #file: OpenFile;
  readonly #layout: Mp3Layout;
  readonly #reader: RangeReader;

  constructor(file: OpenFile, layout: Mp3Layout, warnings: string[]) {
    this.#file = file;
    this.#layout = layout;
    this.warnings = warnings;
    const { header } = layout;
    this.format = {
      name: 'MP3',
      codec: `MPEG-${header.version} layer ${'I'.repeat(header.layer)}`,
      sampleRateHz: header.sampleRateHz,
      channels: header.channels,
      bitDepth: null,
      lossless: false,
      channelMask: null,
      frames: trimmed(layout).frames,
    };
    const { skip } = trimmed(layout);
    this.#reader = new RangeReader(
      header.channels,
      async (startFrame) => {
        const first = startNear((startFrame + skip) / header.frameSamples);
        return { pieces: this.#pieces(first), firstFrame: first * header.frameSamples - skip };
      },
      SKIP_SECONDS * header.sampleRateHz,
    );
  }

  blocks(range?: FrameRange): AsyncGenerator<AudioBlock> {
    return this.#reader.blocks(clampRange(range, Number.MAX_SAFE_INTEGER));
  }

  async hashPayload(hash: Hash): Promise<void> {
    const { start, end, header } = this.#layout;
    for await (const { frames } of mpegFrames(this.#file, start, end, header)) {
      for (const frame of frames) hash.update(frame);
    }
  }

  async close(): Promise<void> {
    await this.#reader.close();
    await this.#file.close();
  }

  /** One piece for each MPEG frame from number `first` on, also for damaged ones: every sound keeps its place. */
  async *#pieces(first: number): AsyncGenerator<AudioBlock> {
    const { start, end, header, info } = this.#layout;
    const { dropFrom, dropTo } = trimmed(this.#layout);
    const decoder = new MPEGDecoder({ enableGapless: false });
    await decoder.ready;
    let number = 0;
    try {
      for await (const { frames, skippedBytes } of mpegFrames(this.#file, start, end, header)) {
        if (skippedBytes > 0) warnOnce(this.warnings, 'Bytes that are not MPEG audio were skipped between the frames.');
        for (const frame of frames) {
          if (number >= first) {
            const position = number * header.frameSamples;
            yield* outside(this.#decoded(decoder, frame), position, dropFrom, dropTo);
          }
          number++;
        }
      }
    } finally {
      decoder.free();
    }
    // Some encoders count the info frame itself, so one frame more or less says nothing.
    const promised = info?.frames ?? 0;
    if (promised > 0 && number < promised - 1) {
      warnOnce(this.warnings, 'The file holds fewer frames than its info frame promises: the end is missing.');
    }
    if (promised > 0 && number > promised + 1) {
      warnOnce(this.warnings, 'The file holds more frames than its info frame promises; all of them were read.');
    }
  }

  #decoded(decoder: MPEGDecoder, frame: Uint8Array): AudioBlock {
    const { channels } = this.format;
    const samples = this.#layout.header.frameSamples;
    const decoded = quietly(() => decoder.decode(frame));
    if (!decoded || decoded.errors.length > 0) warnOnce(this.warnings, 'Some frames are damaged.');
    // The decoder gives two channels also for one.
    if (decoded?.samplesDecoded === samples) return decoded.channelData.slice(0, channels);
    return Array.from({ length: channels }, () => new Float32Array(samples));
  }
}

/** What the info frame says to cut: `skip` samples in front, and those from `dropFrom` to `dropTo` at the end. */
function trimmed({ header, info }: Mp3Layout): {
  skip: number;
  dropFrom: number;
  dropTo: number;
  frames: number | null;
} {
  const promised = info?.frames ? info.frames * header.frameSamples : null;
  if (info?.delaySamples == null || info.paddingSamples == null) {
    return { skip: 0, dropFrom: 0, dropTo: 0, frames: promised };
  }
  const skip = info.delaySamples + DECODER_DELAY_SAMPLES;
  if (promised === null) return { skip, dropFrom: 0, dropTo: 0, frames: null };
  const dropFrom = Math.max(skip, promised - Math.max(0, info.paddingSamples - DECODER_DELAY_SAMPLES));
  return { skip, dropFrom, dropTo: Math.max(dropFrom, promised), frames: dropFrom - skip };
}

/** The parts of a piece that do not lie between `dropFrom` and `dropTo`. */
function* outside(piece: AudioBlock, position: number, dropFrom: number, dropTo: number): Generator<AudioBlock> {
  const length = piece[0]?.length ?? 0;
  const before = Math.min(length, Math.max(0, dropFrom - position));
  const after = Math.min(length, Math.max(0, dropTo - position));
  if (dropFrom === dropTo || before === length || after === 0) {
    yield piece;
    return;
  }
  if (before > 0) yield piece.map((samples) => samples.subarray(0, before));
  if (after < length) yield piece.map((samples) => samples.subarray(after));
}
