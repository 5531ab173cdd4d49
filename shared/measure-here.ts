/**
 * What the page and the worker that measures for it say to each other. The worker (scripts/in-page/) is the build's own
 * measuring code and its decoders of uncompressed audio and FLAC; other formats it hands back for the browser to decode.
 */
import type { MeasuredSound } from './measure/measure.ts';
import type { Hertz, Seconds } from './sound.ts';

/** Of longer files only this much is measured. */
export const MEASURED_SECONDS: Seconds = 60;

/** Bytes that can be read in parts: a file or a Blob, of which nothing else is asked. */
export interface ReadableBytes {
  readonly size: number;
  slice(start: number, end: number): { arrayBuffer(): Promise<ArrayBuffer> };
}

export type MeasureOrder =
  | { kind: 'file'; file: ReadableBytes }
  | {
      kind: 'samples';
      /** One array a channel, full scale -1..1. */
      samples: Float32Array[];
      sampleRateHz: Hertz;
      /** Leave out what comes before and after the sound, as a microphone hears it. */
      trim: boolean;
    };

export type MeasureNews =
  /** 0..1 of the work. */
  | { kind: 'progress'; share: number }
  /** The browser has to decode the first `bytes` of the file, at the file's own rate where it is known. */
  | { kind: 'decode'; sampleRateHz: Hertz | null; bytes: number; words: string }
  | { kind: 'measured'; measured: MeasuredHere }
  /** Sentences for a person: what was found, and what to do. */
  | { kind: 'failed'; found: string; remedy: string };

export interface MeasuredHere extends MeasuredSound {
  /** The whole file's length; null where its header does not say it. The measurements say how much was measured. */
  fileSeconds: Seconds | null;
}

export const READABLE_FORMATS = 'WAV, AIFF, FLAC, MP3, Ogg Vorbis or Opus';
