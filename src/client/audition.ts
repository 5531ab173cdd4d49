/**
 * Playing a sound: without clicks, at one loudness, at any varispeed, in a loop, however many parts its preview has.
 *
 * A voice is a row of segments laid end to end a little ahead of time. Every segment fades in and out; where one
 * follows another (the next part of a long sound, the next turn of a loop) the two cross. Changing speed or loop
 * begins a new segment at the present place, crossing over from the old one.
 */
import { buildOutput, type Output, toGain } from './output.ts';
import type { DecodedPart, Previews } from './previews.ts';

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

export interface AuditionEvents {
  /** `playing` turned true or false. */
  changed: (playing: boolean) => void;
  /** Something a person should know, as a sentence. */
  failed: (sentence: string) => void;
}

const FADE_SECONDS = 0.005;
/** How far ahead segments are laid; more than a background tab's timer of one second. */
const AHEAD_SECONDS = 1.2;
const PUMP_MILLISECONDS = 60;
const SHORTEST_LOOP_SECONDS = 0.03;
/** A browser that may play and has an output starts its clock well within this. */
const PATIENCE_MILLISECONDS = 1500;
const NO_OUTPUT =
  'Nothing can be heard: this browser has no sound output, or may not play yet. Check the output, then press Space.';

interface Segment {
  /** Context time at which it begins, and the place in the sound it begins from. */
  at: number;
  from: number;
  /** Context time at which it ends. */
  until: number;
  fadeSeconds: number;
  rate: number;
  source: AudioBufferSourceNode;
  envelope: GainNode;
}

interface Voice {
  sound: Playable;
  gain: GainNode;
  /** How much the preview was raised. */
  raisedDb: number;
  segments: Segment[];
  /** Where the next segment begins, in context time and in the sound; null when nothing follows. */
  next: { at: number; from: number } | null;
  /** True while the next part is being loaded. */
  waiting: boolean;
}

export class Audition {
  private readonly previews: Previews;
  private readonly events: AuditionEvents;
  private context: AudioContext | null = null;
  private output: Output | null = null;
  private voice: Voice | null = null;
  private timer = 0;
  private turn = 0;
  private rate = 1;
  private loop = false;

  constructor(previews: Previews, events: AuditionEvents) {
    this.previews = previews;
    this.events = events;
  }

  /** Call from a key or click: browsers let sound begin only then. */
  wake(): void {
    if (!this.context) {
      this.context = new AudioContext({ latencyHint: 'interactive' });
      this.output = buildOutput(this.context);
    }
    if (this.context.state === 'suspended') void this.context.resume();
  }

  get awake(): boolean {
    return this.context?.state === 'running';
  }

  get analyser(): AnalyserNode | null {
    return this.output?.analyser ?? null;
  }

  get playing(): boolean {
    return this.voice !== null;
  }

  /** Place in the sound that plays now; null when nothing does. */
  get positionSeconds(): number | null {
    if (!this.voice || !this.context) return null;
    const now = this.context.currentTime;
    const begun = this.voice.segments.filter((segment) => segment.at <= now).at(-1) ?? this.voice.segments[0];
    if (!begun) return null;
    return Math.min(this.voice.sound.durationSeconds, begun.from + Math.max(0, now - begun.at) * begun.rate);
  }

  /** Plays from a place in the sound; whatever played before fades away. */
  async play(sound: Playable, fromSeconds = 0): Promise<void> {
    const turn = ++this.turn;
    this.wake();
    const { context, output } = this;
    if (!context || !output) return;
    this.release();
    try {
      const first = await this.partAt(sound, fromSeconds);
      if (turn !== this.turn) return;
      const gain = new GainNode(context, { gain: toGain(sound.gainDb - first.gainDb) });
      gain.connect(output.input);
      const at = context.currentTime + 0.01;
      this.voice = {
        sound,
        gain,
        raisedDb: first.gainDb,
        segments: [],
        next: { at, from: fromSeconds },
        waiting: false,
      };
      this.lay(this.voice, first);
      this.timer = window.setInterval(() => this.pump(), PUMP_MILLISECONDS);
      this.pump();
      this.events.changed(true);
      window.setTimeout(() => this.checkOutput(turn), PATIENCE_MILLISECONDS);
    } catch (problem) {
      if (turn === this.turn) this.events.failed(sentence(problem));
    }
  }

  stop(): void {
    this.turn++;
    if (!this.voice) return;
    this.release();
    this.events.changed(false);
  }

  setSpeed(semitones: number): void {
    const rate = 2 ** (semitones / 12);
    if (rate === this.rate) return;
    this.rate = rate;
    this.begin(this.positionSeconds);
  }

  setLoop(loop: boolean): void {
    if (loop === this.loop) return;
    this.loop = loop;
    this.begin(this.positionSeconds);
  }

  /** Changes the level of what plays, over some 60 ms. */
  setGain(gainDb: number): void {
    const { voice, context } = this;
    if (voice && context) voice.gain.gain.setTargetAtTime(toGain(gainDb - voice.raisedDb), context.currentTime, 0.02);
  }

  private checkOutput(turn: number): void {
    if (turn !== this.turn || !this.voice || this.context?.state === 'running') return;
    this.stop();
    this.events.failed(NO_OUTPUT);
  }

  /** A new row of segments from this place, crossing over from the present one. */
  private begin(fromSeconds: number | null): void {
    const { voice, context } = this;
    if (!voice || !context || fromSeconds === null) return;
    const now = context.currentTime;
    for (const segment of voice.segments) fadeAway(segment, now);
    voice.segments = [];
    voice.next = { at: now, from: fromSeconds };
    this.pump();
  }

