/** The click: a short struck tone, higher on the downbeat, soft beside the take whatever the level set. */
import { LoudnessMeter } from '../../../shared/measure/loudness.ts';
import { matchLoudness } from '../output.ts';

export interface ClickSounds {
  downbeat: AudioBuffer;
  beat: AudioBuffer;
  /** Loudest 400 ms and peak of the louder of the two. */
  loudnessLufs: number;
  peakDbtp: number;
}

const DOWNBEAT_HZ = 1568;
const BEAT_HZ = 1046.5;
const RING_SECONDS = 0.012;
const LENGTH_SECONDS = 0.06;
/** From nothing to full: quick enough to mark a time, slow enough not to crack. */
const RISE_SECONDS = 0.0005;
/** Under the level set: a click is to be counted by, not listened to. */
const UNDER_TARGET_DB = 9;

/** exp(−t / ring) · sin, let in by a raised cosine and brought to nothing at its end; peak about 0.9. */
export function clickSamples(hertz: number, sampleRateHz: number): Float32Array<ArrayBuffer> {
  const frames = Math.ceil(LENGTH_SECONDS * sampleRateHz);
  return Float32Array.from({ length: frames }, (_, frame) => {
    const seconds = frame / sampleRateHz;
    const rise = seconds < RISE_SECONDS ? 0.5 - 0.5 * Math.cos((Math.PI * seconds) / RISE_SECONDS) : 1;
    const rest = 1 - frame / frames;
    return rise * rest * Math.exp(-seconds / RING_SECONDS) * Math.cos(2 * Math.PI * hertz * seconds);
  });
}

export function makeClicks(context: BaseAudioContext): ClickSounds {
  const { sampleRate } = context;
  const [high, low] = [DOWNBEAT_HZ, BEAT_HZ].map((hertz) => clickSamples(hertz, sampleRate));
  const meter = new LoudnessMeter(sampleRate, 1, null);
  meter.push([high]);
  const peak = high.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
  return {
    downbeat: bufferOf(high, sampleRate),
    beat: bufferOf(low, sampleRate),
    loudnessLufs: meter.finish().momentaryMaxLufs ?? 0,
    peakDbtp: 20 * Math.log10(Math.max(peak, 1e-6)),
  };
}

export function clickGainDb(
  { loudnessLufs, peakDbtp }: Pick<ClickSounds, 'loudnessLufs' | 'peakDbtp'>,
  targetLufs: number,
): number {
  const levels = { integratedLufs: loudnessLufs, momentaryMaxLufs: loudnessLufs, truePeakDbtp: peakDbtp };
  return matchLoudness(levels, targetLufs - UNDER_TARGET_DB).gainDb;
}

function bufferOf(samples: Float32Array<ArrayBuffer>, sampleRate: number): AudioBuffer {
  const buffer = new AudioBuffer({ length: samples.length, sampleRate });
  buffer.copyToChannel(samples, 0);
  return buffer;
}
