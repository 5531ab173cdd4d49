/** What the chunks of an AIFF file say beside the audio (Audio Interchange File Format 1.3, 1989). */
import type { Marker } from '../audio-stream.ts';
import type { ByteSource } from '../decode/byte-source.ts';
import { readChunks } from '../decode/chunks.ts';
import type { Findings } from './findings.ts';
import { readId3v2 } from './id3.ts';
import { root } from './sampler.ts';
import { decodeField, decodeText } from './text.ts';
import { CHUNK_BYTES, cutChunk, ID3_BYTES, TOTAL_BYTES } from './wave-text.ts';

const TEXT_CHUNKS = ['MARK', 'COMT', 'INST', 'NAME', 'AUTH', 'ANNO', 'ID3 '];

export async function describeAiff(source: ByteSource): Promise<Findings[]> {
  const form = await readChunks(source);
  if (!form) return [];
  const texts = new Map<string, string[]>();
  const markers = new Map<number, Marker>();
  const comments: { marker: number; text: string }[] = [];
  let instrument: Uint8Array | null = null;
  let tag: Findings = {};
  const leftOut: string[] = [];
  let budget = TOTAL_BYTES;
  for (const chunk of form.chunks) {
    if (chunk.id === 'SSND' || chunk.id === 'COMM') continue;
    const isTag = /^id3 $/i.test(chunk.id);
    const there = Math.min(chunk.size, source.size - chunk.start);
    const bytes = await source.read(chunk.start, Math.min(there, isTag ? ID3_BYTES : CHUNK_BYTES, budget));
    if (bytes.length < there && TEXT_CHUNKS.includes(chunk.id)) leftOut.push(cutChunk(chunk.id, there, bytes.length));
    budget -= bytes.length;
    if (isTag) tag = readId3v2(bytes);
    if (chunk.id === 'MARK') readMarkers(bytes, markers);
    if (chunk.id === 'COMT') readComments(bytes, comments);
    if (chunk.id === 'INST' && bytes.length >= 20) instrument ??= bytes;
    if (['NAME', 'AUTH', 'ANNO'].includes(chunk.id)) {
      const all = texts.get(chunk.id) ?? [];
      all.push(decodeField(bytes));
      texts.set(chunk.id, all);
    }
  }
  const plain = comments.filter(({ marker }) => !markers.has(marker)).map(({ text }) => text);
  for (const { marker, text } of comments) {
    const marked = markers.get(marker);
    if (marked) marked.note ??= text;
  }
  const sampler = instrument ? readInstrument(instrument, markers) : {};
  const joined = (lines: string[]): string => [...new Set(lines)].filter((line) => line !== '').join('\n');
  const own: Findings = {
    title: joined(texts.get('NAME') ?? []),
    artist: joined(texts.get('AUTH') ?? []),
    comment: joined([...(texts.get('ANNO') ?? []), ...plain]),
    leftOut,
    timeReferenceSamples: takeTimestamp(markers),
    markers: [...markers.values()],
  };
  return [own, tag, sampler];
}

/** Some workstations keep the time reference in the name of a marker; it is no position anyone set. */
function takeTimestamp(markers: Map<number, Marker>): number | null {
  for (const [id, { label }] of markers) {
    const samples = /^Timestamp: (\d{1,15})$/.exec(label ?? '')?.[1];
    if (samples === undefined) continue;
    markers.delete(id);
    return Number(samples);
  }
  return null;
}

/** MARK: count, then identifier (2), position (4) and a counted name padded to an even length. */
function readMarkers(bytes: Uint8Array, markers: Map<number, Marker>): void {
  if (bytes.length < 2) return;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  let left = view.getUint16(0);
  for (let at = 2; at + 7 <= bytes.length && left > 0; left--) {
    const length = bytes[at + 6] ?? 0;
    const label = decodeText(bytes.subarray(at + 7, at + 7 + length));
    markers.set(view.getInt16(at), { startFrame: view.getUint32(at + 2), lengthFrames: null, label, note: null });
    at += 7 + length + ((length + 1) & 1);
  }
}

/** As many as one chunk can hold, in all chunks together: a file has one such chunk. */
const MOST_COMMENTS = 65_535;

/** COMT: count, then time (4), marker or 0 (2), length (2) and text padded to an even length. */
function readComments(bytes: Uint8Array, comments: { marker: number; text: string }[]): void {
  if (bytes.length < 2) return;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  let left = view.getUint16(0);
  for (let at = 2; at + 8 <= bytes.length && left > 0 && comments.length < MOST_COMMENTS; left--) {
    const length = view.getUint16(at + 6);
    const text = decodeText(bytes.subarray(at + 8, at + 8 + length));
    if (text !== '') comments.push({ marker: view.getInt16(at + 4), text });
    at += 8 + length + (length & 1);
  }
}

/** INST: note, detune, ... and two loops whose ends are markers; those markers are no positions anyone set to find. */
function readInstrument(bytes: Uint8Array, markers: Map<number, Marker>): Findings {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const loops: { startFrame: number; endFrame: number }[] = [];
  for (const at of [8, 14]) {
    const playMode = view.getInt16(at);
    const begin = markers.get(view.getInt16(at + 2));
    const end = markers.get(view.getInt16(at + 4));
    if (playMode === 0 || !begin || !end || end.startFrame <= begin.startFrame) continue;
    loops.push({ startFrame: begin.startFrame, endFrame: end.startFrame });
  }
  for (const at of [8, 14]) {
    if (view.getInt16(at) === 0) continue;
    markers.delete(view.getInt16(at + 2));
    markers.delete(view.getInt16(at + 4));
  }
  const detune = view.getInt8(1);
  return { ...root(view.getInt8(0), detune === 0 ? 0 : -detune), loops };
}
