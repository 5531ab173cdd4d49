/** The metadata blocks of FLAC (RFC 9639, section 8): comments, cue sheet, and RIFF chunks kept from a WAV file. */
import type { Marker } from '../audio-stream.ts';
import type { ByteSource } from '../decode/byte-source.ts';
import { identifierAt } from '../decode/chunks.ts';
import type { Findings } from './findings.ts';
import { readVorbisComment } from './vorbis-comment.ts';
import { CHUNK_BYTES, cutChunk, TOTAL_BYTES, WaveText } from './wave-text.ts';

const MOST_BLOCKS = 1024;
const BLOCK_NAMES = { 2: 'APPLICATION', 4: 'VORBIS_COMMENT', 5: 'CUESHEET' } as const;

export async function describeFlac(source: ByteSource): Promise<Findings[]> {
  const wave = new WaveText();
  const found: Findings[] = [];
  let budget = TOTAL_BYTES;
  let position = 4;
  for (let count = 0, last = false; !last && count < MOST_BLOCKS; count++) {
    const head = await source.read(position, 4);
    if (head.length < 4) break;
    last = (head[0] & 0x80) !== 0;
    const type = head[0] & 0x7f;
    const size = (head[1] << 16) | (head[2] << 8) | head[3];
    if (type === 2 || type === 4 || type === 5) {
      const there = Math.max(0, Math.min(size, source.size - position - 4));
      const bytes = await source.read(position + 4, Math.min(there, CHUNK_BYTES, budget));
      if (bytes.length < there) found.push({ leftOut: [cutChunk(BLOCK_NAMES[type], there, bytes.length)] });
      budget -= bytes.length;
      found.push(readFlacBlock(type, bytes, wave));
    }
    position += 4 + size;
  }
  return [...found, ...wave.findings(null)];
}

/** One block: 2 application, 4 comments, 5 cue sheet; the others say nothing here. */
export function readFlacBlock(type: number, bytes: Uint8Array, wave: WaveText): Findings {
  if (type === 4) return readVorbisComment(bytes);
  if (type === 5) return { markers: cueSheetMarkers(bytes) };
  if (type === 2 && bytes.length >= 12 && identifierAt(bytes, 0) === 'riff') {
    const size = new DataView(bytes.buffer, bytes.byteOffset).getUint32(8, true);
    const id = identifierAt(bytes, 4);
    if (WaveText.reads(id)) wave.add(id, bytes.subarray(12, 12 + size));
  }
  return {};
}

/** Section 8.7: 396 bytes of head, then tracks of 36 bytes with 12 for each index point. The last is the lead-out. */
function cueSheetMarkers(bytes: Uint8Array): Marker[] {
  const markers: Marker[] = [];
  if (bytes.length < 396) return markers;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const tracks = bytes[395] ?? 0;
  for (let at = 396, track = 0; track < tracks - 1 && at + 36 <= bytes.length; track++) {
    const startFrame = Number(view.getBigUint64(at));
    const number = bytes[at + 8] ?? 0;
    if (Number.isSafeInteger(startFrame)) {
      markers.push({ startFrame, lengthFrames: null, label: `Track ${number}`, note: null });
    }
    at += 36 + bytes[at + 35] * 12;
  }
  return markers;
}
