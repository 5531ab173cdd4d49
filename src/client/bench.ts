/** The sound in hand: drawn large on a time axis, played, sped, looped, levelled. */

import { nearestNote } from '../../shared/music.ts';
import type { MusicalTarget } from '../../shared/query/musical.ts';
import { Audition } from './audition.ts';
import type { Counting } from './axis.ts';
import { InPlace } from './context/in-place.ts';
import { Pair } from './context/pair.ts';
import { archive, byId, make, setPressed } from './dom.ts';
import { decibels, hertz, seconds, semitones } from './format.ts';
import { firstLevel, keepLevel, levelSet } from './level.ts';
import { Matched } from './matched.ts';
import { DEFAULT_TARGET_LUFS, FIRST_STEP_DB, levelOf } from './output.ts';
import { Previews } from './previews.ts';
import type { Shapes } from './shapes.ts';
import { Speakers } from './speakers.ts';
import { Stage } from './stage.ts';
import type { Store } from './state.ts';

export interface BenchSource {
  counting: () => Counting;
  targetSeconds: () => number | null;
  target: () => MusicalTarget | null;
  isSelect: (sound: number) => boolean;
  toggleSelect: (sound: number) => void;
}

const NOTHING = 'No sound in hand';
const METER_FLOOR_DB = -60;
/** Moves quicker than this are passed over in silence; the last one sounds. */
const SETTLE_MILLISECONDS = 90;
const PREFETCHED = 2;
const WAKE_MILLISECONDS = 250;

export class Bench {
  readonly previews = new Previews();
  private readonly speakers = new Speakers();
  private readonly store: Store;
  private readonly shapes: Shapes;
  private readonly source: BenchSource;
  private readonly audition: Audition;
  /** Plays it in its bars, while the Cue pane has it so. */
  readonly place: InPlace;
  readonly pair: Pair;
  private readonly matched: Matched;
  private readonly stage: Stage;
  private readonly says = byId('says');
  private readonly levelInput = byId('level', HTMLInputElement);
  private readonly meterBlock = new Float32Array(2048);
  /** Where playing begins next; moved by clicks on the stage. */
  private cue = 0;
  private frame = 0;
  private settle = 0;
  private waking = 0;
  private lastMove = Number.NEGATIVE_INFINITY;

  constructor(store: Store, shapes: Shapes, source: BenchSource) {
    this.store = store;
    this.shapes = shapes;
    this.source = source;
    this.pair = new Pair(store);
    this.matched = new Matched(store, shapes, () => this.targetLufs);
    const events = {
      changed: (playing: boolean) => {
        store.set({ playing });
        if (playing) this.animate();
        else this.rest();
      },
      failed: (sentence: string) => {
        store.set({ playing: false });
        this.say(sentence);
      },
    };
    this.audition = new Audition(this.speakers, this.previews, events);
    this.place = new InPlace({
      store,
      shapes,
      speakers: this.speakers,
      previews: this.previews,
      target: source.target,
      playable: (sound) => this.matched.playable(sound),
      targetLufs: () => this.targetLufs,
      say: (sentence) => this.say(sentence),
      events,
    });
    this.stage = new Stage(store, shapes, {
      counting: source.counting,
      targetSeconds: source.targetSeconds,
      waveform: (sound) => this.previews.waveform(shapes.shelf.text('id', sound)),
      position: () => this.position,
      isPlaying: () => this.playing,
      seek: (seconds) => this.seek(seconds),
    });
    this.levelInput.value = String(firstLevel());
    this.listen();
    store.on(['sound'], () => this.show());
    store.on(['speed'], () => this.speedChanged());
    store.on(['loop'], ({ loop }) => {
      setPressed(byId('loop'), loop);
      this.audition.setLoop(loop);
    });
    store.on(['playOnMove'], ({ playOnMove }) => setPressed(byId('moving'), playOnMove));
    store.on(['playing'], ({ playing }) => {
      setPressed(byId('play'), playing);
      byId('play').textContent = playing ? 'Stop' : 'Play';
    });
    this.levelChanged(false);
    this.speedChanged();
    this.show();
  }

  /** Browsers let sound begin only from a key or a click. */
  wake(): void {
    if (this.speakers.awake) return;
    // When the hands rest: opening the sound output takes longer than a key may wait for its answer.
    window.clearTimeout(this.waking);
    this.waking = window.setTimeout(() => this.speakers.open(), WAKE_MILLISECONDS);
  }

  say(sentence: string, ...acts: HTMLElement[]): void {
    this.says.replaceChildren(sentence, ...acts);
  }

  toggle(): void {
    if (this.playing) this.stop();
    else this.play();
  }

  private get playing(): boolean {
    return this.audition.playing || this.place.playing;
  }

