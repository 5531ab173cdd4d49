/**
 * One sound sounding: a row of segments laid end to end a little ahead of time, on any clock, live or rendered.
 *
 * Every segment fades in and out; where one follows another (the next part of a long sound, the next turn of a loop) the
 * two cross. Beginning anew (another speed, another place) crosses over from whatever was laid before.
 */
import { toGain } from './output.ts';
import type { DecodedPart } from './previews.ts';

export interface Playable {
  id: string;
  parts: number;
  durationSeconds: number;
  /** What a loop turns over: the sounding part. */
  loopStartSeconds: number;
  loopEndSeconds: number;
  /** Against the recording's own level. */
  gainDb: number;
}

/** Where decoded parts come from. */
export interface PartSource {
  part: (id: string, part: number) => Promise<DecodedPart>;
  /** The part if it is decoded already. */
  peek: (id: string, part: number) => DecodedPart | null;
}

export interface VoicePlace {
  context: BaseAudioContext;
  into: AudioNode;
  parts: PartSource;
  /** A part that cannot be had: the voice ends there. */
  failed: (problem: unknown) => void;
  /** Something changed that may call for laying more. */
  moved: () => void;
}

export interface Manner {
  rate: number;
  loop: boolean;
  /** What comes too late (its part had to be loaded) is skipped, so that the rest stays on time; else it waits. */
  onTime: boolean;
}

export const FADE_SECONDS = 0.005;
/** A recording's own beginning is let in quicker: a strike may stand right there. */
const HEAD_FADE_SECONDS = 0.001;
const SHORTEST_LOOP_SECONDS = 0.03;

interface Segment {
  /** Context time at which it begins, and the place in the sound it begins from. */
  at: number;
  from: number;
  /** Context time at which it ends. */
  until: number;
  fadeIn: number;
  fadeOut: number;
  rate: number;
  source: AudioBufferSourceNode;
  envelope: GainNode;
}

export class Voice {
  readonly sound: Playable;
  private readonly place: VoicePlace;
  private readonly gain: GainNode;
  private gainDb: number;
  /** How much the preview was raised; known with its first part. */
  private raisedDb: number | null = null;
  private segments: Segment[] = [];
  /** Where the next segment begins, in context time and in the sound; null when nothing follows. */
  private next: { at: number; from: number } | null = null;
  private manner: Manner = { rate: 1, loop: false, onTime: false };
  /** True while the next part is being loaded. */
  private waiting = false;
  private fading = false;

  constructor(place: VoicePlace, sound: Playable) {
    this.place = place;
    this.sound = sound;
    this.gainDb = sound.gainDb;
    this.gain = new GainNode(place.context, { gain: 0 });
    this.gain.connect(place.into);
  }

  /** From `at` on plays from this place in the sound, crossing over from what was laid. `lay` makes it so. */
  begin(at: number, from: number, manner: Manner): void {
    this.silence(at);
    this.segments = [];
    this.manner = manner;
    this.next = { at, from };
  }

  /** Lays segments until this context time; parts that are not there are loaded and laid when they come. */
  lay(until: number): void {
    const now = this.place.context.currentTime;
    this.segments = this.segments.filter((segment, index) => segment.until > now || index === this.segments.length - 1);
    while (this.next && !this.waiting && this.next.at < until) {
      const part = knownPartAt(this.place.parts, this.sound, this.next.from);
      if (part) this.laySegment(part);
      else void this.layWhenLoaded(this.next.from);
    }
  }

  /** Fades away at this context time; nothing is laid any more. */
  end(at: number): void {
    if (this.fading) return;
    this.silence(at);
    this.next = null;
    this.fading = true;
  }

  /** True once nothing of it is heard or to come. */
  isOver(now: number): boolean {
    return !this.next && !this.waiting && this.segments.every((segment) => segment.until <= now);
  }

  /** Place in the sound at a context time. */
  positionAt(now: number): number | null {
    const begun = this.segments.filter((segment) => segment.at <= now).at(-1) ?? this.segments[0];
    if (!begun) return this.next?.from ?? null;
    return Math.min(this.sound.durationSeconds, begun.from + Math.max(0, now - begun.at) * begun.rate);
  }

  /** Changes the level, over some 60 ms. */
  setGain(gainDb: number): void {
    this.gainDb = gainDb;
    if (this.raisedDb !== null)
      this.gain.gain.setTargetAtTime(toGain(gainDb - this.raisedDb), this.place.context.currentTime, 0.02);
  }

  private silence(at: number): void {
    for (const segment of this.segments) fadeAway(segment, at);
  }

