/**
 * Take, click and cue laid on one clock: what the score says, made to sound, live or rendered.
 *
 * All times are worked out beforehand (`shared/placing.ts`) and given to the audio clock, so nothing depends on when a
 * timer wakes. A change crosses over at a moment given; what goes on unchanged goes on to the sample.
 */
import {
  type CueToPlace,
  clockAt,
  type Passage,
  type Placing,
  passageFrom,
  type Score,
  type ScoreClock,
  scoreAt,
} from '../../../shared/placing.ts';
import { FADE_SECONDS, type PartSource, type Playable, Voice } from '../voice.ts';
import type { Bus } from './bus.ts';
import type { ClickSounds } from './click.ts';

export interface CueSound extends CueToPlace {
  buffer: AudioBuffer;
}

/** What is heard in the bars of `placing`. */
export interface Scene {
  placing: Placing;
  score: Score;
  take: Playable | null;
  cue: CueSound | null;
}

export interface TracksNeed {
  bus: Bus;
  clicks: ClickSounds;
  parts: PartSource;
  failed: (problem: unknown) => void;
  moved: () => void;
}

interface Event {
  at: number;
  begin: () => void;
}

interface Laid {
  at: number;
  until: number;
  source: AudioBufferSourceNode;
  /** null for a click, which is short enough to be left to end. */
  envelope: GainNode | null;
}

/** A click later than this would be counted wrong. */
const LATEST_CLICK_SECONDS = 0.02;

export class Tracks {
  private readonly need: TracksNeed;
  private scene: Scene | null = null;
  private clock: ScoreClock | null = null;
  private passage = 0;
  private events: Event[] = [];
  private voices: Voice[] = [];
  private laid: Laid[] = [];

  constructor(need: TracksNeed) {
    this.need = need;
  }

  /** From context time `at` on, `scene` by `clock`; crosses over from what was laid before. */
  change(scene: Scene, clock: ScoreClock, at: number): void {
    this.silence(at);
    const score = scoreAt(clock, at);
    this.scene = scene;
    this.clock = clock;
    this.passage = Math.max(0, Math.floor((at - clock.originSeconds) / (clock.endSeconds - clock.startSeconds)));
    if (score !== null) this.addPassage(score);
  }

  /** Lays all that begins before this context time. */
  lay(until: number): void {
    const now = this.need.bus.context.currentTime;
    this.voices = this.voices.filter((voice) => !voice.isOver(now));
    this.laid = this.laid.filter((laid) => laid.until > now);
    for (;;) {
      while (this.events.length > 0 && this.events[0].at < until) this.events.shift()?.begin();
      const { clock } = this;
      if (!clock?.loop || clockAt(clock, clock.startSeconds, this.passage + 1) >= until) break;
      this.passage++;
      this.addPassage(clock.startSeconds);
    }
    for (const voice of this.voices) voice.lay(until);
  }

  /** Everything fades away at this context time. */
  end(at: number): void {
    this.silence(at);
    this.scene = null;
    this.clock = null;
  }

  /** Score time at a context time; null where nothing runs. */
  scoreAt(at: number): number | null {
    return this.clock && scoreAt(this.clock, at);
  }

  setTakeGain(gainDb: number): void {
    for (const voice of this.voices) voice.setGain(gainDb);
  }

  private silence(at: number): void {
    this.events = [];
    for (const voice of this.voices) voice.end(at);
    for (const { at: begun, until, source, envelope } of this.laid) {
      if (begun >= at) source.stop();
      else if (envelope && until > at) {
        const present = Math.max(0, Math.min(1, (at - begun) / FADE_SECONDS, (until - at) / FADE_SECONDS));
        envelope.gain.cancelScheduledValues(at);
        envelope.gain.linearRampToValueAtTime(present, at);
        envelope.gain.linearRampToValueAtTime(0, at + FADE_SECONDS);
        source.stop(at + FADE_SECONDS + 0.002);
      }
    }
    this.laid = this.laid.filter((laid) => laid.at < at && !laid.envelope);
  }

  private addPassage(from: number): void {
    const { scene, clock, passage } = this;
    if (!scene || !clock) return;
    const when = (score: number): number => clockAt(clock, score, passage);
    const { take, cue, clicks }: Passage = passageFrom(scene.placing, scene.score, scene.cue, from);
    const events: Event[] = clicks.map(({ scoreSeconds, downbeat }) => ({
      at: when(scoreSeconds),
      begin: () => this.click(when(scoreSeconds), downbeat),
    }));
    const { take: sound } = scene;
    if (take && sound) {
      const at = when(take.scoreSeconds);
      events.push({ at, begin: () => this.beginTake(sound, at, take.fromSeconds, scene.placing.rate) });
    }
    if (cue && scene.cue) {
      const { buffer } = scene.cue;
      const at = when(cue.scoreSeconds);
      events.push({ at, begin: () => this.beginCue(buffer, at, cue.fromSeconds, cue.lengthSeconds) });
    }
    this.events.push(...events.sort((a, b) => a.at - b.at));
  }

  private beginTake(sound: Playable, at: number, from: number, rate: number): void {
    const { bus, parts, failed, moved } = this.need;
    const voice = new Voice({ context: bus.context, into: bus.takes, parts, failed, moved }, sound);
    voice.begin(at, from, { rate, loop: false, onTime: true });
    this.voices.push(voice);
  }

  private click(at: number, downbeat: boolean): void {
    const { bus, clicks } = this.need;
    const late = bus.context.currentTime - at;
    if (late > LATEST_CLICK_SECONDS) return;
    const buffer = downbeat ? clicks.downbeat : clicks.beat;
    const source = new AudioBufferSourceNode(bus.context, { buffer });
    source.connect(bus.click);
    source.start(Math.max(0, at));
    this.laid.push({ at, until: at + buffer.duration, source, envelope: null });
  }

  private beginCue(buffer: AudioBuffer, due: number, from: number, length: number): void {
    const { context, cue } = this.need.bus;
    const late = Math.max(0, context.currentTime - due);
    const [at, left] = [due + late, length - late];
    if (left <= 2 * FADE_SECONDS) return;
    const source = new AudioBufferSourceNode(context, { buffer });
    const envelope = new GainNode(context, { gain: 0 });
    envelope.gain.setValueAtTime(0, at);
    envelope.gain.linearRampToValueAtTime(1, at + FADE_SECONDS);
    // It goes on for a fade's length into what follows (the next turn of a loop), and the two cross.
    envelope.gain.setValueAtTime(1, at + left);
    envelope.gain.linearRampToValueAtTime(0, at + left + FADE_SECONDS);
    source.connect(envelope).connect(cue);
    source.start(at, from + late, left + FADE_SECONDS);
    source.onended = () => envelope.disconnect();
    this.laid.push({ at, until: at + left + FADE_SECONDS, source, envelope });
  }
}
