/**
 * The level of a recording of any length, and its takes, in bounded memory. A recording of up to LONGEST_SOUND_SECONDS is
 * looked at as a whole. A longer one is looked at in chapters no longer than that, each cut off where its last minutes
 * are quietest: so no sound is longer, and what is measured of one has a bound.
 */
import { type Envelope, EnvelopeFollower, hopFramesAt, SILENCE_DBFS } from '../../shared/measure/envelope.ts';
import { decibels, powerOf, RunningMean } from '../../shared/measure/running.ts';
import type { Seconds } from '../../shared/sound.ts';
import type { AudioBlock, FrameRange, Marker } from './audio-stream.ts';
import { type Region, type SplitOptions, splitTakes } from './split.ts';

export const LONGEST_SOUND_SECONDS: Seconds = 3600;
/** A chapter is cut off within so much of its end, in the middle of the quietest QUIET_SECONDS there. */
const CUT_WITHIN_SECONDS: Seconds = 600;
const QUIET_SECONDS: Seconds = 1;
/** So many steps of a chapter's envelope become one in the envelope that is kept of a recording of several. */
const THINNED_STEPS = 10;

export interface Chapter {
  startFrame: number;
  envelope: Envelope;
}

interface Following {
  follower: EnvelopeFollower;
  /** Frame of the recording that it began with. */
  startFrame: number;
}

/** Feed it the whole recording block by block, then call `finish` once. */
export class ChapterFollower {
  readonly #sampleRateHz: number;
  readonly #channels: number;
  readonly #onChapter: (chapter: Chapter) => void;
  /** A whole number of thinned steps, as all that is cut off by. */
  readonly #longestFrames: number;
  readonly #cutWithinFrames: number;
  readonly #thinned: Envelope[] = [];
  #chapterStart = 0;
  #current: Following;
  /** What may come after the cut is followed from before it on, so that nothing is read twice. */
  #next: Following | null = null;
  #frames = 0;

  /** `onChapter` gets each chapter once, in order, and must not keep its envelope. */
  constructor(
    sampleRateHz: number,
    channels: number,
    onChapter: (chapter: Chapter) => void,
    longestSeconds: Seconds = LONGEST_SOUND_SECONDS,
  ) {
    this.#sampleRateHz = sampleRateHz;
    this.#channels = channels;
    this.#onChapter = onChapter;
    const unit = hopFramesAt(sampleRateHz) * THINNED_STEPS;
    const whole = (seconds: Seconds): number => Math.max(1, Math.floor((seconds * sampleRateHz) / unit)) * unit;
    this.#longestFrames = whole(longestSeconds);
    this.#cutWithinFrames = whole(Math.min(CUT_WITHIN_SECONDS, longestSeconds / 2));
    this.#current = this.#follow();
  }

