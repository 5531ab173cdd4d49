/** Whether measurements that another version of the program kept have everything that this one reads. */
import {
  CEPSTRUM_COEFFICIENTS,
  CONTOUR_POINTS,
  FAULT_KINDS,
  GESTURES,
  type Measurements,
  PROFILE_BANDS,
} from '../../shared/sound.ts';

type Check = (value: unknown) => boolean;

const number: Check = (value) => typeof value === 'number';
const orNull =
  (check: Check): Check =>
  (value) =>
    value === null || check(value);
const text: Check = (value) => typeof value === 'string';
const listOf =
  (check: Check, length?: number): Check =>
  (value) =>
    Array.isArray(value) && (length === undefined || value.length === length) && value.every(check);
const oneOf =
  (words: readonly string[]): Check =>
  (value) =>
    typeof value === 'string' && words.includes(value);
const record =
  (checks: Record<string, Check>): Check =>
  (value) =>
    typeof value === 'object' &&
    value !== null &&
    Object.entries(checks).every(([name, check]) => check((value as Record<string, unknown>)[name]));

/** A field more in Measurements is a line more here, or this does not compile. */
const CHECKS: Record<keyof Measurements, Check> = {
  durationSeconds: number,
  sampleRateHz: number,
  channels: number,
  bitDepth: orNull(number),
  integratedLufs: orNull(number),
  momentaryMaxLufs: orNull(number),
  shortTermMaxLufs: orNull(number),
  loudnessRangeLu: orNull(number),
  truePeakDbtp: orNull(number),
  samplePeakDbfs: orNull(number),
  noiseFloorDbfs: orNull(number),
  crestDb: orNull(number),
  slateEndSeconds: orNull(number),
  activeStartSeconds: orNull(number),
  activeSeconds: orNull(number),
  attackSeconds: orNull(number),
  decaySeconds: orNull(number),
  temporalCentroid: orNull(number),
  climaxSeconds: orNull(number),
  accents: listOf(record({ seconds: number, strengthDb: number })),
  gesture: orNull(oneOf(GESTURES)),
  contour: listOf(number, CONTOUR_POINTS),
  centroidHz: orNull(number),
  spreadHz: orNull(number),
  flatness: orNull(number),
  rolloffHz: orNull(number),
  pitchHz: orNull(number),
  pitchConfidence: orNull(number),
  note: orNull(text),
  centsOff: orNull(number),
  rootNote: orNull(text),
  pulseBpm: orNull(number),
  tremoloHz: orNull(number),
  brightnessSlope: orNull(number),
  stereoWidth: orNull(number),
  correlation: orNull(number),
  clippedSamples: number,
  dcOffset: number,
  faults: listOf(oneOf(FAULT_KINDS)),
  faultDetails: listOf(record({ kind: oneOf(FAULT_KINDS), severity: text, seconds: orNull(number), message: text })),
  roughness: orNull(number),
  inharmonic: orNull((value) => typeof value === 'boolean'),
  profile: orNull(listOf(number, PROFILE_BANDS)),
  cepstrumMean: orNull(listOf(number, CEPSTRUM_COEFFICIENTS)),
  cepstrumSpread: orNull(listOf(number, CEPSTRUM_COEFFICIENTS)),
};

export const hasAllMeasurements: (measurements: unknown) => boolean = record(CHECKS);
