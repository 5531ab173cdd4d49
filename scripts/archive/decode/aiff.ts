/**
 * AIFF and AIFF-C (Audio Interchange File Format 1.3, 1989; AIFF-C draft, 1991). Big-endian, the sample rate as an
 * 80-bit extended float; AIFF-C adds a compression type, of which the uncompressed ones and G.711 are read.
 */
import { type AudioStream, UnreadableAudio } from '../audio-stream.ts';
import type { OpenFile } from './byte-source.ts';
import { findChunk, identifierAt, readChunks } from './chunks.ts';
import { checkHeader, noAudio } from './limits.ts';
import { PcmStream, type SampleKind, type SampleLayout } from './pcm.ts';

/** Compression types of AIFF-C: kind of sample, bits where the type fixes them, byte order. */
const COMPRESSIONS: Record<string, { kind: SampleKind; bits: number | null; littleEndian: boolean }> = {
  NONE: { kind: 'signed', bits: null, littleEndian: false },
  twos: { kind: 'signed', bits: null, littleEndian: false },
  sowt: { kind: 'signed', bits: null, littleEndian: true },
  'raw ': { kind: 'unsigned', bits: 8, littleEndian: false },
  in24: { kind: 'signed', bits: 24, littleEndian: false },
  in32: { kind: 'signed', bits: 32, littleEndian: false },
  fl32: { kind: 'float', bits: 32, littleEndian: false },
  FL32: { kind: 'float', bits: 32, littleEndian: false },
  fl64: { kind: 'float', bits: 64, littleEndian: false },
  FL64: { kind: 'float', bits: 64, littleEndian: false },
  alaw: { kind: 'A-law', bits: 8, littleEndian: false },
  ALAW: { kind: 'A-law', bits: 8, littleEndian: false },
  ulaw: { kind: 'mu-law', bits: 8, littleEndian: false },
  ULAW: { kind: 'mu-law', bits: 8, littleEndian: false },
};

const OTHER_COMPRESSIONS: Record<string, string> = {
  ima4: 'IMA ADPCM',
  'GSM ': 'GSM 6.10',
  agsm: 'GSM 6.10',
  DWVW: 'DWVW, a compressed format',
  MAC3: 'MACE 3:1',
  MAC6: 'MACE 6:1',
  QDMC: 'QDesign Music',
  '.mp3': 'MP3',
};

export async function openAiff(file: OpenFile): Promise<AudioStream> {
  const form = await readChunks(file);
  const common = form && findChunk(form, 'COMM');
  if (!form || !common || common.size < 18) {
    throw new UnreadableAudio(
      'An AIFF file without a usable "COMM" chunk, which would say how to read it.',
      'a "COMM" chunk of at least 18 bytes.',
      'The header is damaged: write the file again from the session it came from.',
    );
  }
  const bytes = await file.read(common.start, 22);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const channels = view.getInt16(0);
  const claimedFrames = view.getUint32(2);
  const bits = view.getInt16(6);
  // Whole hertz: the old 22254.5454... Hz of early machines is the one rate that loses (2 parts in 100 000).
  const sampleRateHz = Math.round(extendedFloat(view, 8));
  checkHeader('AIFF', channels, sampleRateHz);

  const compression =
    form.form === 'AIFC' && common.size >= 22 && bytes.length >= 22 ? identifierAt(bytes, 18) : 'NONE';
  const layout = sampleLayout(compression, bits);
  const warnings = [...form.warnings];
  const sound = findChunk(form, 'SSND');
  if (!sound || sound.size < 8) throw noAudio('An AIFF file with a header and no audio.');
  const soundHead = await file.read(sound.start, 8);
  const offset = new DataView(soundHead.buffer, soundHead.byteOffset).getUint32(0);
  const there = Math.max(0, sound.size - 8 - offset);
  const frameBytes = layout.bytes * channels;
  const framesThere = Math.floor(there / frameBytes);
  if (framesThere === 0) throw noAudio('An AIFF file with a header and no audio.');
  const frames = claimedFrames === 0 ? framesThere : Math.min(claimedFrames, framesThere);
  if (claimedFrames === 0) {
    warnings.push('The header says that there is no audio; all that the sound chunk holds was read.');
  } else if (claimedFrames > framesThere) {
    warnings.push(
      `The header promises ${claimedFrames} frames but only ${framesThere} are in the file: the end is missing.`,
    );
  }
  const companded = layout.kind === 'A-law' || layout.kind === 'mu-law';
  const depth = layout.kind === 'signed' ? bits : layout.bytes * 8;
  return new PcmStream(
    file,
    {
      name: 'AIFF',
      codec: companded ? layout.kind : `${depth}-bit ${layout.kind === 'float' ? 'float' : 'integer'}`,
      sampleRateHz,
      channels,
      bitDepth: companded ? null : depth,
      lossless: !companded,
      channelMask: null,
      frames,
    },
    { layout, start: sound.start + 8 + offset, bytes: frames * frameBytes },
    warnings,
  );
}

function sampleLayout(compression: string, bits: number): SampleLayout {
  const known = COMPRESSIONS[compression];
  if (!known) {
    const name = OTHER_COMPRESSIONS[compression] ?? `"${compression.replace(/[^ -~]/g, '?')}"`;
    throw new UnreadableAudio(
      `An AIFF-C file holding ${name}.`,
      'uncompressed audio, A-law or mu-law.',
      'Export it as uncompressed AIFF, WAV or FLAC.',
    );
  }
  const width = known.bits ?? bits;
  if (width < 1 || width > 64 || (known.kind === 'signed' && width > 32)) {
    throw new UnreadableAudio(
      `The AIFF header says ${bits} bits a sample.`,
      '1 to 32 bits of integer, or 32 or 64 of floating point.',
      'The header is damaged: write the file again from the session it came from.',
    );
  }
  return { kind: known.kind, bytes: Math.ceil(width / 8), littleEndian: known.littleEndian };
}

/**
 * IEEE 754 extended precision: sign, 15 bits of exponent (bias 16383), 64 bits of mantissa with an explicit leading 1:
 * value = mantissa * 2^(exponent - 16383 - 63). NaN for infinities and the like.
 */
function extendedFloat(view: DataView, offset: number): number {
  const head = view.getUint16(offset);
  const exponent = head & 0x7fff;
  if (exponent === 0x7fff) return Number.NaN;
  const mantissa = view.getUint32(offset + 2) * 4_294_967_296 + view.getUint32(offset + 6);
  return (head & 0x8000 ? -1 : 1) * mantissa * 2 ** (exponent - 16_383 - 63);
}