  private get position(): number {
    return this.audition.positionSeconds ?? this.place.positionSeconds ?? this.cue;
  }

  private stop(): void {
    this.audition.stop();
    this.place.stop();
  }

  /** Takes a sound in hand because one moved to it, and plays it where that is wanted. `next` are likely to follow. */
  moveTo(sound: number, next: readonly number[]): void {
    this.store.set({ sound });
    if (sound < 0 || !this.store.get().playOnMove) return;
    window.clearTimeout(this.settle);
    const now = performance.now();
    const hurried = now - this.lastMove < SETTLE_MILLISECONDS;
    this.lastMove = now;
    const begin = () => {
      this.play();
      for (const other of next.slice(0, PREFETCHED)) this.previews.prefetch(this.shapes.shelf.text('id', other));
    };
    if (hurried) this.settle = window.setTimeout(begin, SETTLE_MILLISECONDS);
    else begin();
  }

  play(): void {
    const { sound } = this.store.get();
    if (sound < 0) return;
    window.clearTimeout(this.settle);
    const from = this.cue;
    this.explainLevel(sound);
    if (this.place.isOn) {
      this.audition.stop();
      const begun = from > 0 ? this.place.seek(from) : this.place.play();
      void begun.then(() => this.stage.draw());
      return;
    }
    this.place.stop();
    void this.audition.play(this.matched.playable(sound), from).then(() => this.stage.draw());
  }

  /** Moves the place playing begins from, and plays on from there if it plays. */
  seek(toSeconds: number): void {
    const { sound } = this.store.get();
    if (sound < 0) return;
    this.cue = Math.max(0, Math.min(this.shapes.duration(sound) - 0.01, toSeconds));
    if (this.place.playing) void this.place.seek(this.cue);
    else if (this.audition.playing) this.play();
    else this.stage.draw();
  }

  /** Plays from there, whether it plays or not. */
  hear(fromSeconds: number): void {
    this.seek(fromSeconds);
    if (!this.playing) this.play();
  }

  /** To the other take and back: what plays plays on, in its bars or from the sounding start. */
  swap(): void {
    const { sound } = this.store.get();
    const { other } = this.pair;
    if (sound < 0 || other < 0) {
      this.say('No other take yet: move to a second one, or keep this one with X and go on.');
      return;
    }
    const start = (of: number): number => this.shapes.shelf.value('activeStartSeconds', of) ?? 0;
    const there = (seconds: number): number => {
      const place = Math.max(0, seconds - start(sound) + start(other));
      return place < this.shapes.duration(other) ? place : start(other);
    };
    const cue = this.cue > 0 ? there(this.cue) : 0;
    this.pair.swap();
    this.cue = cue;
    if (this.place.playing) void this.place.takeOver();
    else if (this.audition.playing) void this.audition.crossTo(this.matched.playable(other), there);
    this.stage.draw();
    const lower = this.matched.lowerDb;
    const even = lower > 0.5 ? ` Both ${decibels(lower, 'dB')} under the level set, to be equally loud.` : '';
    this.say('Now in hand: ', archive(this.shapes.name(other)), make('span', {}, `. x goes back.${even}`));
  }

  keepOther(): void {
    const { sound } = this.store.get();
    if (sound < 0) return;
    const kept = this.pair.keep() ? ' is kept as the other take: x goes to it.' : ' is no longer kept.';
    this.say('', archive(this.shapes.name(sound)), make('span', {}, kept));
  }

  playFromStart(): void {
    this.cue = 0;
    this.play();
  }

  /** After tempo or target changed. */
  draw(): void {
    this.stage.draw();
  }

  changeSpeed(by: number): void {
    this.store.set({ speed: Math.max(-24, Math.min(24, this.store.get().speed + by)) });
  }

  changeLevel(by: number): void {
    this.levelInput.value = String(Number(this.levelInput.value) + by);
    this.levelChanged(true);
  }

  markSelect(): void {
    const { sound } = this.store.get();
    setPressed(byId('select'), sound >= 0 && this.source.isSelect(sound));
  }

  private get targetLufs(): number {
    return Number(this.levelInput.value);
  }

  /** One sentence under the stage where the level heard is not the level set. */
  private explainLevel(sound: number): void {
    const { heldBackDb } = this.matched.match(sound);
    if (levelSet() === null) {
      const raise = make('button', { type: 'button' }, `Raise to ${decibels(DEFAULT_TARGET_LUFS, 'LUFS', 0)}`);
      raise.addEventListener('click', () => {
        this.levelInput.value = String(DEFAULT_TARGET_LUFS);
        this.levelChanged(true);
      });
      this.say(
        `This visit starts ${FIRST_STEP_DB} dB low, to spare your ears. Raise the level when you are ready.`,
        raise,
      );
    } else if (heldBackDb > 0.5) {
      this.say(`Held ${decibels(heldBackDb, 'dB')} under the level set: its peaks already reach −1 dBFS.`);
    } else this.say('');
  }

