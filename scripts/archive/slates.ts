/**
 * Spoken slates: somebody says what comes ("gong low, take four"), waits a moment, and plays. A slate belongs to the take
 * after it, though silence parts the two, and what is measured of the take is measured after it.
 */
import type { Envelope } from '../../shared/measure/envelope.ts';
import { Resampler, type Steepness } from '../../shared/measure/resample.ts';
import { decibels, quantile, RunningMean } from '../../shared/measure/running.ts';
import { isSpeech, levelTraits, mayBeWord, type Stretch } from '../../shared/measure/speech.ts';
import { SPEECH_HOP_SECONDS, SPEECH_RATE_HZ, VoiceFrames } from '../../shared/measure/speech-frames.ts';
import type { Decibels, Seconds } from '../../shared/sound.ts';
import type { AudioBlock, FrameRange } from './audio-stream.ts';
import type { Region } from './split.ts';

export interface Slate {
  /** Where the last word ends. */
  endFrame: number;
  /** In the pause after it: from here on the take is measured. */
  resumeFrame: number;
}

export interface SlatedRegion extends Region {
  slate: Slate | null;
}

/** Gives frames of the file as one channel at SPEECH_RATE_HZ. */
export type ReadVoice = (range: FrameRange) => Promise<Float32Array>;

const SHORTEST_SLATE_SECONDS: Seconds = 0.5;
const LONGEST_SLATE_SECONDS: Seconds = 6;
/** Silence between the slate and what is played; shorter ones lie within words. */
const SHORTEST_PAUSE_SECONDS: Seconds = 0.15;
const LONGEST_PAUSE_SECONDS: Seconds = 4;
/** So much is looked at of what comes after a pause, to tell whether the voice goes on. */
const NEXT_WORD_SECONDS: Seconds = 1.5;
/** A word at least this long must rise for at least such a share of the time in which its level moves. */
const LONG_WORD_SECONDS: Seconds = 0.3;
const LEAST_RISE = 0.15;
const LONGEST_WORD_END_SECONDS: Seconds = 0.25;
const LONGEST_STOP_SECONDS: Seconds = 0.3;
const QUIETER_DB: Decibels = 6;
/** Within a sentence nobody pauses longer without meaning to. */
const PAUSE_IN_SPEECH_SECONDS: Seconds = 0.5;
/** Room noise before the first word, at most. */
const LONGEST_LEAD_SECONDS: Seconds = 20;

/** The regions in order of time, each with the slate before its sound; a slate that was cut off is joined to its take. */
export async function withSlates(
  regions: readonly Region[],
  envelope: Envelope,
  totalFrames: number,
  read: ReadVoice,
): Promise<SlatedRegion[]> {
  const levels = voiceLevels(envelope);
  const slated: SlatedRegion[] = [];
  for (let i = 0; i < regions.length; i++) {
    const region = regions[i];
    const free = region.reason !== 'person';
    const end = free ? totalFrames : region.endFrame;
    const found = await findSlate(levels, { startFrame: region.startFrame, endFrame: end }, region.endFrame, read);
    const owner = found === null ? i : ownerOf(found.nextFrame, regions, i);
    if (found === null || owner === null) {
      slated.push({ ...region, slate: null });
      continue;
    }
    const { startFrame } = region;
    const last = regions[owner];
    const label = last.label ?? region.label;
    const note = last.note ?? region.note;
    slated.push({ ...last, startFrame, label, note, slate: found.slate });
    i = owner;
  }
  return slated;
}

/** Which region the sound after a slate lies in, from `first` on; null where it is in none, or in one with set bounds. */
function ownerOf(frame: number, regions: readonly Region[], first: number): number | null {
  const owner = regions.findIndex(({ endFrame }, i) => i >= first && endFrame > frame);
  if (owner === first) return owner;
  const between = regions.slice(first, owner + 1);
  return owner > first && between.every(({ reason }) => reason !== 'person') ? owner : null;
}

/** Level where a voice is (above 250 Hz), every SPEECH_HOP_SECONDS. */
interface VoiceLevels {
  levelDb: Float64Array;
  stepFrames: number;
  sampleRateHz: number;
}

function voiceLevels({ midPower, highPower, hopSeconds, hopFrames, sampleRateHz }: Envelope): VoiceLevels {
  const hops = Math.max(1, Math.round(SPEECH_HOP_SECONDS / hopSeconds));
  const power = midPower.map((middle, i) => middle + highPower[i]);
  return {
    levelDb: new RunningMean(power).thinned(hops).map(decibels),
    stepFrames: hops * hopFrames,
    sampleRateHz,
  };
}

/** Something heard, in steps of the levels; end exclusive. */
interface Burst {
  from: number;
  to: number;
}

interface FoundSlate {
  slate: Slate;
  /** Where the sound after it begins. */
  nextFrame: number;
}

