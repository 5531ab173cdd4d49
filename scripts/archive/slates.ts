/**
 * Spoken slates: somebody says what comes ("gong low, take four"), waits a moment, and plays. A slate belongs to the take
 * after it, though silence parts the two, and what is measured of the take is measured after it.
 */
import type { Envelope } from '../../shared/measure/envelope.ts';
import { Resampler, type Steepness } from '../../shared/measure/resample.ts';
import { decibels, powerOf, quantile, RunningMean } from '../../shared/measure/running.ts';
import {
  isSpeech,
  levelTraits,
  mayBeWord,
  type SpeechTraits,
  type Stretch,
  speechTraits,
} from '../../shared/measure/speech.ts';
import { SPEECH_HOP_SECONDS, SPEECH_RATE_HZ, VoiceFrames } from '../../shared/measure/speech-frames.ts';
import type { Decibels, Seconds } from '../../shared/sound.ts';
import type { AudioBlock, FrameRange } from './audio-stream.ts';
import { alternating, isOneVoice, type SlateCandidate, slatesAmong, type Voice } from './slate-evidence.ts';
import type { Region } from './split.ts';
import type { SlateMeans } from './split-settings.ts';

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

/**
 * The regions in order of time, each with the slate before its sound; a slate that was cut off is joined to its take. A
 * slate lies within one region, and its take in the same one or the next. `means`: see split-settings.ts.
 */
export async function withSlates(
  regions: readonly Region[],
  envelope: Envelope,
  totalFrames: number,
  read: ReadVoice,
  means: SlateMeans = 'recurring',
): Promise<SlatedRegion[]> {
  const levels = voiceLevels(envelope);
  const lookIn = async (i: number, hearing: Hearing): Promise<Candidate[]> => {
    const { startFrame, endFrame, reason } = regions[i];
    const end = reason === 'person' ? endFrame : totalFrames;
    const found = await findSlate(levels, { startFrame, endFrame: end }, endFrame, read, hearing);
    const owner = found === null ? null : ownerOf(found.nextFrame, regions, i);
    if (found === null || owner === null) return [];
    return [{ ...found, region: i, owner, ...comparedWithTake(found, regions[owner], envelope) }];
  };
  const candidates: Candidate[] = [];
  for (let i = 0; i < regions.length && means !== 'none'; i++) candidates.push(...(await lookIn(i, AS_SPEECH)));
  if (means === 'any') return joinedToTakes(regions, alternating(candidates));
  const found = slatesAmong(candidates, regions.length);
  if (found === null) return joinedToTakes(regions, []);
  // Who has been heard to say what comes is recognised in fewer words.
  const isTaken = new Set(found.slates.flatMap(({ region, owner }) => [region, owner]));
  for (let i = 0; i < regions.length && regions.length > 2; i++) {
    if (isTaken.has(i)) continue;
    for (const slate of await lookIn(i, asVoiceOf(found.voice))) {
      const isFree = !isTaken.has(slate.owner) && isOneVoice(slate.voice, found.voice);
      if (!isFree) continue;
      found.slates.push(slate);
      isTaken.add(slate.region).add(slate.owner);
    }
  }
  return joinedToTakes(regions, found.slates);
}

type Candidate = SlateCandidate & FoundSlate;

function joinedToTakes(regions: readonly Region[], slates: readonly Candidate[]): SlatedRegion[] {
  const found = new Map(slates.map((slate) => [slate.region, slate]));
  const slated: SlatedRegion[] = [];
  for (let i = 0; i < regions.length; i++) {
    const before = found.get(i);
    if (before === undefined) {
      slated.push({ ...regions[i], slate: null });
      continue;
    }
    const last = regions[before.owner];
    const label = last.label ?? regions[i].label;
    const note = last.note ?? regions[i].note;
    slated.push({ ...last, startFrame: regions[i].startFrame, label, note, slate: before.slate });
    i = before.owner;
  }
  return slated;
}