  push(block: AudioBlock): void {
    const length = block[0]?.length ?? 0;
    for (let from = 0; from < length; ) {
      if (this.#frames === this.#chapterStart + this.#longestFrames) this.#cut();
      const nextStart = this.#chapterStart + this.#longestFrames - this.#cutWithinFrames;
      if (this.#frames === nextStart) this.#next = this.#follow();
      const boundary = this.#frames < nextStart ? nextStart : this.#chapterStart + this.#longestFrames;
      const size = Math.min(length - from, boundary - this.#frames);
      const part = block.map((samples) => samples.subarray(from, from + size));
      this.#current.follower.push(part);
      this.#next?.follower.push(part);
      this.#frames += size;
      from += size;
    }
  }

  /** The envelope of the whole recording, in longer steps where it had several chapters; and how many it had. */
  finish(): { envelope: Envelope; chapters: number } {
    const last = this.#chapterOf(this.#current);
    this.#onChapter({ startFrame: this.#chapterStart, envelope: last });
    if (this.#thinned.length === 0) return { envelope: last, chapters: 1 };
    this.#thinned.push(thinned(last));
    return { envelope: joined(this.#thinned), chapters: this.#thinned.length };
  }

  #follow(): Following {
    return { follower: new EnvelopeFollower(this.#sampleRateHz, this.#channels), startFrame: this.#frames };
  }

  #cut(): void {
    const whole = this.#chapterOf(this.#current);
    const steps = quietestStep(whole, this.#cutWithinFrames / whole.hopFrames);
    const chapter = partOf(whole, 0, steps);
    this.#onChapter({ startFrame: this.#chapterStart, envelope: chapter });
    this.#thinned.push(thinned(chapter));
    this.#chapterStart += steps * whole.hopFrames;
    this.#current = this.#next ?? this.#follow();
    this.#next = null;
  }

  /** What a follower saw from the chapter's start on. */
  #chapterOf({ follower, startFrame }: Following): Envelope {
    const whole = follower.finish();
    return partOf(whole, (this.#chapterStart - startFrame) / whole.hopFrames, whole.frames);
  }
}

/** Where the quietest QUIET_SECONDS in the last `within` steps have their middle, as a whole number of thinned steps. */
function quietestStep({ levelDb, hopSeconds, frames }: Envelope, within: number): number {
  const first = frames - within;
  const width = Math.min(within, Math.round(QUIET_SECONDS / hopSeconds));
  const running = new RunningMean(levelDb.subarray(first).map(powerOf));
  let quietest = 0;
  for (let i = 0; i + width <= within; i += THINNED_STEPS) {
    if (running.mean(i, i + width) < running.mean(quietest, quietest + width)) quietest = i;
  }
  return first + quietest + Math.floor(width / 2 / THINNED_STEPS) * THINNED_STEPS;
}

/** Steps [from, to), as views; the very last may not be full. */
function partOf(envelope: Envelope, from: number, to: number): Envelope {
  const cut = ofEach(envelope, (values) => values.subarray(from, to));
  const audioFrames = Math.min(envelope.audioFrames, to * envelope.hopFrames) - from * envelope.hopFrames;
  return { ...envelope, ...cut, frames: to - from, audioFrames };
}

function thinned(envelope: Envelope): Envelope {
  const powers = { ...envelope, levelDb: envelope.levelDb.map(powerOf) };
  const thin = ofEach(powers, (power) => Float32Array.from(new RunningMean(power).thinned(THINNED_STEPS)));
  return {
    ...envelope,
    ...thin,
    levelDb: thin.levelDb.map((power) => Math.max(SILENCE_DBFS, decibels(power))),
    hopFrames: envelope.hopFrames * THINNED_STEPS,
    hopSeconds: envelope.hopSeconds * THINNED_STEPS,
    frames: thin.levelDb.length,
  };
}

function joined(parts: readonly Envelope[]): Envelope {
  const total = (count: (part: Envelope) => number): number => parts.reduce((sum, part) => sum + count(part), 0);
  const frames = total((part) => part.frames);
  const [first] = parts;
  const whole = ofEach(first, () => new Float32Array(frames));
  let at = 0;
  for (const part of parts) {
    whole.levelDb.set(part.levelDb, at);
    whole.lowPower.set(part.lowPower, at);
    whole.midPower.set(part.midPower, at);
    whole.highPower.set(part.highPower, at);
    at += part.frames;
  }
  return { ...first, ...whole, frames, audioFrames: total((part) => part.audioFrames) };
}

type Series = Pick<Envelope, 'levelDb' | 'lowPower' | 'midPower' | 'highPower'>;

function ofEach(series: Series, act: (values: Float32Array) => Float32Array): Series {
  return {
    levelDb: act(series.levelDb),
    lowPower: act(series.lowPower),
    midPower: act(series.midPower),
    highPower: act(series.highPower),
  };
}

/** The takes of one chapter, in frames of the recording. */
export function takesOfChapter(
  { startFrame, envelope }: Chapter,
  markers: readonly Marker[],
  options: Partial<SplitOptions>,
): Region[] {
  if (startFrame === 0) return splitTakes(envelope, markers, envelope.audioFrames, options);
  const within = markers.map((marker) => {
    const at = marker.startFrame - startFrame;
    // A marked stretch that began in the chapter before goes on in this one.
    const goesOn = at < 0 && marker.lengthFrames !== null && at + marker.lengthFrames > 0;
    return goesOn
      ? { ...marker, startFrame: 0, lengthFrames: at + (marker.lengthFrames ?? 0) }
      : { ...marker, startFrame: at };
  });
  const loops = (options.loops ?? []).map((loop) => moved(loop, -startFrame));
  const regions = splitTakes(envelope, within, envelope.audioFrames, { ...options, loops });
  return regions.map((region) => moved(region, startFrame));
}

function moved<Range extends FrameRange>(range: Range, frames: number): Range {
  return { ...range, startFrame: range.startFrame + frames, endFrame: range.endFrame + frames };
}

/** Regions that are longer than any sound may be, such as a person may have set, in parts of equal length. */
export function inSounds(regions: readonly Region[], sampleRateHz: number): Region[] {
  return regions.flatMap((region) => {
    const frames = region.endFrame - region.startFrame;
    const parts = Math.max(1, Math.ceil(frames / (LONGEST_SOUND_SECONDS * sampleRateHz)));
    const bound = (part: number): number => region.startFrame + Math.round((frames * part) / parts);
    return Array.from({ length: parts }, (_, part) => ({
      ...region,
      startFrame: bound(part),
      endFrame: bound(part + 1),
    }));
  });
}

/** What a reader of the report is told of a recording that was cut so; null where it was not. */
export function chapterWarning(frames: number, sampleRateHz: number): string | null {
  const hours = frames / sampleRateHz / 3600;
  if (hours * 3600 <= LONGEST_SOUND_SECONDS) return null;
  return (
    `The file is ${hours.toFixed(1)} hours long. It was looked at in stretches of at most an hour, ` +
    'each cut off where its last minutes are quietest; a sound that goes on for longer is shown in parts. ' +
    'To cut it elsewhere, set its takes in the catalogue (splits/) or divide the file.'
  );
}