/** The slate at the beginning of `range`; its first word must begin before `ownEndFrame`. */
async function findSlate(
  levels: VoiceLevels,
  range: FrameRange,
  ownEndFrame: number,
  read: ReadVoice,
): Promise<FoundSlate | null> {
  const { levelDb, stepFrames } = levels;
  const steps = (seconds: Seconds): number => Math.round((seconds * levels.sampleRateHz) / stepFrames);
  const from = Math.floor(range.startFrame / stepFrames);
  const to = Math.min(levelDb.length, Math.floor(range.endFrame / stepFrames));
  const bursts = burstsIn(levelDb, from, to, steps);
  if (bursts.length < 2 || bursts[0].from * stepFrames >= ownEndFrame) return null;
  const first = bursts[0].from;
  const ends = bursts.slice(0, -1).flatMap((burst, i): number[] => {
    const pause = bursts[i + 1].from - burst.to;
    const length = burst.to - first;
    const fits =
      length >= steps(SHORTEST_SLATE_SECONDS) &&
      length <= steps(LONGEST_SLATE_SECONDS) &&
      pause >= steps(SHORTEST_PAUSE_SECONDS) &&
      pause <= steps(LONGEST_PAUSE_SECONDS);
    return fits && movesAsSpeech(levelDb.subarray(first, burst.to)) ? [i] : [];
  });
  if (ends.length === 0) return null;
  const voiceWithin = async (start: number, stop: number): Promise<VoiceFrames> =>
    new VoiceFrames(await read({ startFrame: start * stepFrames, endFrame: Math.min(to, stop) * stepFrames }));
  const voice = await voiceWithin(first, bursts[ends[ends.length - 1]].to + steps(ROOM_SECONDS));
  const roomDb = roomLevel(voice, bursts);
  const end = endOfSpeech(voice, roomDb, bursts, ends, steps);
  if (end === null) return null;
  const { to: last } = bursts[end];
  const { from: next } = bursts[end + 1];
  const after = await voiceWithin(next, next + steps(NEXT_WORD_SECONDS));
  if (isSpeech({ voice: after, from: 0, to: after.count, roomDb })) return null;
  // A voice's last echo lies in the pause's first half.
  const resume = last + Math.min((next - last) >> 1, steps(LONGEST_ECHO_SECONDS));
  return {
    slate: { endFrame: last * stepFrames, resumeFrame: resume * stepFrames },
    nextFrame: next * stepFrames,
  };
}

const LONGEST_ECHO_SECONDS: Seconds = 0.5;
/** So much of the last pause is looked at, for the room's level. */
const ROOM_SECONDS: Seconds = 0.5;

/** Cheap, and true of all speech: without it no audio is looked at. */
function movesAsSpeech(levelDb: Float64Array): boolean {
  const top = levelDb.reduce((most, level) => Math.max(most, level), -200);
  const { syllablesASecond, risingShare } = levelTraits(levelDb.map((level) => Math.max(level, top - 35)));
  return syllablesASecond >= 1 && syllablesASecond <= 9 && risingShare >= 0.15 && risingShare <= 0.65;
}

/**
 * The burst that ends the slate. Where several might (there are pauses between words, too), it is the last after which no
 * voice goes on: a word soon after a shorter pause, or more speech, goes on.
 */
function endOfSpeech(
  voice: VoiceFrames,
  roomDb: Decibels,
  bursts: readonly Burst[],
  ends: readonly number[],
  steps: (seconds: Seconds) => number,
): number | null {
  const origin = bursts[0].from;
  const stretch = (from: number, to: number): Stretch => ({
    voice,
    from: from - origin,
    to: Math.min(voice.count, to - origin),
    roomDb,
  });
  const topOf = (from: number, to: number): Decibels =>
    voice.levelDb.subarray(from - origin, to - origin).reduce((most, level) => Math.max(most, level), -200);
  const pauseAfter = (end: number): number => bursts[end + 1].from - bursts[end].to;
  let chosen: number | null = null;
  for (const end of ends) {
    if (!swellsLikeWords(voice, bursts, end, steps) || !isSpeech(stretch(origin, bursts[end].to))) continue;
    if (chosen !== null) {
      const { from } = bursts[chosen + 1];
      const { to } = bursts[end];
      const added = stretch(from, to);
      // "Six", "take": what comes of a word's end after its stop has no voice in it.
      const isWordEnd =
        to - from <= steps(LONGEST_WORD_END_SECONDS) &&
        pauseAfter(chosen) <= steps(LONGEST_STOP_SECONDS) &&
        pauseAfter(end) > pauseAfter(chosen) &&
        topOf(from, to) <= topOf(origin, bursts[chosen].to) - QUIETER_DB;
      const goesOn =
        isWordEnd ||
        isSpeech(added) ||
        (mayBeWord(added) &&
          (pauseAfter(chosen) < steps(PAUSE_IN_SPEECH_SECONDS) || pauseAfter(end) > pauseAfter(chosen)));
      if (!goesOn) continue;
    }
    chosen = end;
  }
  return chosen;
}

