/**
 * Puts a session together from any short sounds, over a room's noise, with pauses and (if wanted) spoken slates that are
 * known, and counts what the split makes of it.
 */
import { asVoice, type SlatedRegion, withSlates } from '../../scripts/archive/slates.ts';
import { splitTakes } from '../../scripts/archive/split.ts';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import type { Random } from '../measure/random.ts';
import { roomNoise, rootMeanSquare } from '../measure/sources.ts';

export interface ShortSound {
  name: string;
  samples: Float32Array;
}

export interface Assembly {
  rate: number;
  takes: number;
  /** Takes are drawn from these, as far as possible each once. */
  sounds: readonly ShortSound[];
  /** One after the other says what comes; null: nobody speaks. */
  voices: readonly ShortSound[] | null;
  /** The room's noise, repeated without a seam; null: one is made. */
  room: ShortSound | null;
  roomDbfs: number;
  takePeakDbfs: readonly [number, number];
  pauseSeconds: readonly [number, number];
  /** Between a slate and its take. */
  slatePauseSeconds: readonly [number, number];
}

/** What is heard above the room, in frames; end exclusive. */
interface Heard {
  from: number;
  to: number;
  longestPause: number;
}

export interface LaidTake {
  name: string;
  laidFrame: number;
  audibleFrame: number;
  endFrame: number;
  slate: { startFrame: number; endFrame: number } | null;
}

export interface AssembledSession {
  rate: number;
  samples: Float32Array;
  takes: LaidTake[];
}

/** Pauses within a sound that are as long as this may part takes: such a sound is not drawn. */
const LONGEST_INNER_PAUSE_SECONDS = 0.3;
const SHORTEST_HEARD_SECONDS = 0.05;

export function assembleSession(random: Random, assembly: Assembly): AssembledSession {
  const { rate, sounds, voices, roomDbfs, pauseSeconds } = assembly;
  const room = 10 ** (roomDbfs / 20);
  const frames = (seconds: number): number => Math.round(seconds * rate);
  const parts: { samples: Float32Array; gain: number; frame: number }[] = [];
  const takes: LaidTake[] = [];
  const voiceGain = 10 ** (random.between(-20, -6) / 20);
  const slatePause = random.between(...assembly.slatePauseSeconds);
  let end = frames(random.between(1, 2));
  const drawn = shuffled(random, sounds);
  for (const { name, samples } of drawn) {
    if (takes.length === assembly.takes) break;
    const gain = 10 ** (random.between(...assembly.takePeakDbfs) / 20) / peakOf(samples);
    const heard = heardAbove(room / gain, samples, rate);
    if (heard.to - heard.from < frames(SHORTEST_HEARD_SECONDS)) continue;
    if (heard.longestPause >= frames(LONGEST_INNER_PAUSE_SECONDS)) continue;
    let slate: LaidTake['slate'] = null;
    if (voices) {
      const voice = voices[takes.length % voices.length].samples;
      const said = voiceGain / peakOf(voice);
      const spoken = heardAbove(room / said, voice, rate);
      slate = { startFrame: end, endFrame: end + spoken.to - spoken.from };
      parts.push({ samples: voice.subarray(spoken.from, spoken.to), gain: said, frame: end });
      end = slate.endFrame + frames(slatePause * random.between(0.8, 1.25));
    }
    parts.push({ samples, gain, frame: end });
    takes.push({ name, laidFrame: end, audibleFrame: end + heard.from, endFrame: end + heard.to, slate });
    end += heard.to + frames(random.between(...pauseSeconds));
  }
  const mix = assembly.room ? repeated(assembly.room.samples, end, room) : roomNoise(random, end, rate, room);
  for (const { samples, gain, frame } of parts) {
    for (let i = 0; i < samples.length && frame + i < end; i++) mix[frame + i] += gain * samples[i];
  }
  return { rate, samples: mix, takes };
}

function shuffled<T>(random: Random, all: readonly T[]): T[] {
  const order = [...all];
  for (let i = order.length - 1; i > 0; i--) {
    const j = random.whole(0, i);
    [order[i], order[j]] = [order[j], order[i]];
  }
  return order;
}

const peakOf = (samples: Float32Array): number => samples.reduce((most, x) => Math.max(most, Math.abs(x)), 1e-9);

