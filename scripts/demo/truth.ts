/**
 * What is true of the demo archive by construction: the content of `truth.json` at its root. Every value comes from the
 * parameters of the synthesis; none is measured from the audio of the file, so a measurement may be checked against it.
 *
 * Times count in seconds. In lossy files they count from the encoder's first input sample: a decoder that does not drop
 * the encoder's delay (a few hundredths of a second) shows everything later by that much.
 */
import type { FaultKind, Gesture } from '../../shared/sound.ts';

/** First field of truth.json; tells a folder of our own from any other. */
export const TRUTH_MAGIC = 'takeshelf demo archive';
export const TRUTH_VERSION = 1;

export interface SoundTruth {
  /** Where the first energy of the sound lies in the file: the first contact, bow stroke or breath. */
  startSeconds: number;
  /**
   * From the sound's start until the sound alone, before the floor is laid under it, rises 6 dB over that floor (or comes
   * within 54 dB of its top where the floor lies lower), in steps of 20 ms: 0 for blows, some tenths of a second for what
   * grows out of nothing or begins with a few faint grains.
   */
  heardFromSeconds: number;
  /**
   * From the first energy until the synthesised envelope (decay times of the modes, end of the stroke, decay of the room)
   * has fallen 60 dB below its top, or into the file's noise floor where that comes first, or until the recording
   * ends. Natural tails have no sharp end: expect a measurement to differ by some tenths of a decay time.
   */
  lengthSeconds: number;
  /**
   * The main accent, from the sound's start: the onset of the strike (hit, the blow at a riser's end, the strongest blow of
   * a pulse or phrase), the moment of the cut where a riser stops dead, the top of the intended curve (swell), 0 for
   * a fade; null for a drone, which has none.
   */
  accentSeconds: number | null;
  /**
   * What the player meant: a blow with its bounces, or a held sound that dies within 2 s, is a hit; four and more blows in
   * a steady row a pulse; fewer or freer ones, and separate drops, a phrase; held sounds are named by their curve.
   */
  gesture: Gesture;
  /** The frequency a listener would name: fundamental, a bell's prime. null for unpitched sounds and for glides. */
  pitchHz: number | null;
  name: string;
  /** House vocabulary, lower case. What is true of the sound, whether or not the file carries it. */
  keywords: string[];
}

export type FileFormat = 'WAV' | 'AIFF' | 'FLAC' | 'MP3' | 'Ogg Vorbis';

/**
 * How one can tell the sounds of a file apart: marked regions (each 0.3 s longer than its sound), marked starts, gaps of room
 * tone (2 s and more), or only one sound.
 */
export type Division = 'regions' | 'points' | 'gaps' | 'single';

export interface FileTruth {
  /** Below the archive folder, with forward slashes. */
  path: string;
  /** What the bytes are, whatever the name says; null for a file that is no audio. */
  format: FileFormat | null;
  sampleRateHz: number | null;
  channels: number | null;
  /** null for lossy formats. */
  bitDepth: number | null;
  /** Length of the audio that is really there; null where there is none. */
  lengthSeconds: number | null;
  /** Level of the room tone and microphone noise under everything, RMS per channel; null = digital silence. */
  floorDbfs: number | null;
  division: Division | null;
  /** Faults put in on purpose. */
  faults: FaultKind[];
  /** Why the file cannot be opened as audio, or null. */
  error: 'not-audio' | null;
  /** Odd but survivable, put in on purpose. */
  oddities: ('wrong-extension' | 'data-cut-short')[];
  /** Path of the file whose audio this one repeats sample for sample, or null. */
  duplicateOf: string | null;
  sounds: SoundTruth[];
}

export interface ArchiveTruth {
  magic: typeof TRUTH_MAGIC;
  version: typeof TRUTH_VERSION;
  /** Options as used. */
  seed: number;
  soundsWanted: number;
  files: FileTruth[];
}
