/** FLAC inside Ogg (RFC 9639, section 10.1): header packets, then one frame a packet. */
import { type AudioStream, UnreadableAudio } from '../audio-stream.ts';
import { type FlacBytes, FlacStream, readStreamInfo } from './flac.ts';
import type { OggAudio } from './ogg.ts';
import { oggPackets } from './ogg-pages.ts';

/** 0x7F, "FLAC", version (2), number of header packets (2), "fLaC", block header (4), STREAMINFO (34). */
const STREAMINFO_AT = 17;

export async function openOggFlac(audio: OggAudio): Promise<AudioStream> {
  const { file, serial, firstPacket, warnings } = audio;
  if (firstPacket.length < STREAMINFO_AT + 34) {
    throw new UnreadableAudio(
      'A FLAC stream in Ogg whose first packet is too short.',
      'a STREAMINFO block in the first packet.',
      'The header is damaged: fetch or export the file again.',
    );
  }
  const info = readStreamInfo(firstPacket.subarray(STREAMINFO_AT));
  return new FlacStream(
    info,
    () => framePackets(file, serial),
    () => file.close(),
    warnings,
  );
}

async function* framePackets(file: OggAudio['file'], serial: number): FlacBytes & AsyncGenerator<Uint8Array> {
  for await (const { data } of oggPackets(file, serial)) {
    // Frames begin with set bits, header packets do not (bit 7 of a metadata type 127 is forbidden).
    if (data[0] === 0xff) yield data;
  }
}
