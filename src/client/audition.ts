/**
 * Playing a sound by itself: without clicks, at one loudness, at any varispeed, in a loop, however many parts its preview
 * has. Changing speed or loop goes on from the present place; another sound may take over at its own place.
 */
import type { Previews } from './previews.ts';
import { NO_OUTPUT, type Speakers } from './speakers.ts';
import { type Playable, partAt, Voice } from './voice.ts';

export interface AuditionEvents {
  /** `playing` turned true or false. */
  changed: (playing: boolean) => void;
  /** Something a person should know, as a sentence. */
  failed: (sentence: string) => void;
}

/** How far ahead segments are laid; more than a background tab's timer of one second. */
export const AHEAD_SECONDS = 1.2;
export const PUMP_MILLISECONDS = 60;
/** From now until what is laid can begin on time. */
const LEAD_SECONDS = 0.01;

export class Audition {
  private readonly speakers: Speakers;
  private readonly previews: Previews;
  private readonly events: AuditionEvents;
  private voice: Voice | null = null;
  private timer = 0;
  private turn = 0;
  private rate = 1;
  private loop = false;

  constructor(speakers: Speakers, previews: Previews, events: AuditionEvents) {
    this.speakers = speakers;
    this.previews = previews;
    this.events = events;
  }

  get playing(): boolean {
    return this.voice !== null;
  }

  /** Place in the sound that plays now; null when nothing does. */
  get positionSeconds(): number | null {
    return this.voice?.positionAt(this.now) ?? null;
  }

  /** Plays from a place in the sound; whatever played before fades away. */
  async play(sound: Playable, fromSeconds = 0): Promise<void> {
    const turn = ++this.turn;
    this.speakers.open();
    this.release();
    await this.start(sound, turn, () => fromSeconds);
  }

  /** Another sound takes over from what plays, at the place that `placeOf` makes of the present one. */
  async crossTo(sound: Playable, placeOf: (seconds: number) => number): Promise<void> {
    const turn = ++this.turn;
    const last = this.positionSeconds ?? 0;
    await this.start(sound, turn, () => placeOf(this.voice?.positionAt(this.now + LEAD_SECONDS) ?? last));
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
    this.goOn();
  }

  setLoop(loop: boolean): void {
    if (loop === this.loop) return;
    this.loop = loop;
    this.goOn();
  }

  /** Changes the level of what plays, over some 60 ms. */
  setGain(gainDb: number): void {
    this.voice?.setGain(gainDb);
  }

  private get now(): number {
    return this.speakers.present?.context.currentTime ?? 0;
  }

  /** `placeNow` is asked once the sound is there to be played. */
  private async start(sound: Playable, turn: number, placeNow: () => number): Promise<void> {
    const { context, bus } = this.speakers.open();
    try {
      await partAt(this.previews, sound, placeNow());
      if (turn !== this.turn) return;
      const from = placeNow();
      const at = context.currentTime + LEAD_SECONDS;
      this.release(at);
      this.voice = new Voice(
        {
          context,
          into: bus.takes,
          parts: this.previews,
          failed: (problem) => this.events.failed(sentence(problem)),
          moved: () => this.pump(),
        },
        sound,
      );
      this.voice.begin(at, from, { rate: this.rate, loop: this.loop, onTime: false });
      this.timer = window.setInterval(() => this.pump(), PUMP_MILLISECONDS);
      this.pump();
      this.events.changed(true);
      this.speakers.checkLater(
        () => turn !== this.turn || !this.voice,
        () => {
          this.stop();
          this.events.failed(NO_OUTPUT);
        },
      );
    } catch (problem) {
      if (turn === this.turn) this.events.failed(sentence(problem));
    }
  }

  /** A new row of segments from the present place, crossing over from the old one. */
  private goOn(): void {
    const from = this.positionSeconds;
    if (!this.voice || from === null) return;
    this.voice.begin(this.now, from, { rate: this.rate, loop: this.loop, onTime: false });
    this.pump();
  }

  private release(at = this.now): void {
    window.clearInterval(this.timer);
    const { voice } = this;
    this.voice = null;
    voice?.end(at);
  }

  /** Lays segments until enough lies ahead; ends the voice when its last segment is over. */
  private pump(): void {
    const { voice } = this;
    if (!voice) return;
    voice.lay(this.now + AHEAD_SECONDS);
    if (!voice.isOver(this.now)) return;
    this.release();
    this.events.changed(false);
  }
}

export function sentence(problem: unknown): string {
  return problem instanceof Error ? problem.message : String(problem);
}
