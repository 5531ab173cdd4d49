/** The sound in hand played in its bars, live: what the store says becomes a scene, and a change of it crosses over. */
import { barSeconds, type Position, positionAt } from '../../../shared/music.ts';
import { clockFrom, heardTogether, type Placing, placeInTake, placeTake, type Score } from '../../../shared/placing.ts';
import type { MusicalTarget } from '../../../shared/query/musical.ts';
import { AHEAD_SECONDS, type AuditionEvents, PUMP_MILLISECONDS, sentence } from '../audition.ts';
import { CEILING_DB, matchLoudness, toGain } from '../output.ts';
import type { Previews } from '../previews.ts';
import type { Shapes } from '../shapes.ts';
import { NO_OUTPUT, type OpenSpeakers, type Speakers } from '../speakers.ts';
import type { State, Store } from '../state.ts';
import { type Playable, partAt } from '../voice.ts';
import { glide } from './bus.ts';
import { type ClickSounds, clickGainDb, makeClicks } from './click.ts';
import { otherOf } from './settings.ts';
import { type Scene, Tracks } from './tracks.ts';

export interface InPlaceNeed {
  store: Store;
  shapes: Shapes;
  speakers: Speakers;
  previews: Previews;
  target: () => MusicalTarget | null;
  playable: (sound: number) => Playable;
  targetLufs: () => number;
  say: (sentence: string) => void;
  events: AuditionEvents;
}

/** Where the accent goes when the question names no place. */
const USUAL_TARGET: Position = { bar: 2, beat: 1 };
/** From deciding to sounding: long enough for everything to be laid in time. */
const LEAD_SECONDS = 0.05;
const CROSS_LEAD_SECONDS = 0.02;

export class InPlace {
  private readonly need: InPlaceNeed;
  private tracks: Tracks | null = null;
  private clicks: ClickSounds | null = null;
  private timer = 0;
  private turn = 0;
  private runs = false;
  /** What the present scene was made from, to see whether anything of it changed. */
  private signature = '';
  private bar = 0;

  constructor(need: InPlaceNeed) {
    this.need = need;
    const { store, speakers } = need;
    speakers.onOpen((open) => this.furnish(open));
    store.on(['place'], () => this.setLevels());
    store.on(['query', 'speed', 'loop', 'place'], () => this.follow());
    store.on(['pane'], () => {
      if (this.runs && !this.isOn) this.stop();
    });
  }

  /** True where playing now means playing in place. */
  get isOn(): boolean {
    const { place, pane, sound, query } = this.need.store.get();
    return place.inPlace && pane === 'cue' && sound >= 0 && query.tempo !== null;
  }

  get playing(): boolean {
    return this.runs;
  }

  /** Score time heard now; null when nothing plays. */
  get scoreSeconds(): number | null {
    const { present } = this.need.speakers;
    if (!this.runs || !present) return null;
    const { currentTime, outputLatency = 0 } = present.context;
    return this.tracks?.scoreAt(currentTime - outputLatency) ?? null;
  }

  /** Place in the sound in hand; null where it is not heard. */
  get positionSeconds(): number | null {
    const score = this.scoreSeconds;
    const placing = this.placingOf(this.need.store.get().sound);
    return score === null || !placing ? null : placeInTake(placing, score);
  }

  /** By tempo bar and question; null without a tempo. */
  get score(): Score | null {
    const { tempo, metre } = this.need.store.get().query;
    if (!tempo) return null;
    const target = this.need.target();
    const wanted = target?.part === 'accent' ? positionAt(target.seconds, tempo, metre) : USUAL_TARGET;
    return { tempo, metre, target: wanted };
  }

  /** One sound's own place; null without a tempo or a sound. */
  placingOf(sound: number): Placing | null {
    const { score } = this;
    if (sound < 0 || !score) return null;
    const { shapes, store } = this.need;
    const { speed, place } = store.get();
    const sounding = shapes.shelf.value('activeStartSeconds', sound) ?? 0;
    return placeTake(
      {
        durationSeconds: shapes.duration(sound),
        soundingFromSeconds: sounding,
        accentSeconds: shapes.mainAccent(sound)?.seconds ?? sounding,
      },
      score,
      2 ** (speed / 12),
      place.countIn,
    );
  }

  /** The sound in hand in the bars heard: those of the other take too while one goes between the two. */
  get placing(): Placing | null {
    const { sound, pair } = this.need.store.get();
    const own = this.placingOf(sound);
    return own && pair.comparing ? heardTogether(own, this.placingOf(otherOf(pair, sound))) : own;
  }

  /** From a score time, or from the first bar heard. */
  async play(fromScore?: number): Promise<void> {
    const { speakers, events } = this.need;
    const turn = ++this.turn;
    const { context } = speakers.open();
    const scene = this.scene();
    if (!scene || !this.tracks) return;
    const begin = this.within(scene, fromScore ?? scene.placing.startSeconds);
    if (!(await this.loaded(scene, begin, turn))) return;
    this.begin(scene, context.currentTime + LEAD_SECONDS, begin);
    if (!this.runs) {
      this.runs = true;
      this.timer = window.setInterval(() => this.pump(), PUMP_MILLISECONDS);
    }
    events.changed(true);
    speakers.checkLater(
      () => turn !== this.turn || !this.runs,
      () => {
        this.stop();
        events.failed(NO_OUTPUT);
      },
    );
  }

