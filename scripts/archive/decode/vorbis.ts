/** Vorbis in Ogg (Vorbis I specification), decoded by libvorbis from pages whose checksums fit. */
import type { Hash } from 'node:crypto';
import { OggVorbisDecoder } from '@wasm-audio-decoders/ogg-vorbis';
import {
  type AudioBlock,
  type AudioFormat,
  type AudioStream,
  type FrameRange,
  UnreadableAudio,
} from '../audio-stream.ts';
import { clampRange, RangeReader } from './blocks.ts';
import { checkHeader } from './limits.ts';
import type { OggAudio } from './ogg.ts';
import { oggPackets, oggPages } from './ogg-pages.ts';
import { passMemoryErrors, quietly } from './quietly.ts';
import { inMaskOrder, surroundMask } from './surround.ts';
import { warnOnce } from './warn.ts';

const HEADER_PACKETS = 3;

export async function openVorbis(audio: OggAudio): Promise<AudioStream> {
  const { firstPacket } = audio;
  if (firstPacket.length < 30) {
    throw new UnreadableAudio(
      'A Vorbis stream whose identification header is too short.',
      'an identification header of 30 bytes.',
      'The header is damaged: fetch or export the file again.',
    );
  }
  const view = new DataView(firstPacket.buffer, firstPacket.byteOffset, firstPacket.length);
  const channels = firstPacket[11] ?? 0;
  const sampleRateHz = view.getUint32(12, true);
  checkHeader('Vorbis', channels, sampleRateHz);
  const longestBlock = 1 << (firstPacket[28] >> 4);
  const frames = (await startsAtZero(audio, longestBlock)) ? audio.endGranule : null;
  return new VorbisStream(audio, channels, sampleRateHz, frames);
}

/**
 * A stream cut from a longer one counts on from there. Each packet gives at most half a long block, so a first granule
 * position beyond that cannot have been reached from 0; then only decoding tells the length.
 */
async function startsAtZero({ file, serial }: OggAudio, longestBlock: number): Promise<boolean> {
  let packets = -HEADER_PACKETS;
  for await (const { granule } of oggPackets(file, serial)) {
    packets++;
    if (packets > 0 && granule !== null) return granule <= (packets * longestBlock) / 2;
  }
  return true;
}

class VorbisStream implements AudioStream {
  readonly format: AudioFormat;
  readonly warnings: string[];
  readonly #audio: OggAudio;
  readonly #reader: RangeReader;

  constructor(audio: OggAudio, channels: number, sampleRateHz: number, frames: number | null) {
    this.#audio = audio;
    this.warnings = audio.warnings;
    this.format = {
      name: 'Ogg Vorbis',
      codec: 'Vorbis',
      sampleRateHz,
      channels,
      bitDepth: null,
      lossless: false,
      channelMask: surroundMask(channels),
      frames,
    };
    this.#reader = new RangeReader(channels, async () => ({ pieces: this.#pieces(), firstFrame: 0 }));
  }

  blocks(range?: FrameRange): AsyncGenerator<AudioBlock> {
    return this.#reader.blocks(clampRange(range, this.format.frames ?? Number.MAX_SAFE_INTEGER));
  }

  async hashPayload(hash: Hash): Promise<void> {
    let count = 0;
    for await (const { data } of oggPackets(this.#audio.file, this.#audio.serial)) {
      if (++count > HEADER_PACKETS) hash.update(data);
    }
  }

  async close(): Promise<void> {
    await this.#reader.close();
    await this.#audio.file.close();
  }

  async *#pieces(): AsyncGenerator<AudioBlock> {
    const { file, serial } = this.#audio;
    const decoder = new OggVorbisDecoder();
    await decoder.ready;
    let position = 0;
    try {
      for await (const { page, skippedBytes } of oggPages(file)) {
        if (skippedBytes > 0) warnOnce(this.warnings, 'Bytes that are no whole Ogg page were skipped.');
        if (!page || page.serial !== serial) continue;
        const block = await this.#decoded(quietly(() => decoder.decode(page.bytes)));
        position += block[0]?.length ?? 0;
        yield block;
        if (page.isLast) break;
      }
      const rest = await this.#decoded(quietly(() => decoder.flush()));
      position += rest[0]?.length ?? 0;
      yield rest;
    } finally {
      decoder.free();
    }
    if (position < (this.format.frames ?? 0)) {
      warnOnce(this.warnings, 'The stream holds less audio than its last page promises: some of it is missing.');
    }
  }

  async #decoded(pending: ReturnType<OggVorbisDecoder['decode']> | null): Promise<AudioBlock> {
    try {
      const decoded = await pending;
      if (!decoded || decoded.samplesDecoded === 0) return [];
      if (decoded.channelData.length !== this.format.channels) return [];
      return inMaskOrder(decoded.channelData);
    } catch (error) {
      passMemoryErrors(error);
      warnOnce(this.warnings, 'Some Vorbis packets are damaged.');
      return [];
    }
  }
}
