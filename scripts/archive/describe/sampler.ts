/** Root note and loops from the `smpl` and `inst` chunks (Multimedia Programming Interface 1.0, update of 1994). */
import type { Findings } from './findings.ts';

const LOOP_BYTES = 24;

/** `smpl`: the pitch fraction counts upwards from the note, 2^32 being one semitone. Loop ends are inclusive there. */
export function readSmpl(bytes: Uint8Array): Findings {
  if (bytes.length < 36) return {};
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const note = view.getUint32(12, true);
  const count = Math.min(view.getUint32(28, true), Math.floor((bytes.length - 36) / LOOP_BYTES));
  const loops: { startFrame: number; endFrame: number }[] = [];
  for (let index = 0; index < count; index++) {
    const startFrame = view.getUint32(36 + index * LOOP_BYTES + 8, true);
    const endFrame = view.getUint32(36 + index * LOOP_BYTES + 12, true) + 1;
    if (endFrame > startFrame + 1) loops.push({ startFrame, endFrame });
  }
  return { ...root(note, (view.getUint32(16, true) / 4_294_967_296) * 100), loops };
}

/** `inst`: the fine tuning is what must be added to reach the note, so the recording lies that much below it. */
export function readInst(bytes: Uint8Array): Findings {
  if (bytes.length < 7) return {};
  const fineTune = (bytes[1] << 24) >> 24;
  return root(bytes[0] ?? 0, fineTune === 0 ? 0 : -fineTune);
}

/** Note 0 (8 Hz) is what writers leave who mean nothing by it. */
export function root(note: number, cents: number): Findings {
  if (!(note >= 1 && note <= 127)) return {};
  return { rootNote: note, rootCents: Math.abs(cents) <= 100 ? cents : null };
}