  /** To where this place of the sound in hand is heard. */
  async seek(seconds: number): Promise<void> {
    const placing = this.placingOf(this.need.store.get().sound);
    if (placing) await this.play(placing.clipSeconds + seconds / placing.rate);
  }

  stop(): void {
    this.turn++;
    if (!this.runs) return;
    this.runs = false;
    window.clearInterval(this.timer);
    const { present } = this.need.speakers;
    if (present) this.tracks?.end(present.context.currentTime);
    this.need.events.changed(false);
  }

  /** After another sound came in hand: it takes over where the score stands. */
  async takeOver(): Promise<void> {
    const { present } = this.need.speakers;
    const scene = this.scene();
    if (!this.runs || !present || !scene || !this.tracks) return;
    const turn = ++this.turn;
    const soon = this.tracks.scoreAt(present.context.currentTime);
    if (soon === null || !(await this.loaded(scene, soon, turn))) return;
    const at = present.context.currentTime + CROSS_LEAD_SECONDS;
    const stands = this.tracks.scoreAt(at);
    if (stands === null) return;
    // In another tempo the same bar, and the same share of it.
    const bar = barSeconds(scene.score.tempo, scene.score.metre);
    this.begin(scene, at, this.within(scene, (stands / this.bar) * bar));
  }

  /** By key, whether the pane is open or not. */
  switch(what: 'click' | 'room'): void {
    const { store, say } = this.need;
    const { place } = store.get();
    store.set({ place: { ...place, [what]: !place[what] } });
    if (what === 'room') say(place.room ? 'Room off.' : 'Room on.');
    else say(place.click ? 'Click off.' : 'Click on. It is heard with takes in their bars: q.');
  }

  setLevels(): void {
    const { present } = this.need.speakers;
    if (!present || !this.clicks) return;
    const { context, bus } = present;
    const { place, sound } = this.need.store.get();
    const target = this.need.targetLufs();
    glide(bus.click.gain, place.click ? toGain(clickGainDb(this.clicks, target)) : 0, context);
    glide(bus.cue.gain, cueGain(place, target), context);
    bus.setRoom(place.room ? { amount: place.roomAmount, seconds: place.roomSeconds } : null);
    if (sound >= 0) this.tracks?.setTakeGain(this.need.playable(sound).gainDb);
  }

  private furnish({ context, bus }: OpenSpeakers): void {
    this.clicks = makeClicks(context);
    this.tracks = new Tracks({
      bus,
      clicks: this.clicks,
      parts: this.need.previews,
      failed: (problem) => this.need.events.failed(sentence(problem)),
      moved: () => this.pump(),
    });
    this.setLevels();
  }

  private scene(): Scene | null {
    const { placing, score } = this;
    if (!placing || !score) return null;
    const { sound, place } = this.need.store.get();
    const cue = place.cue && {
      buffer: place.cue.buffer,
      durationSeconds: place.cue.buffer.duration,
      barOneSeconds: place.barOneSeconds,
    };
    return { placing, score, take: this.need.playable(sound), cue };
  }

  private begin(scene: Scene, at: number, fromScore: number): void {
    const { loop } = this.need.store.get();
    this.signature = this.sign();
    this.bar = barSeconds(scene.score.tempo, scene.score.metre);
    this.tracks?.change(scene, clockFrom(scene.placing, loop, at, fromScore), at);
    this.tracks?.lay(at + AHEAD_SECONDS);
  }

  /** Something in the question, the bench or the pane changed: what plays follows, if it concerns it. */
  private follow(): void {
    if (!this.runs) return;
    if (!this.isOn) this.stop();
    else if (this.sign() !== this.signature) void this.takeOver();
  }

  private sign(): string {
    const { speed, loop, place }: State = this.need.store.get();
    const { countIn, barOneSeconds, cue } = place;
    return JSON.stringify([this.score, speed, loop, countIn, cue && [cue.name, cue.buffer.duration, barOneSeconds]]);
  }

  /** False where it came too late or not at all; a failure is told. */
  private async loaded({ take, placing }: Scene, score: number, turn: number): Promise<boolean> {
    if (!take) return true;
    try {
      const from = Math.max(placing.trimSeconds, placeInTake(placing, score) ?? 0);
      await partAt(this.need.previews, take, from);
      return turn === this.turn;
    } catch (problem) {
      if (turn === this.turn) {
        this.stop();
        this.need.events.failed(sentence(problem));
      }
      return false;
    }
  }

  private within({ placing }: Scene, score: number): number {
    return score >= placing.startSeconds && score < placing.endSeconds - 0.01 ? score : placing.startSeconds;
  }

  private pump(): void {
    const { present } = this.need.speakers;
    if (!this.runs || !this.tracks || !present) return;
    const now = present.context.currentTime;
    this.tracks.lay(now + AHEAD_SECONDS);
    if (this.tracks.scoreAt(now) === null) this.stop();
  }
}

function cueGain({ cue, cueLevelDb, cueMuted }: State['place'], targetLufs: number): number {
  if (!cue || cueMuted) return 0;
  const matched = matchLoudness(cue.levels, targetLufs).gainDb + cueLevelDb;
  const { truePeakDbtp } = cue.levels;
  return toGain(truePeakDbtp === null ? matched : Math.min(matched, CEILING_DB - truePeakDbtp));
}