/** Means over 10 ms that are louder than `level`. */
function heardAbove(level: number, samples: Float32Array, rate: number): Heard {
  const step = Math.round(rate * 0.01);
  let from = samples.length;
  let to = 0;
  let longestPause = 0;
  for (let i = 0; i < samples.length; i += step) {
    if (rootMeanSquare(samples, i, Math.min(samples.length, i + step)) < level) continue;
    if (to > 0) longestPause = Math.max(longestPause, i - to);
    else from = i;
    to = Math.min(samples.length, i + step);
  }
  return { from: Math.min(from, to), to, longestPause };
}

/** Repeated up to `frames`, each end faded into the next beginning over a tenth of it; RMS as given. */
function repeated(samples: Float32Array, frames: number, level: number): Float32Array {
  const overlap = Math.floor(samples.length / 10);
  const period = samples.length - overlap;
  const scale = level / rootMeanSquare(samples, 0, samples.length);
  return Float32Array.from({ length: frames }, (_, i) => {
    const at = i % period;
    const fade = i >= period && at < overlap ? at / overlap : 1;
    const ending = fade < 1 ? samples[period + at] * Math.sqrt(1 - fade) : 0;
    return scale * (samples[at] * Math.sqrt(fade) + ending);
  });
}

export async function regionsOf({ samples, rate }: AssembledSession): Promise<SlatedRegion[]> {
  const follower = new EnvelopeFollower(rate, 1);
  follower.push([samples]);
  const envelope = follower.finish();
  return withSlates(splitTakes(envelope, [], samples.length), envelope, samples.length, ({ startFrame, endFrame }) =>
    asVoice([[samples.subarray(startFrame, endFrame)]], rate),
  );
}

export interface SessionScore {
  takes: number;
  /** Start within 50 ms, in one region, alone. */
  right: number;
  cut: string[];
  joined: string[];
  missed: string[];
  late: string[];
  slates: number;
  slatesFound: number;
  /** What was set aside though nobody spoke there, or more than was spoken. */
  falseSlates: string[];
}

const TOLERANCE_SECONDS = 0.05;
/** Between where a voice is last louder than the room and where a slate is said to end. */
const SLATE_TOLERANCE_SECONDS = 0.15;

export function scoreSession({ takes, rate }: AssembledSession, regions: readonly SlatedRegion[]): SessionScore {
  const tolerance = TOLERANCE_SECONDS * rate;
  const score: SessionScore = {
    takes: takes.length,
    right: 0,
    cut: [],
    joined: [],
    missed: [],
    late: [],
    slates: takes.filter(({ slate }) => slate !== null).length,
    slatesFound: 0,
    falseSlates: [],
  };
  const startOf = ({ slate, startFrame }: SlatedRegion): number => slate?.resumeFrame ?? startFrame;
  const meets = (region: SlatedRegion, take: LaidTake): boolean =>
    startOf(region) < take.endFrame - tolerance && region.endFrame > take.audibleFrame + tolerance / 2;
  for (const take of takes) {
    const own = regions.filter((region) => meets(region, take));
    const [first] = own;
    const isJoined = own.some((region) => takes.some((other) => other !== take && meets(region, other)));
    const earliest = take.slate === null ? take.laidFrame : Math.min(take.laidFrame, take.slate.endFrame);
    const inTime =
      first !== undefined && startOf(first) >= earliest - tolerance && startOf(first) <= take.audibleFrame + tolerance;
    if (own.length === 0) score.missed.push(take.name);
    else if (own.length > 1) score.cut.push(take.name);
    else if (isJoined) score.joined.push(take.name);
    else if (!inTime) score.late.push(take.name);
    else score.right++;
    const slate = first?.slate;
    if (slate && take.slate && Math.abs(slate.endFrame - take.slate.endFrame) <= SLATE_TOLERANCE_SECONDS * rate) {
      score.slatesFound++;
    }
  }
  for (const { startFrame, slate } of regions) {
    if (slate === null) continue;
    const spoken = takes.some(
      (take) => take.slate && take.slate.startFrame < slate.endFrame && take.slate.endFrame > startFrame,
    );
    const swallowed = takes.filter(
      (take) => take.audibleFrame + tolerance < slate.endFrame && take.endFrame - tolerance > startFrame,
    );
    if (!spoken || swallowed.length > 0) {
      score.falseSlates.push(swallowed.map(({ name }) => name).join(' + ') || `at ${(startFrame / rate).toFixed(1)} s`);
    }
  }
  return score;
}
