/** Cuts a recording into takes: where markers say so first, else where the sound falls back into the room's own noise. */
import type { Envelope } from '../../shared/measure/envelope.ts';
import type { Decibels, Seconds } from '../../shared/sound.ts';
import type { FrameRange, Marker } from './audio-stream.ts';
import { type MarkedTake, markedTakes } from './marked-takes.ts';
import { soundsIn } from './sounds.ts';
import { type SplitSettings, USUAL_SPLIT } from './split-settings.ts';

export interface SplitOptions extends SplitSettings {
  /** A take opens where the level passes the room's noise by this much in some band; it starts where it first left it. */
  startAboveRoomDb: Decibels;
  /** Kept before a take's first audible moment, and after its tail has met the room's noise. */
  preRollSeconds: Seconds;
  postRollSeconds: Seconds;
  /** Loops that the file's sampler data marks; markers on their ends mark no take. */
  loops: readonly FrameRange[];
}

export const SPLIT_DEFAULTS: SplitOptions = {
  ...USUAL_SPLIT,
  startAboveRoomDb: 9,
  preRollSeconds: 0.02,
  postRollSeconds: 0.1,
  loops: [],
};

export interface Region {
  startFrame: number;
  /** Exclusive. */
  endFrame: number;
  label: string | null;
  note: string | null;
  reason: 'marker' | 'silence' | 'whole' | 'person';
}

/**
 * The takes of a file in order of time. Marked takes come as they are marked; sounds that no marker covers are cut by
 * silence. A file with one sound in it, with none, or with no silence anywhere is one region: the whole file.
 */
export function splitTakes(
  envelope: Envelope,
  markers: readonly Marker[],
  totalFrames: number,
  options: Partial<SplitOptions> = {},
): Region[] {
  const complete = { ...SPLIT_DEFAULTS, ...options };
  const whole: Region = { startFrame: 0, endFrame: totalFrames, label: null, note: null, reason: 'whole' };
  if (complete.by === 'whole') return [whole];
  const sounds = soundsIn(envelope, complete).map(({ from, to }) => ({
    startFrame: from * envelope.hopFrames,
    endFrame: Math.min(totalFrames, to * envelope.hopFrames),
  }));
  const marked =
    complete.by === 'silence' ? [] : markedTakes(markers, complete.loops, sounds, totalFrames, envelope.sampleRateHz);
  const least = complete.leastTakeSeconds * envelope.sampleRateHz;
  const unmarked =
    complete.by === 'markers' ? [] : sounds.filter(({ startFrame, endFrame }) => endFrame - startFrame >= least);
  if (marked.length === 0 && (sounds.length <= 1 || unmarked.length === 0)) return [whole];
  const preRoll = Math.round(complete.preRollSeconds * envelope.sampleRateHz);
  const postRoll = Math.round(complete.postRollSeconds * envelope.sampleRateHz);
  const rest = unmarked
    .flatMap((sound) => uncovered(sound, marked))
    .map((sound, i, all) => ({
      startFrame: Math.max(all[i - 1]?.endFrame ?? 0, sound.startFrame - preRoll, 0),
      endFrame: Math.min(all[i + 1]?.startFrame ?? totalFrames, sound.endFrame + postRoll),
      label: null,
      note: null,
      reason: 'silence' as const,
    }));
  return [...marked.map((take) => ({ ...take, reason: 'marker' as const })), ...rest].sort(
    (a, b) => a.startFrame - b.startFrame || a.endFrame - b.endFrame,
  );
}

/** The sound, or what markers leave of it; nothing where they cover half of it or more. */
function uncovered(sound: FrameRange, marked: readonly MarkedTake[]): FrameRange[] {
  let { startFrame, endFrame } = sound;
  const length = endFrame - startFrame;
  for (const take of marked) {
    if (take.endFrame <= startFrame || take.startFrame >= endFrame) continue;
    if (take.startFrame - startFrame > endFrame - take.endFrame) endFrame = Math.min(endFrame, take.startFrame);
    else startFrame = Math.max(startFrame, take.endFrame);
  }
  return endFrame - startFrame > length / 2 ? [{ startFrame, endFrame }] : [];
}