/** Which region the sound after a slate in region `first` lies in: the same, or the next; null where it is further off. */
function ownerOf(frame: number, regions: readonly Region[], first: number): number | null {
  const owner = regions.findIndex(({ endFrame }, i) => i >= first && endFrame > frame);
  if (owner === first) return owner;
  const areFree = regions.slice(first, first + 2).every(({ reason }) => reason !== 'person');
  return owner === first + 1 && areFree ? owner : null;
}

/** Levels of speech and take are compared as means over this. */
const LOUDEST_SECONDS: Seconds = 0.05;

function comparedWithTake(
  { slate, nextFrame, startFrame }: FoundSlate,
  take: Region,
  { levelDb, hopFrames, hopSeconds }: Envelope,
): Pick<SlateCandidate, 'louderDb' | 'longerBy'> {
  const hops = Math.max(1, Math.round(LOUDEST_SECONDS / hopSeconds));
  const loudest = (from: number, to: number): Decibels => {
    const power = levelDb.subarray(Math.floor(from / hopFrames), Math.ceil(to / hopFrames)).map(powerOf);
    const running = new RunningMean(power).thinned(hops);
    return decibels(running.reduce((most, level) => Math.max(most, level), 0));
  };
  const end = Math.max(take.endFrame, nextFrame + hopFrames);
  return {
    louderDb: loudest(startFrame, slate.endFrame) - loudest(nextFrame, end),
    longerBy: (slate.endFrame - startFrame) / (end - nextFrame),
  };
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
  /** Where the first word begins. */
  startFrame: number;
  /** Where the sound after it begins. */
  nextFrame: number;
  traits: SpeechTraits;
  voice: Voice;
  seconds: Seconds;
}

interface Hearing {
  /** What counts as a voice. */
  isVoice: (stretch: Stretch) => boolean;
  /** Whether speech after the pause is the same that goes on, so that there is no slate. */
  goesOn: (next: Voice) => boolean;
}
const AS_SPEECH: Hearing = { isVoice: isSpeech, goesOn: () => true };
const asVoiceOf = (speaker: Voice): Hearing => ({
  isVoice: mayBeWord,
  goesOn: (next) => isOneVoice(next, speaker),
});

function voiceIn(stretch: Stretch, traits = speechTraits(stretch)): Voice {
  const levels = stretch.voice.levelDb.subarray(stretch.from, stretch.to);
  return { loudestDb: levels.reduce((most, level) => Math.max(most, level), -200), pitchHz: traits.medianPitchHz };
}

/** What may be a slate at the beginning of `range`; its last word must end before `ownEndFrame`. */
async function findSlate(
  levels: VoiceLevels,
  range: FrameRange,
  ownEndFrame: number,
  read: ReadVoice,
  hearing: Hearing,
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
      (burst.to - steps(DYING_SECONDS)) * stepFrames < ownEndFrame &&
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
  const end = endOfSpeech(voice, roomDb, bursts, ends, steps, hearing);
  if (end === null) return null;
  const { to: last } = bursts[end];
  const { from: next } = bursts[end + 1];
  const after = await voiceWithin(next, next + steps(NEXT_WORD_SECONDS));
  const following = { voice: after, from: 0, to: after.count, roomDb };
  if (isSpeech(following) && hearing.goesOn(voiceIn(following))) return null;
  // A voice's last echo lies in the pause's first half.
  const resume = last + Math.min((next - last) >> 1, steps(LONGEST_ECHO_SECONDS));
  const speech = { voice, from: 0, to: Math.min(voice.count, last - first), roomDb };
  const traits = speechTraits(speech);
  return {
    slate: { endFrame: last * stepFrames, resumeFrame: resume * stepFrames },
    startFrame: first * stepFrames,
    nextFrame: next * stepFrames,
    traits,
    voice: voiceIn(speech, traits),
    seconds: (last - first) * SPEECH_HOP_SECONDS,
  };
}

/** The split may call the end of a word silence before it has died away. */
const DYING_SECONDS: Seconds = 0.2;

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
  { isVoice }: Hearing,
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
    if (!swellsLikeWords(voice, bursts, end, steps) || !isVoice(stretch(origin, bursts[end].to))) continue;
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
