/**
 * What every decoder gives: a description of the format and the audio as blocks of planar floats, in bounded memory.
 * One file a format below `decode/`; `decode/open.ts` looks at the first bytes (never at the name) and picks one.
 */
import type { Hash } from 'node:crypto';

export type FormatName = 'WAV' | 'AIFF' | 'FLAC' | 'MP3' | 'Ogg Vorbis' | 'Opus';

export interface AudioFormat {
  name: FormatName;
  /** Codec in words, e.g. "24-bit integer", "32-bit float", "A-law". */
  codec: string;
  sampleRateHz: number;
  channels: number;
  /** null for lossy codecs. */
  bitDepth: number | null;
  lossless: boolean;
  /** Loudspeakers as in WAVE_FORMAT_EXTENSIBLE, also where another format fixes them (3 channels up), or null. */
  channelMask: number | null;
  /** Frames in the file: exact for lossless formats, what the tags promise for lossy ones; null where only decoding tells. */
  frames: number | null;
}

/** One block: one Float32Array a channel, all of one length, at most BLOCK_FRAMES. Full scale is -1..1. */
export type AudioBlock = Float32Array[];
export const BLOCK_FRAMES = 65_536;

export interface FrameRange {
  startFrame: number;
  /** Exclusive. */
  endFrame: number;
}

export interface AudioStream {
  readonly format: AudioFormat;
  /** Sentences about what was odd but survivable (a header that lies, a missing tail), filled in as decoding goes. */
  readonly warnings: string[];
  /**
   * Decodes from the start, or only the frames of `range`. May be called again: uncompressed formats seek, compressed
   * ones decode up to the range and drop what comes before; ranges asked for in rising order cost one pass in all.
   * Blocks are fresh arrays the caller may keep.
   */
  blocks(range?: FrameRange): AsyncGenerator<AudioBlock>;
  /** Feeds the coded audio, without tags and containers' page headers, to `hash`: what identifies a lossy file. */
  hashPayload(hash: Hash): Promise<void>;
  /** Frees the decoder and closes the file. */
  close(): Promise<void>;
}

/** A file that cannot be used. `found`, `expected` and `remedy` are sentences for a person, without the path. */
export class UnreadableAudio extends Error {
  readonly found: string;
  readonly expected: string;
  readonly remedy: string;
  constructor(found: string, expected: string, remedy: string) {
    super(`${found} Expected: ${expected} ${remedy}`);
    this.name = 'UnreadableAudio';
    this.found = found;
    this.expected = expected;
    this.remedy = remedy;
  }
}

/** A position a recordist or editor marked in the file. */
export interface Marker {
  startFrame: number;
  /** null for a point without length. */
  lengthFrames: number | null;
  label: string | null;
  note: string | null;
}

/** Text and musical data embedded in a file. Absent things are null or empty; text is trimmed and holds no NUL. */
export interface EmbeddedText {
  title: string | null;
  description: string | null;
  originator: string | null;
  artist: string | null;
  comment: string | null;
  keywords: string[];
  /** yyyy-mm-dd */
  date: string | null;
  /** hh:mm:ss */
  time: string | null;
  /** bext time reference: samples since midnight. */
  timeReferenceSamples: number | null;
  project: string | null;
  scene: string | null;
  take: string | null;
  tape: string | null;
  note: string | null;
  trackNames: string[];
  /** smpl / INST root note as a MIDI number. */
  rootNote: number | null;
  /** How far the recording lies above its root note, in cents. */
  rootCents: number | null;
  /** `endFrame` is exclusive. */
  loops: { startFrame: number; endFrame: number }[];
  markers: Marker[];
  /** What a bext v2 chunk claims, or null. */
  claimedIntegratedLufs: number | null;
  claimedTruePeakDbtp: number | null;
  /** Sentences on what was too much to keep, with the number left out. */
  leftOut: string[];
}