/** No word jumps up at once and dies away from there, as what is struck does. */
function swellsLikeWords(
  voice: VoiceFrames,
  bursts: readonly Burst[],
  end: number,
  steps: (seconds: Seconds) => number,
): boolean {
  const origin = bursts[0].from;
  return bursts
    .slice(0, end + 1)
    .filter(({ from, to }) => to - from >= steps(LONG_WORD_SECONDS))
    .every(({ from, to }) => levelTraits(voice.levelDb.subarray(from - origin, to - origin)).risingShare >= LEAST_RISE);
}

/** The room's level: the median over the pauses that `voice`, which begins with the first burst, holds. */
function roomLevel({ levelDb }: VoiceFrames, bursts: readonly Burst[]): Decibels {
  const origin = bursts[0].from;
  const heard = bursts
    .slice(1)
    .flatMap(({ from }, i) => Array.from(levelDb.subarray(bursts[i].to - origin, from - origin)));
  return heard.length === 0 ? -120 : quantile(heard, 0.5);
}

/** Levels this far above the quietest tenth of a second are heard. */
const HEARD_DB: Decibels = 8;
/** ... and go on down to this, over so many steps. */
const DYING_DB: Decibels = 3;
const DYING_STEPS = 5;
const QUIETEST_ROOM_DBFS: Decibels = -80;
const REST_SECONDS: Seconds = 0.1;

/** What is heard from `from` on, with pauses of SHORTEST_PAUSE_SECONDS between, until no slate could go on. */
function burstsIn(levelDb: Float64Array, from: number, to: number, steps: (seconds: Seconds) => number): Burst[] {
  const rest = steps(REST_SECONDS);
  const window = steps(LONGEST_SLATE_SECONDS + LONGEST_PAUSE_SECONDS + NEXT_WORD_SECONDS);
  const lead = Math.min(to, from + steps(LONGEST_LEAD_SECONDS));
  const running = new RunningMean(levelDb.subarray(from, Math.min(to, lead + window)).map((level) => level + 200));
  const quietest = (start: number, end: number): Decibels => {
    let level = 0;
    for (let i = start; i + rest <= end; i++) {
      const here = running.mean(i, i + rest) - 200;
      if (i === start || here < level) level = here;
    }
    return Math.max(QUIETEST_ROOM_DBFS, level);
  };
  let limit = quietest(0, running.length) + HEARD_DB;
  let first = from;
  while (first < lead && levelDb[first] < limit) first++;
  const end = Math.min(to, first + window);
  limit = quietest(Math.max(0, first - from - rest * 3), end - from) + HEARD_DB;
  const bursts: Burst[] = [];
  for (let i = first; i < end; i++) {
    if (levelDb[i] < limit) continue;
    const last = bursts[bursts.length - 1];
    if (last && i - last.to < steps(SHORTEST_PAUSE_SECONDS)) last.to = i + 1;
    else bursts.push({ from: i, to: i + 1 });
  }
  // A word dies into the room more quietly than a click counts.
  const quiet = limit - HEARD_DB + DYING_DB + 200;
  for (const [i, burst] of bursts.entries()) {
    const stop = bursts[i + 1]?.from ?? end;
    const mean = (at: number): number => running.mean(at - from, at - from + DYING_STEPS);
    while (burst.to + DYING_STEPS < stop && mean(burst.to) > quiet) burst.to++;
  }
  return bursts;
}

/** All channels as one, at SPEECH_RATE_HZ. Broken numbers of float files count as silence. */
export async function asVoice(
  blocks: Iterable<AudioBlock> | AsyncIterable<AudioBlock>,
  sampleRateHz: number,
): Promise<Float32Array> {
  const resampler = new Resampler(1, sampleRateHz, SPEECH_RATE_HZ, FOR_TELLING_SPEECH);
  const parts: Float32Array[] = [];
  for await (const [first, ...others] of blocks) {
    const sum = first.slice();
    for (const channel of others) for (let i = 0; i < sum.length; i++) sum[i] += channel[i];
    for (let i = 0; i < sum.length; i++) sum[i] = Math.abs(sum[i]) < LARGEST_SAMPLE ? sum[i] / (others.length + 1) : 0;
    parts.push(...resampler.push([sum]));
  }
  parts.push(...resampler.finish());
  const whole = new Float32Array(parts.reduce((frames, part) => frames + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

const LARGEST_SAMPLE = 1e6;
/** What folds back does so above 3.2 kHz, where a voice's shape is hardly looked at. */
const FOR_TELLING_SPEECH: Steepness = { rejectionDb: 60, passShare: 0.4 };