  private show(): void {
    const { sound } = this.store.get();
    if (!this.pair.isSwapping) {
      this.cue = 0;
      this.stop();
    }
    const { shelf } = this.shapes;
    const name = byId('bench-name');
    byId('bench').toggleAttribute('data-empty', sound < 0);
    byId('play', HTMLButtonElement).disabled = sound < 0;
    byId('select', HTMLButtonElement).disabled = sound < 0;
    if (sound < 0) {
      name.replaceChildren(make('span', { class: 'quiet' }, NOTHING));
      byId('bench-facts').replaceChildren('Arrow down plays the first.');
      byId('bench-origin').replaceChildren();
    } else {
      name.replaceChildren(archive(this.shapes.name(sound)));
      name.title = this.shapes.name(sound);
      this.showFacts();
      const rights = shelf.text('rights', sound) || 'rights not stated';
      byId('bench-origin').replaceChildren(archive(shelf.text('session', sound)), ' · ', archive(rights));
    }
    this.markSelect();
    this.stage.draw();
  }

  private showFacts(): void {
    const { sound, speed } = this.store.get();
    if (sound < 0) return;
    const { shelf } = this.shapes;
    const rate = 2 ** (speed / 12);
    const pitch = shelf.value('pitchHz', sound);
    const note = pitch === null ? null : nearestNote(pitch * rate);
    const pieces = [
      seconds(this.shapes.heardSeconds(sound) / rate),
      shelf.gestureOf(sound),
      note ? `${note.name}, ${hertz((pitch ?? 0) * rate)}` : 'no clear note',
      speed === 0 ? null : `at ${semitones(speed)}`,
    ];
    byId('bench-facts').replaceChildren(pieces.filter((piece) => piece !== null).join(' · '));
  }

  private speedChanged(): void {
    const { speed } = this.store.get();
    const input = byId('speed', HTMLInputElement);
    input.value = String(speed);
    input.setAttribute('aria-valuetext', semitones(speed));
    byId('speed-value').textContent = semitones(speed);
    this.audition.setSpeed(speed);
    this.showFacts();
    this.stage.draw();
  }

  private levelChanged(byPerson: boolean): void {
    const target = this.targetLufs;
    const said = decibels(target, 'LUFS', 0);
    byId('level-value').textContent = said;
    this.levelInput.setAttribute('aria-valuetext', said);
    if (!byPerson) return;
    keepLevel(target);
    const { sound } = this.store.get();
    if (sound < 0) return;
    this.audition.setGain(this.matched.playable(sound).gainDb);
    this.place.setLevels();
    this.explainLevel(sound);
  }

  private listen(): void {
    byId('play').addEventListener('click', () => this.toggle());
    byId('loop').addEventListener('click', () => this.store.set({ loop: !this.store.get().loop }));
    byId('moving').addEventListener('click', () => this.store.set({ playOnMove: !this.store.get().playOnMove }));
    byId('select').addEventListener('click', () => this.source.toggleSelect(this.store.get().sound));
    const speed = byId('speed', HTMLInputElement);
    speed.addEventListener('input', () => this.store.set({ speed: Number(speed.value) }));
    this.levelInput.addEventListener('input', () => this.levelChanged(true));
    const sheet = byId('sheet');
    sheet.addEventListener('click', () => {
      const open = byId('bench').dataset.open !== 'true';
      byId('bench').dataset.open = String(open);
      sheet.setAttribute('aria-expanded', String(open));
      sheet.textContent = open ? 'Close' : 'Open';
      this.stage.draw();
    });
  }

  private animate(): void {
    cancelAnimationFrame(this.frame);
    const step = () => {
      this.stage.drawPlayhead();
      const analyser = this.speakers.present?.analyser;
      if (analyser) this.showLevel(levelOf(analyser, this.meterBlock));
      if (this.playing) this.frame = requestAnimationFrame(step);
      else this.rest();
    };
    this.frame = requestAnimationFrame(step);
  }

  private rest(): void {
    cancelAnimationFrame(this.frame);
    this.showLevel(null);
    this.stage.drawPlayhead();
  }

  private showLevel(level: number | null): void {
    const shown = Math.max(METER_FLOOR_DB, level ?? METER_FLOOR_DB);
    byId('meter').setAttribute('aria-valuenow', shown.toFixed(0));
    byId('meter').setAttribute('aria-valuetext', level === null ? 'silent' : decibels(level, 'dBFS', 0));
    byId('meter-bar').style.transform = `scaleX(${1 - shown / METER_FLOOR_DB})`;
    byId('meter-value').textContent = level === null ? 'silent' : decibels(level, 'dBFS', 0);
  }
}
