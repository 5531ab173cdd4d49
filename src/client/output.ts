/**
 * How loud a sound is played, and the guard behind it.
 *
 * Sounds are brought to one loudness (target in LUFS) by a gain that keeps the true peak at or under the ceiling. What
 * still gets through (an overshoot of the preview's codec, two sounds crossing) meets a compressor and then a hard ceiling
 * that no sample can pass.
 */

/** EBU R 128's programme level and its largest permitted true peak. */
export const DEFAULT_TARGET_LUFS = -23;
export const CEILING_DB = -1;
/** How far below the target a visit begins. */
export const FIRST_STEP_DB = 12;

export interface Levels {
  integratedLufs: number | null;
  momentaryMaxLufs: number | null;
  truePeakDbtp: number | null;
}

export interface Match {
  gainDb: number;
  /** How much of the wanted gain the peaks forbid; 0 where none. */
  heldBackDb: number;
}

/**
 * gain = target − loudness, at most ceiling − true peak. A sound too short for gated loudness goes by its loudest
 * 400 ms; one without loudness (silence) is left as it is, but its peak still counts.
 */
export function matchLoudness(levels: Levels, targetLufs: number): Match {
  const loudness = levels.integratedLufs ?? levels.momentaryMaxLufs;
  const wanted = loudness === null ? 0 : targetLufs - loudness;
  const allowed = levels.truePeakDbtp === null ? 0 : CEILING_DB - levels.truePeakDbtp;
  const gainDb = Math.min(wanted, levels.truePeakDbtp === null && wanted <= 0 ? wanted : allowed);
  return { gainDb, heldBackDb: wanted - gainDb };
}

export const toGain = (decibels: number): number => 10 ** (decibels / 20);

/** Matched sounds stay below it, so it only holds what should not have come: they pass unchanged. */
const THRESHOLD_DB = CEILING_DB;
const RATIO = 20;

/**
 * The Web Audio compressor adds make-up gain of its own: (1 / gain at full scale) ^ 0.6 (Web Audio API, "computing the
 * makeup gain"). It would lift everything, so it is taken back.
 */
const MAKE_UP_DB = 0.6 * (THRESHOLD_DB / RATIO - THRESHOLD_DB);

export interface Output {
  input: AudioNode;
  /** What leaves for the loudspeakers, to be measured. */
  analyser: AnalyserNode;
}

/** Compressor, hard ceiling, measuring point, destination. */
export function buildOutput(context: BaseAudioContext): Output {
  const compressor = new DynamicsCompressorNode(context, {
    threshold: THRESHOLD_DB,
    ratio: RATIO,
    knee: 0,
    attack: 0.002,
    release: 0.08,
  });
  const takeBack = new GainNode(context, { gain: toGain(-MAKE_UP_DB) });
  const ceiling = new WaveShaperNode(context, { curve: ceilingCurve(), oversample: 'none' });
  const analyser = new AnalyserNode(context, { fftSize: 2048 });
  compressor.connect(takeBack).connect(ceiling).connect(analyser).connect(context.destination);
  return { input: compressor, analyser };
}

/**
 * Straight up to the ceiling, flat from there. The shaper reads between points and holds its last value beyond ±1, so no
 * output can pass; it is left without oversampling, whose filters could overshoot.
 */
function ceilingCurve(): Float32Array<ArrayBuffer> {
  const points = 4097;
  const top = toGain(CEILING_DB) * (1 - 1e-6);
  return Float32Array.from({ length: points }, (_, index) => {
    const input = (index / (points - 1)) * 2 - 1;
    return Math.max(-top, Math.min(top, input));
  });
}

/** Level of what plays just now, root mean square in dB of full scale; null in silence. */
export function levelOf(analyser: AnalyserNode, block: Float32Array<ArrayBuffer>): number | null {
  analyser.getFloatTimeDomainData(block);
  let sum = 0;
  for (const sample of block) sum += sample * sample;
  const meanSquare = sum / block.length;
  return meanSquare > 1e-10 ? 10 * Math.log10(meanSquare) : null;
}
