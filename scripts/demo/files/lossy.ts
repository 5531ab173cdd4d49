/** MP3 and Ogg Vorbis by way of wasm-media-encoders (LAME and libvorbis as WebAssembly). */
import { createMp3Encoder, createOggEncoder } from 'wasm-media-encoders';
import { concatBytes, utf8 } from './chunks.ts';

export interface Id3Texts {
  title: string;
  comment: string;
}

/** A constant rate: files of one archive that came from a telephone or an old mix. */
const MP3_KBITS = 192;
const OGG_QUALITY = 5;
/** Encoded in pieces of this many frames, which bounds the encoder's own memory. */
const PIECE_FRAMES = 65_536;

export async function encodeMp3(
  channels: readonly Float32Array[],
  sampleRateHz: number,
  texts: Id3Texts,
): Promise<Uint8Array<ArrayBuffer>> {
  const encoder = await createMp3Encoder();
  encoder.configure({ sampleRate: sampleRateHz, channels: channels.length === 1 ? 1 : 2, bitrate: MP3_KBITS });
  return concatBytes([id3(texts), ...encodePieces(encoder, channels)]);
}

export async function encodeOgg(
  channels: readonly Float32Array[],
  sampleRateHz: number,
): Promise<Uint8Array<ArrayBuffer>> {
  const encoder = await createOggEncoder();
  // A fixed serial number: the same audio gives the same bytes.
  encoder.configure({
    sampleRate: sampleRateHz,
    channels: channels.length === 1 ? 1 : 2,
    vbrQuality: OGG_QUALITY,
    oggSerialNo: 1,
  });
  return concatBytes(encodePieces(encoder, channels));
}

function encodePieces(
  encoder: { encode(samples: readonly Float32Array[]): Uint8Array; finalize(): Uint8Array },
  channels: readonly Float32Array[],
): Uint8Array[] {
  const pieces: Uint8Array[] = [];
  for (let start = 0; start < channels[0].length; start += PIECE_FRAMES) {
    pieces.push(encoder.encode(channels.map((channel) => channel.subarray(start, start + PIECE_FRAMES))).slice());
  }
  pieces.push(encoder.finalize().slice());
  return pieces;
}

/** ID3v2.3 with title and comment, in Latin-1 (texts of the demo's MP3 files keep to it). */
function id3(texts: Id3Texts): Uint8Array {
  const frames = [
    ...(texts.title === '' ? [] : [id3Frame('TIT2', `\0${texts.title}`)]),
    ...(texts.comment === '' ? [] : [id3Frame('COMM', `\0eng\0${texts.comment}`)]),
  ];
  const body = concatBytes(frames);
  // The tag's size is written in four bytes of seven bits.
  const size = [21, 14, 7, 0].map((shift) => (body.length >> shift) & 0x7f);
  return concatBytes([utf8('ID3'), Uint8Array.of(3, 0, 0, ...size), body]);
}

function id3Frame(id: string, text: string): Uint8Array {
  const body = Uint8Array.from(text, (character) => character.charCodeAt(0));
  const head = new Uint8Array(10);
  head.set(utf8(id));
  new DataView(head.buffer).setUint32(4, body.length);
  return concatBytes([head, body]);
}