  private release(): void {
    window.clearInterval(this.timer);
    const { voice, context } = this;
    this.voice = null;
    if (!voice || !context) return;
    for (const segment of voice.segments) fadeAway(segment, context.currentTime);
  }

  /** Lays segments until enough lies ahead; ends the voice when its last segment is over. */
  private pump(): void {
    const { voice, context } = this;
    if (!voice || !context) return;
    const now = context.currentTime;
    voice.segments = voice.segments.filter(
      (segment, index) => segment.until > now || index === voice.segments.length - 1,
    );
    while (voice.next && !voice.waiting && voice.next.at < now + AHEAD_SECONDS) {
      const part = this.knownPartAt(voice.sound, voice.next.from);
      if (part) this.lay(voice, part);
      else void this.layWhenLoaded(voice, voice.next.from);
    }
    if (!voice.next && voice.segments.every((segment) => segment.until <= now)) {
      this.release();
      this.events.changed(false);
    }
  }

  private async layWhenLoaded(voice: Voice, from: number): Promise<void> {
    voice.waiting = true;
    try {
      const part = await this.partAt(voice.sound, from);
      if (voice === this.voice) this.lay(voice, part);
    } catch (problem) {
      voice.next = null;
      if (voice === this.voice) this.events.failed(sentence(problem));
    }
    voice.waiting = false;
    if (voice === this.voice) this.pump();
  }

  private lay(voice: Voice, part: DecodedPart): void {
    const { context, rate } = this;
    if (!context || !voice.next) return;
    const { sound } = voice;
    const from = Math.max(voice.next.from, part.startSeconds);
    const at = Math.max(voice.next.at, context.currentTime);
    const partEnd = part.startSeconds + part.durationSeconds;
    const wantedEnd =
      this.loop && from < sound.loopEndSeconds && sound.loopEndSeconds - sound.loopStartSeconds > SHORTEST_LOOP_SECONDS
        ? sound.loopEndSeconds
        : sound.durationSeconds;
    const end = Math.min(partEnd, wantedEnd);
    const length = Math.max(0, end - from);
    const until = at + length / rate;
    const fade = Math.max(1e-6, Math.min(FADE_SECONDS, length / rate / 2));

    const source = new AudioBufferSourceNode(context, { buffer: part.buffer, playbackRate: rate });
    const envelope = new GainNode(context, { gain: 0 });
    envelope.gain.setValueAtTime(0, at);
    envelope.gain.linearRampToValueAtTime(1, at + fade);
    envelope.gain.setValueAtTime(1, Math.max(at + fade, until - fade));
    envelope.gain.linearRampToValueAtTime(0, until);
    source.connect(envelope).connect(voice.gain);
    source.start(at, from - part.startSeconds, length);
    source.onended = () => {
      envelope.disconnect();
      if (voice === this.voice) this.pump();
    };
    voice.segments.push({ at, from, until, fadeSeconds: fade, rate, source, envelope });

    // A decoded part may end a little before the sound is said to: within a fade of the end is the end.
    const goesOn = end < wantedEnd - FADE_SECONDS && length > 2 * FADE_SECONDS;
    if (goesOn) voice.next = { at: until - fade, from: end - fade * rate };
    else if (this.loop && wantedEnd - sound.loopStartSeconds > SHORTEST_LOOP_SECONDS) {
      voice.next = { at: until - fade, from: sound.loopStartSeconds };
    } else voice.next = null;
  }

  /** The last decoded part that reaches past this place. */
  private knownPartAt(sound: Playable, seconds: number): DecodedPart | null {
    for (let part = sound.parts - 1; part >= 0; part--) {
      const known = this.previews.peek(sound.id, part);
      if (known && known.startSeconds <= seconds && reachesPast(known, seconds)) return known;
    }
    return null;
  }

  /** Parts are about equally long: the first tells where to look, and a step or two puts it right. */
  private async partAt(sound: Playable, seconds: number): Promise<DecodedPart> {
    let index = Math.min(sound.parts - 1, Math.floor((seconds / Math.max(sound.durationSeconds, 1e-6)) * sound.parts));
    for (let step = 0; step < sound.parts; step++) {
      const part = await this.previews.part(sound.id, index);
      if (seconds < part.startSeconds && index > 0) index--;
      else if (!reachesPast(part, seconds) && index < sound.parts - 1) index++;
      else return part;
    }
    return this.previews.part(sound.id, index);
  }
}

/** True when the part still has something to play at this place: more than a fade's length. */
const reachesPast = (part: DecodedPart, seconds: number): boolean =>
  seconds < part.startSeconds + part.durationSeconds - 3 * FADE_SECONDS;

function fadeAway({ at, until, fadeSeconds, source, envelope }: Segment, now: number): void {
  if (at > now) {
    source.stop();
    return;
  }
  // Worked out rather than read: not every browser's `gain.value` follows its ramps.
  const present = Math.max(0, Math.min(1, (now - at) / fadeSeconds, (until - now) / fadeSeconds));
  envelope.gain.cancelScheduledValues(now);
  envelope.gain.setValueAtTime(present, now);
  envelope.gain.linearRampToValueAtTime(0, now + FADE_SECONDS);
  source.stop(now + FADE_SECONDS + 0.002);
}

function sentence(problem: unknown): string {
  return problem instanceof Error ? problem.message : String(problem);
}
