/** Cuts a recording into takes: where markers say so first, else where the sound falls back into the room's own noise. */
import type { Envelope } from '../../shared/measure/envelope.ts';
import { decibels, powerOf, quantile, RunningMean } from '../../shared/measure/running.ts';
import type { Decibels, Seconds } from '../../shared/sound.ts';
import type { Marker } from './audio-stream.ts';

export interface SplitOptions {
  /** A pause shorter than this stays inside a take. */
  leastGapSeconds: Seconds;
  /** A take this short is a click or a knock, and is left out. */
  leastTakeSeconds: Seconds;
  /** Kept before a take's first audible moment. */
  preRollSeconds: Seconds;
  /** A take begins where the level passes the room's noise by this much. */
  startAboveFloorDb: Decibels;
}

export const SPLIT_DEFAULTS: SplitOptions = {
  leastGapSeconds: 1,
  leastTakeSeconds: 0.03,
  preRollSeconds: 0.02,
  startAboveFloorDb: 10,
};

export interface Region {
  startFrame: number;
  /** Exclusive. */
  endFrame: number;
  label: string | null;
  note: string | null;
  reason: 'marker' | 'silence' | 'whole';
}

export function splitTakes(
  envelope: Envelope,
  markers: readonly Marker[],
  totalFrames: number,
  options: Partial<SplitOptions> = {},
): Region[] {
  const marked = markers.filter((m) => m.lengthFrames !== null && m.lengthFrames > 0 && m.startFrame < totalFrames);
  if (marked.length > 0) {
    return marked.map((m) => ({
      startFrame: m.startFrame,
      endFrame: Math.min(totalFrames, m.startFrame + (m.lengthFrames ?? 0)),
      label: m.label,
      note: m.note,
      reason: 'marker',
    }));
  }
  const { leastGapSeconds, leastTakeSeconds, preRollSeconds, startAboveFloorDb } = { ...SPLIT_DEFAULTS, ...options };
  const hop = envelope.hopSeconds;
  const width = Math.max(1, Math.round(0.02 / hop));
  const levels = new RunningMean(envelope.levelDb.map(powerOf)).thinned(width).map(decibels);
  const whole: Region = { startFrame: 0, endFrame: totalFrames, label: null, note: null, reason: 'whole' };
  if (levels.length === 0) return [whole];
  const floor = quantile(levels, 0.1);
  const stretches: { from: number; to: number }[] = [];
  for (let i = 0; i < levels.length; i++) {
    if (levels[i] < floor + startAboveFloorDb) continue;
    let from = i;
    while (from > 0 && levels[from - 1] > floor + 3) from--;
    while (i < levels.length && levels[i] > floor + 3) i++;
    const previous = stretches[stretches.length - 1];
    if (previous && (from - previous.to) * width * hop < leastGapSeconds) previous.to = i;
    else stretches.push({ from, to: i });
  }
  const takes = stretches.filter(({ from, to }) => (to - from) * width * hop >= leastTakeSeconds);
  if (takes.length < 2) return [whole];
  const preRoll = Math.round(preRollSeconds * envelope.sampleRateHz);
  return takes.map(({ from, to }) => ({
    startFrame: Math.max(0, from * width * envelope.hopFrames - preRoll),
    endFrame: Math.min(totalFrames, to * width * envelope.hopFrames),
    label: null,
    note: null,
    reason: 'silence',
  }));
}