  private async layWhenLoaded(from: number): Promise<void> {
    this.waiting = true;
    try {
      const part = await partAt(this.place.parts, this.sound, from);
      if (this.next?.from === from) this.laySegment(part);
    } catch (problem) {
      this.next = null;
      if (!this.fading) this.place.failed(problem);
    }
    this.waiting = false;
    this.place.moved();
  }

  private laySegment(part: DecodedPart): void {
    const { context } = this.place;
    const { rate, loop, onTime } = this.manner;
    const { sound } = this;
    if (!this.next) return;
    if (this.raisedDb === null) {
      this.raisedDb = part.gainDb;
      this.gain.gain.value = toGain(this.gainDb - part.gainDb);
    }
    const late = Math.max(0, context.currentTime - this.next.at);
    const from = Math.max(this.next.from + (onTime ? late * rate : 0), part.startSeconds);
    const at = this.next.at + late;
    const partEnd = part.startSeconds + part.durationSeconds;
    const wantedEnd =
      loop && from < sound.loopEndSeconds && sound.loopEndSeconds - sound.loopStartSeconds > SHORTEST_LOOP_SECONDS
        ? sound.loopEndSeconds
        : sound.durationSeconds;
    const end = Math.min(partEnd, wantedEnd);
    const length = Math.max(0, end - from);
    const until = at + length / rate;
    const fadeOut = Math.max(1e-6, Math.min(FADE_SECONDS, length / rate / 2));
    const fadeIn = from > 0 ? fadeOut : Math.min(HEAD_FADE_SECONDS, fadeOut);

    const source = new AudioBufferSourceNode(context, { buffer: part.buffer, playbackRate: rate });
    const envelope = new GainNode(context, { gain: 0 });
    envelope.gain.setValueAtTime(0, at);
    envelope.gain.linearRampToValueAtTime(1, at + fadeIn);
    envelope.gain.setValueAtTime(1, Math.max(at + fadeIn, until - fadeOut));
    envelope.gain.linearRampToValueAtTime(0, until);
    source.connect(envelope).connect(this.gain);
    source.start(at, from - part.startSeconds, length);
    source.onended = () => {
      envelope.disconnect();
      if (this.isOver(context.currentTime)) this.gain.disconnect();
      this.place.moved();
    };
    this.segments.push({ at, from, until, fadeIn, fadeOut, rate, source, envelope });

    // A decoded part may end a little before the sound is said to: within a fade of the end is the end.
    const goesOn = end < wantedEnd - FADE_SECONDS && length > 2 * FADE_SECONDS;
    if (goesOn) this.next = { at: until - fadeOut, from: end - fadeOut * rate };
    else if (loop && wantedEnd - sound.loopStartSeconds > SHORTEST_LOOP_SECONDS) {
      this.next = { at: until - fadeOut, from: sound.loopStartSeconds };
    } else this.next = null;
  }
}

/** The last decoded part that reaches past this place. */
function knownPartAt(parts: PartSource, sound: Playable, seconds: number): DecodedPart | null {
  for (let part = sound.parts - 1; part >= 0; part--) {
    const known = parts.peek(sound.id, part);
    if (known && known.startSeconds <= seconds && reachesPast(known, seconds)) return known;
  }
  return null;
}

/** Parts are about equally long: the first tells where to look, and a step or two puts it right. */
export async function partAt(parts: PartSource, sound: Playable, seconds: number): Promise<DecodedPart> {
  let index = Math.min(sound.parts - 1, Math.floor((seconds / Math.max(sound.durationSeconds, 1e-6)) * sound.parts));
  for (let step = 0; step < sound.parts; step++) {
    const part = await parts.part(sound.id, index);
    if (seconds < part.startSeconds && index > 0) index--;
    else if (!reachesPast(part, seconds) && index < sound.parts - 1) index++;
    else return part;
  }
  return parts.part(sound.id, index);
}

/** True when the part still has something to play at this place: more than a fade's length. */
const reachesPast = (part: DecodedPart, seconds: number): boolean =>
  seconds < part.startSeconds + part.durationSeconds - 3 * FADE_SECONDS;

function fadeAway({ at, until, fadeIn, fadeOut, source, envelope }: Segment, when: number): void {
  if (at >= when) {
    source.stop();
    return;
  }
  if (until <= when) return;
  // Worked out rather than read: not every browser's `gain.value` follows its ramps. Ramped to, as the ramp that stood
  // there is taken away with all that follows.
  const present = Math.max(0, Math.min(1, (when - at) / fadeIn, (until - when) / fadeOut));
  envelope.gain.cancelScheduledValues(when);
  envelope.gain.linearRampToValueAtTime(present, when);
  envelope.gain.linearRampToValueAtTime(0, when + FADE_SECONDS);
  source.stop(when + FADE_SECONDS + 0.002);
}
