/**
 * The chunks of a WAV file that hold text and marks: bext (EBU Tech 3285), LIST INFO, cue with LIST adtl, smpl, iXML.
 */
import { type Chunk, chunkBytes, concatBytes, utf8, words } from './chunks.ts';

export interface BextFields {
  description: string;
  originator: string;
  /** yyyy-mm-dd */
  date: string;
  /** hh:mm:ss */
  time: string;
  timeReferenceSamples: number;
  codingHistory: string;
}

/** Broadcast extension, version 1: 602 bytes and the coding history. Text beyond a field's width is cut. */
export function bextChunk(fields: BextFields): Chunk {
  const history = utf8(fields.codingHistory);
  const body = new Uint8Array(602 + history.length);
  const put = (at: number, width: number, text: string) => body.set(utf8(text).subarray(0, width), at);
  put(0, 256, fields.description);
  put(256, 32, fields.originator);
  put(320, 10, fields.date);
  put(330, 8, fields.time);
  const view = new DataView(body.buffer);
  view.setUint32(338, fields.timeReferenceSamples % 2 ** 32, true);
  view.setUint32(342, Math.floor(fields.timeReferenceSamples / 2 ** 32), true);
  view.setUint16(346, 1, true);
  body.set(history, 602);
  return { id: 'bext', body };
}

/** LIST INFO from identifiers (INAM, ICMT, IKEY ...) to text; empty texts are left out. */
export function infoChunk(texts: Record<string, string>): Chunk {
  const entries = Object.entries(texts).filter(([, text]) => text !== '');
  const parts = entries.map(([id, text]) => chunkBytes({ id, body: utf8(`${text}\0`) }));
  return { id: 'LIST', body: concatBytes([utf8('INFO'), ...parts]) };
}

export interface Mark {
  startFrame: number;
  /** null for a point without length. */
  lengthFrames: number | null;
  label: string;
}

/** cue points, and the LIST adtl with their labels and, for regions, their lengths. */
export function markChunks(marks: readonly Mark[]): Chunk[] {
  const points = marks.map((mark, index) =>
    concatBytes([words(index + 1, mark.startFrame), utf8('data'), words(0, 0, mark.startFrame)]),
  );
  const notes = marks.flatMap((mark, index) => {
    const label = chunkBytes({ id: 'labl', body: concatBytes([words(index + 1), utf8(`${mark.label}\0`)]) });
    if (mark.lengthFrames === null) return [label];
    const body = concatBytes([words(index + 1, mark.lengthFrames), utf8('rgn '), words(0, 0)]);
    return [label, chunkBytes({ id: 'ltxt', body })];
  });
  return [
    { id: 'cue ', body: concatBytes([words(marks.length), ...points]) },
    { id: 'LIST', body: concatBytes([utf8('adtl'), ...notes]) },
  ];
}

/** Sampler chunk: root note with fine tuning, and at most one loop over frames `loop.start`..`loop.end` (included). */
export function samplerChunk(
  sampleRateHz: number,
  rootHz: number | null,
  loop: { startFrame: number; endFrame: number } | null,
): Chunk {
  const semitones = rootHz === null ? 60 : 69 + 12 * Math.log2(rootHz / 440);
  // The fraction counts upwards from the note only, in 2^32 parts of a semitone.
  const note = Math.floor(semitones);
  const fraction = Math.round((semitones - note) * 2 ** 32) % 2 ** 32;
  const head = words(0, 0, Math.round(1e9 / sampleRateHz), note, fraction, 0, 0, loop === null ? 0 : 1, 0);
  if (loop === null) return { id: 'smpl', body: head };
  return { id: 'smpl', body: concatBytes([head, words(0, 0, loop.startFrame, loop.endFrame, 0, 0)]) };
}

/** iXML as field recorders write it; every element is optional in the standard. */
export function ixmlChunk(fields: { project: string; scene: string; take: string; note: string }): Chunk {
  const escaped = (text: string) => text.replaceAll('&', '&amp;').replaceAll('<', '&lt;');
  const element = (name: string, text: string) => `<${name}>${escaped(text)}</${name}>`;
  const inside = [
    element('IXML_VERSION', '1.61'),
    element('PROJECT', fields.project),
    element('SCENE', fields.scene),
    element('TAKE', fields.take),
    element('NOTE', fields.note),
  ];
  return { id: 'iXML', body: utf8(`<?xml version="1.0" encoding="UTF-8"?><BWFXML>${inside.join('')}</BWFXML>`) };
}
