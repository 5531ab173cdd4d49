/** FLAC inside Ogg (RFC 9639, section 10.1): header packets, then one frame a packet. */
import { type AudioStream, UnreadableAudio } from '../audio-stream.ts';
import { FlacStream } from './flac.ts';
import { flacFrames, readStreamInfo } from './flac-frames.ts';
import type { OggAudio } from './ogg.ts';
import { oggPackets } from './ogg-pages.ts';

/** 0x7F, "FLAC", version (2), number of header packets (2), "fLaC", block header (4), STREAMINFO (34). */
const STREAMINFO_AT = 17;

export async function openOggFlac({ file, serial, endGranule, firstPacket, warnings }: OggAudio): Promise<AudioStream> {
  if (firstPacket.length < STREAMINFO_AT + 34) {
    throw new UnreadableAudio(
      'A FLAC stream in Ogg whose first packet is too short.',
      'a STREAMINFO block in the first packet.',
      'The header is damaged: fetch or export the file again.',
    );
  }
  const info = readStreamInfo(firstPacket.subarray(STREAMINFO_AT));
  const payload = (): AsyncGenerator<Uint8Array> => framePackets(file, serial);
  return new FlacStream(
    {
      info,
      baseSample: 0,
      // The granule position counts samples.
      frames: endGranule,
      framesFrom: async () => ({ found: flacFrames(payload(), info), firstFrame: 0 }),
      payload,
      close: () => file.close(),
    },
    warnings,
  );
}

async function* framePackets(file: OggAudio['file'], serial: number): AsyncGenerator<Uint8Array> {
  for await (const { data } of oggPackets(file, serial)) {
    // Frames begin with set bits; header packets never do (a metadata block of type 127 is forbidden).
    if (data[0] === 0xff) yield data;
  }
}
