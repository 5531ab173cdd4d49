/** Cue points and what `LIST adtl` says about them: names, notes and lengths (Multimedia Programming Interface 1.0). */
import type { Marker } from '../audio-stream.ts';
import { subChunks } from './info-list.ts';
import { decodeField } from './text.ts';

const CUE_BYTES = 24;

export interface CueLabels {
  label: string | null;
  note: string | null;
  lengthFrames: number | null;
}

/** Identifier and position of each cue point. */
export function readCuePoints(bytes: Uint8Array): Map<number, number> {
  const points = new Map<number, number>();
  if (bytes.length < 4) return points;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const count = Math.min(view.getUint32(0, true), Math.floor((bytes.length - 4) / CUE_BYTES));
  for (let index = 0; index < count; index++) {
    const at = 4 + index * CUE_BYTES;
    // The offset into the data chunk counts; some writers fill in only the position in the play order.
    const sampleOffset = view.getUint32(at + 20, true);
    const position = view.getUint32(at + 4, true);
    points.set(view.getUint32(at, true), sampleOffset === 0 ? position : sampleOffset);
  }
  return points;
}

/** Names, notes and lengths by cue point, from the content of a LIST chunk after its type. */
export function readCueLabels(bytes: Uint8Array, labels: Map<number, CueLabels>): void {
  for (const { id, content } of subChunks(bytes, true)) {
    if (content.length < 4) continue;
    const view = new DataView(content.buffer, content.byteOffset, content.length);
    const cue = view.getUint32(0, true);
    const known = labels.get(cue) ?? { label: null, note: null, lengthFrames: null };
    if (id === 'labl') known.label ??= decodeField(content.subarray(4));
    else if (id === 'note') known.note ??= decodeField(content.subarray(4));
    else if (id === 'ltxt' && content.length >= 20) {
      const length = view.getUint32(4, true);
      if (length > 0) known.lengthFrames ??= length;
      const text = decodeField(content.subarray(20));
      if (text) known.note ??= text;
    } else continue;
    labels.set(cue, known);
  }
}

/** Cue points with their labels, as markers. */
export function cueMarkers(points: Map<number, number>, labels: Map<number, CueLabels>): Marker[] {
  return [...points].map(([id, startFrame]) => {
    const { label, note, lengthFrames } = labels.get(id) ?? { label: null, note: null, lengthFrames: null };
    return { startFrame, lengthFrames, label: label ?? note, note: label === null || note === label ? null : note };
  });
}
