/**
 * The first frame of many MP3 files is no sound but a note: "Xing" or "Info" with the number of frames, and how many
 * samples the encoder put in front and behind (de-facto standard, "Mp3 Info Tag revision 1", LAME project).
 */
import type { MpegHeader } from './mpeg-frames.ts';

export interface Mp3Info {
  /** Frames of audio after this one; null when not said. */
  frames: number | null;
  /** Samples the encoder put before the sound; null when not said. */
  delaySamples: number | null;
  paddingSamples: number | null;
}

/** Reads the note in `frame`, or null when the frame is sound. */
export function mp3Info(frame: Uint8Array, header: MpegHeader): Mp3Info | null {
  if (header.layer !== 3) return null;
  if (textAt(frame, 36, 4) === 'VBRI') return { frames: null, delaySamples: null, paddingSamples: null };
  const sideInfoBytes = header.version === 1 ? (header.channels === 1 ? 17 : 32) : header.channels === 1 ? 9 : 17;
  const at = 4 + sideInfoBytes;
  const name = textAt(frame, at, 4);
  if ((name !== 'Xing' && name !== 'Info') || frame.length < at + 8) return null;
  const view = new DataView(frame.buffer, frame.byteOffset, frame.length);
  const flags = view.getUint32(at + 4);
  let offset = at + 8;
  let frames: number | null = null;
  if (flags & 1) {
    if (offset + 4 <= frame.length) frames = view.getUint32(offset);
    offset += 4;
  }
  if (flags & 2) offset += 4;
  if (flags & 4) offset += 100;
  if (flags & 8) offset += 4;
  const encoderNamed = /^[A-Za-z]/.test(textAt(frame, offset, 4));
  if (!encoderNamed || offset + 24 > frame.length) return { frames, delaySamples: null, paddingSamples: null };
  // Two numbers of 12 bits, 21 bytes after the encoder's name begins.
  const [a, b, c] = frame.subarray(offset + 21, offset + 24);
  const delaySamples = ((a ?? 0) << 4) | ((b ?? 0) >> 4);
  const paddingSamples = (((b ?? 0) & 15) << 8) | (c ?? 0);
  return { frames, delaySamples, paddingSamples };
}

function textAt(bytes: Uint8Array, offset: number, length: number): string {
  return String.fromCharCode(...bytes.subarray(offset, offset + length));
}
