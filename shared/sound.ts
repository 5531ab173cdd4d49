/**
 * The record of one sound, shared by the build, the command line and the page.
 *
 * Every field carries its unit in its name. Times count in seconds from the sound's start. `null` means "has no
 * meaning for this sound" (the pitch of a hiss, the loudness of silence); NaN and made-up numbers never appear.
 */

export type Seconds = number;
export type Hertz = number;
/** Level relative to digital full scale, in decibels. */
export type Decibels = number;
/** Loudness in LUFS (ITU-R BS.1770). */
export type Lufs = number;
export type Semitones = number;

/** How loudness moves over the whole sound. */
export const GESTURES = ['hit', 'swell', 'riser', 'drone', 'pulse', 'phrase', 'fade'] as const;
export type Gesture = (typeof GESTURES)[number];

/** Number of points in a loudness contour. */
export const CONTOUR_POINTS = 64;
/** Log-frequency profile: bands of one semitone, the first centred on PROFILE_LOWEST_HZ (A0), the last ends at 23 kHz. */
export const PROFILE_BANDS = 117;
export const PROFILE_LOWEST_HZ = 27.5;
/** Mel-frequency cepstral coefficients kept per sound. */
export const CEPSTRUM_COEFFICIENTS = 13;
/** Columns of the drawn waveform: each a minimum and a maximum. */
export const WAVEFORM_COLUMNS = 600;

/** A moment where the sound strikes: `strengthDb` is the rise in level over what went just before. */
export interface Accent {
  seconds: Seconds;
  strengthDb: Decibels;
}

export const FAULT_KINDS = [
  'clipping',
  'dc-offset',
  'dropout',
  'hum',
  'dead-channel',
  'inverted-channel',
  'mono-as-stereo',
  'low-level',
  'high-noise-floor',
  'truncated-tail',
  'silent',
  'spoken-slate',
] as const;
export type FaultKind = (typeof FAULT_KINDS)[number];
export type Severity = 'serious' | 'warning' | 'note';

/** One thing wrong with a sound, or worth knowing before it is used, where it is, and a sentence for a person. */
export interface FaultDetail {
  kind: FaultKind;
  severity: Severity;
  /** Where it first happens; null when it is true of the whole sound. */
  seconds: Seconds | null;
  message: string;
}

/** What the tool says about one sound. The names are the command line's `measure --json` names. */
export interface Measurements {
  durationSeconds: Seconds;
  sampleRateHz: Hertz;
  channels: number;
  /** Bits a sample in the file; null for lossy codecs, which have none. */
  bitDepth: number | null;

  integratedLufs: Lufs | null;
  momentaryMaxLufs: Lufs | null;
  shortTermMaxLufs: Lufs | null;
  loudnessRangeLu: number | null;
  truePeakDbtp: Decibels | null;
  samplePeakDbfs: Decibels | null;
  noiseFloorDbfs: Decibels | null;
  crestDb: Decibels | null;

  /** Where the spoken slate before the sound ends; null = none found. Whatever else is measured is measured after it. */
  slateEndSeconds: Seconds | null;
  activeStartSeconds: Seconds | null;
  activeSeconds: Seconds | null;
  attackSeconds: Seconds | null;
  decaySeconds: Seconds | null;
  /** Centre of gravity of the envelope, as a share 0..1 of the active length. */
  temporalCentroid: number | null;
  /** Time of the main accent, or of the loudest moment where there is no accent. */
  climaxSeconds: Seconds | null;
  accents: Accent[];
  gesture: Gesture | null;
  /** CONTOUR_POINTS values 0..1 over the whole sound, 1 = the sound's own loudest moment. */
  contour: number[];

  centroidHz: Hertz | null;
  spreadHz: Hertz | null;
  flatness: number | null;
  rolloffHz: Hertz | null;
  pitchHz: Hertz | null;
  pitchConfidence: number | null;
  note: string | null;
  centsOff: number | null;
  /** The note that the file's own sampler data gives it; says nothing of what is heard. */
  rootNote: string | null;
  pulseBpm: number | null;
  tremoloHz: Hertz | null;
  /** Change of the spectral centroid over the active length, octaves a second; positive grows brighter. */
  brightnessSlope: number | null;
  stereoWidth: number | null;
  correlation: number | null;
  clippedSamples: number;
  dcOffset: number;
  /** Kinds found, without repetition; `faultDetails` says where. */
  faults: FaultKind[];
  faultDetails: FaultDetail[];

  /** 0..1, how rough (beating partials, grain) the sound is. */
  roughness: number | null;
  /** True where strong partials stand in no harmonic row, as in bells and plates. */
  inharmonic: boolean | null;
  /** Energy per semitone band in dB below the strongest band (0 .. -80); PROFILE_BANDS values. */
  profile: number[] | null;
  /** Mean and standard deviation over time of the cepstrum; CEPSTRUM_COEFFICIENTS values each. */
  cepstrumMean: number[] | null;
  cepstrumSpread: number[] | null;
}

/** What the page draws of one sound beside its contour: minimum and maximum a column, -127..127, interleaved. */
export type Waveform = Int8Array;

/** Where one sound's audio lies. The same audio in two files is one sound with two places. */
export interface Place {
  /** Path below the archive folder, with forward slashes. */
  file: string;
  /** Name of the archive folder it is in. */
  folder: string;
  startSeconds: Seconds;
  /** The folder could not be looked into at the last build; absent where it could, and in sites of older builds. */
  away?: true;
}

/** One sound as the site knows it. */
export interface Sound extends Measurements {
  /** Hash of the decoded audio: 16 lower-case base-32 characters. Survives renaming, moving and metadata edits. */
  id: string;
  name: string;
  /** The recording session: the folder it lies in, or what the catalogue says. */
  session: string;
  places: Place[];
  tags: string[];
  /** Embedded description and notes, as text. */
  description: string;
  rights: string | null;
  owner: string | null;
  /** `yyyy-mm-dd` of the recording where the file says so. */
  recordedOn: string | null;
  /** WAV, AIFF, FLAC, MP3, Ogg Vorbis, Opus. */
  format: string;
  /** Position on the map; null where nothing is heard. */
  mapX: number | null;
  mapY: number | null;
  /** How many preview parts the page can load (at least 1). */
  previewParts: number;
}
