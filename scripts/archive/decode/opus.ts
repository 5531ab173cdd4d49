/** Opus in Ogg (RFC 7845): always 48 kHz, with a pre-skip in front, an end told by the last granule, and a gain. */
import type { Hash } from 'node:crypto';
import { OpusDecoder } from 'opus-decoder';
import {
  type AudioBlock,
  type AudioFormat,
  type AudioStream,
  type FrameRange,
  UnreadableAudio,
} from '../audio-stream.ts';
import { clampRange, RangeReader } from './blocks.ts';
import { checkHeader, noAudio } from './limits.ts';
import type { OggAudio } from './ogg.ts';
import { oggPackets } from './ogg-pages.ts';
import { quietly } from './quietly.ts';
import { inMaskOrder, surroundMask } from './surround.ts';
import { warnOnce } from './warn.ts';

const RATE_HZ = 48_000;

interface OpusHead {
  channels: number;
  preSkip: number;
  gain: number;
  streamCount: number;
  coupledStreamCount: number;
  channelMappingTable: number[];
  mappingFamily: number;
}

export async function openOpus(audio: OggAudio): Promise<AudioStream> {
  const head = opusHead(audio.firstPacket);
  const start = await startGranule(audio);
  if (start === null) throw noAudio('An Opus file with headers and no audio.');
  const frames = audio.endGranule - start - head.preSkip;
  if (frames <= 0) throw noAudio('An Opus file without any audio.');
  return new OpusStream(audio, head, frames);
}

class OpusStream implements AudioStream {
  readonly format: AudioFormat;
  readonly warnings: string[];
  readonly #audio: OggAudio;
  readonly #head: OpusHead;
  readonly #reader: RangeReader;

  constructor(audio: OggAudio, head: OpusHead, frames: number) {
    this.#audio = audio;
    this.#head = head;
    this.warnings = audio.warnings;
    this.format = {
      name: 'Opus',
      codec: 'Opus',
      sampleRateHz: RATE_HZ,
      channels: head.channels,
      bitDepth: null,
      lossless: false,
      channelMask: head.mappingFamily === 1 ? surroundMask(head.channels) : null,
      frames,
    };
    this.#reader = new RangeReader(head.channels, async () => ({ pieces: this.#pieces(), firstFrame: -head.preSkip }));
  }

  blocks(range?: FrameRange): AsyncGenerator<AudioBlock> {
    return this.#reader.blocks(clampRange(range, this.format.frames ?? 0));
  }

  async hashPayload(hash: Hash): Promise<void> {
    for await (const packet of audioPackets(this.#audio)) hash.update(packet);
  }

  async close(): Promise<void> {
    await this.#reader.close();
    await this.#audio.file.close();
  }

  async *#pieces(): AsyncGenerator<AudioBlock> {
    const { channels, streamCount, coupledStreamCount, channelMappingTable } = this.#head;
    const decoder = new OpusDecoder({ channels, streamCount, coupledStreamCount, channelMappingTable, preSkip: 0 });
    await decoder.ready;
    let position = -this.#head.preSkip;
    try {
      for await (const packet of audioPackets(this.#audio)) {
        const block = this.#decoded(decoder, packet);
        position += block[0].length;
        yield block;
      }
    } finally {
      decoder.free();
    }
    if (position < (this.format.frames ?? 0)) {
      warnOnce(this.warnings, 'The stream holds less audio than its last page promises: some of it is missing.');
    }
  }

  /** A damaged packet becomes silence of its length, so that what follows keeps its place. */
  #decoded(decoder: OpusDecoder, packet: Uint8Array): AudioBlock {
    const { gain, mappingFamily, channels } = this.#head;
    const decoded = quietly(() => decoder.decodeFrame(packet));
    if (!decoded || decoded.errors.length > 0) {
      warnOnce(this.warnings, 'Some Opus packets are damaged; silence stands in their place.');
      return Array.from({ length: channels }, () => new Float32Array(packetSamples(packet)));
    }
    const block = amplified(decoded.channelData, gain);
    return mappingFamily === 1 ? inMaskOrder(block) : block;
  }
}

/** The factor of the output gain, a number of 1/256 dB. */
function amplified(block: AudioBlock, gain: number): AudioBlock {
  return gain === 1 ? block : block.map((samples) => samples.map((sample) => sample * gain));
}

/** Section 5.1. */
function opusHead(packet: Uint8Array): OpusHead {
  const view = new DataView(packet.buffer, packet.byteOffset, packet.length);
  const channels = packet[9] ?? 0;
  const mappingFamily = packet[18] ?? 0;
  const long = mappingFamily !== 0;
  if (packet.length < 19 + (long ? 2 + channels : 0) || (packet[8] & 0xf0) !== 0) {
    throw new UnreadableAudio(
      'An Opus stream whose header is too short or of an unknown version.',
      'an identification header of version 1.',
      'The header is damaged: fetch or export the file again.',
    );
  }
  checkHeader('Opus', channels, RATE_HZ);
  const streamCount = long ? packet[19] : 1;
  const coupledStreamCount = long ? packet[20] : channels - 1;
  const channelMappingTable = long ? [...packet.subarray(21, 21 + channels)] : channels === 2 ? [0, 1] : [0];
  const decodedChannels = streamCount + coupledStreamCount;
  const tableFits = channelMappingTable.every((index) => index === 255 || index < decodedChannels);
  if ((!long && channels > 2) || streamCount < 1 || coupledStreamCount > streamCount || !tableFits) {
    throw new UnreadableAudio(
      `An Opus stream whose header arranges ${channels} channels in a way that cannot be.`,
      'a channel mapping that fits its streams.',
      'The header is damaged: fetch or export the file again.',
    );
  }
  return {
    channels,
    preSkip: view.getUint16(10, true),
    // Gain in 1/256 dB (Q7.8).
    gain: 10 ** (view.getInt16(16, true) / 256 / 20),
    streamCount,
    coupledStreamCount,
    channelMappingTable,
    mappingFamily,
  };
}

/** Packets of sound: those after the two headers. */
async function* audioPackets({ file, serial }: OggAudio): AsyncGenerator<Uint8Array> {
  let count = 0;
  for await (const { data } of oggPackets(file, serial)) if (++count > 2) yield data;
}

/**
 * Where the stream begins: a recording cut from a longer one does not count from 0. The first page of sound tells its
 * end; the samples in its packets lead back to its beginning (section 4.5). null when there is no sound.
 */
async function startGranule({ file, serial }: OggAudio): Promise<number | null> {
  let count = 0;
  let samples = 0;
  for await (const { data, granule, onLastPage } of oggPackets(file, serial)) {
    if (++count <= 2) continue;
    samples += packetSamples(data);
    if (granule !== null) return onLastPage ? 0 : Math.max(0, granule - samples);
  }
  return null;
}

/** RFC 6716, section 3.1: length of one frame by configuration, times the number of frames in the packet. */
function packetSamples(packet: Uint8Array): number {
  const first = packet[0] ?? 0;
  const configuration = first >> 3;
  const silkMs = [10, 20, 40, 60];
  const hybridMs = [10, 20];
  const celtMs = [2.5, 5, 10, 20];
  const milliseconds =
    configuration < 12
      ? silkMs[configuration % 4]
      : configuration < 16
        ? hybridMs[configuration % 2]
        : celtMs[configuration % 4];
  const code = first & 3;
  const frames = code === 0 ? 1 : code < 3 ? 2 : packet[1] & 63;
  // No packet may be longer than 120 ms.
  return Math.min(120, (milliseconds ?? 0) * frames) * (RATE_HZ / 1000);
}
