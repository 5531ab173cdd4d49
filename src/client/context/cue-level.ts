/** How loud a cue is, roughly: enough to bring it to the level set, quickly enough to be waited for. */
import { LoudnessMeter } from '../../../shared/measure/loudness.ts';
import { TruePeakMeter } from '../../../shared/measure/true-peak.ts';
import type { Levels } from '../output.ts';

/** Columns of the drawn waveform a second. */
export const CUE_COLUMNS_A_SECOND = 50;

export interface CueMeasured {
  levels: Levels;
  /** Largest absolute sample of every 20 ms, 0..1 and beyond. */
  columns: Float32Array;
}

/** Longer cues are heard in slices, evenly spread, of so much in all. */
const HEARD_SECONDS = 120;
const SLICE_SECONDS = 4;
/** Peaks between samples of what was not heard in full: allowed for so much over its sample peak (BS.1770-5, Annex 2: 0.69 dB at 4 times). */
const BETWEEN_SAMPLES_DB = 0.69;
/** Work between two breaths of the page. */
const PORTION_SECONDS = 1;

/** Loudness over slices, the peak over every sample. `breathe` is awaited now and then, so that keys are answered. */
export async function measureCue(
  channels: readonly Float32Array[],
  sampleRateHz: number,
  breathe: () => Promise<void>,
): Promise<CueMeasured> {
  const frames = channels[0]?.length ?? 0;
  const columns = new Float32Array(Math.ceil((frames / sampleRateHz) * CUE_COLUMNS_A_SECOND));
  const loudness = new LoudnessMeter(sampleRateHz, channels.length, null);
  const truePeak = new TruePeakMeter(sampleRateHz, channels.length);
  let samplePeak = 0;
  const portion = Math.round(PORTION_SECONDS * sampleRateHz);
  const heard = slicesOf(frames / sampleRateHz);
  for (let from = 0; from < frames; from += portion) {
    const block = channels.map((samples) => samples.subarray(from, from + portion));
    samplePeak = Math.max(samplePeak, fillColumns(columns, block, from, sampleRateHz));
    if (heard(from / sampleRateHz)) {
      loudness.push(block);
      truePeak.push(block);
      await breathe();
    }
  }
  const { integratedLufs, momentaryMaxLufs } = loudness.finish();
  const between = truePeak.finish();
  const ofSamples = samplePeak > 0 ? 20 * Math.log10(samplePeak) : null;
  const whole = frames / sampleRateHz <= HEARD_SECONDS;
  const outside = ofSamples === null || whole ? ofSamples : ofSamples + BETWEEN_SAMPLES_DB;
  const truePeakDbtp = outside === null ? null : Math.max(outside, between ?? outside);
  return { levels: { integratedLufs, momentaryMaxLufs, truePeakDbtp }, columns };
}

/** Whether a second is within what is heard. */
function slicesOf(seconds: number): (second: number) => boolean {
  if (seconds <= HEARD_SECONDS) return () => true;
  const every = (seconds / HEARD_SECONDS) * SLICE_SECONDS;
  return (second) => second % every < SLICE_SECONDS;
}

/** The largest absolute value of each column that the block reaches; returns the block's own. */
function fillColumns(
  columns: Float32Array,
  block: readonly Float32Array[],
  from: number,
  sampleRateHz: number,
): number {
  let most = 0;
  for (const samples of block) {
    for (let frame = 0; frame < samples.length; frame++) {
      const size = Math.abs(samples[frame]);
      if (size === 0) continue;
      const column = Math.min(columns.length - 1, Math.floor(((from + frame) / sampleRateHz) * CUE_COLUMNS_A_SECOND));
      if (size > columns[column]) columns[column] = size;
      if (size > most) most = size;
    }
  }
  return most;
}
