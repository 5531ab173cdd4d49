/**
 * A sound asked with: sung into the microphone or dropped as a file. It is measured in the page, shown as a blade with
 * what was measured, and asked by its shape, its colour, or both. It lives in the page only and goes with it.
 */
import { wedgeShares } from '../../shared/main-accent.ts';
import { MEASURED_SECONDS, type MeasuredHere } from '../../shared/measure-here.ts';
import { contourOfActivePart } from '../../shared/query/sound-nearness.ts';
import type { ShelfParameters } from '../../shared/shelf.ts';
import type { Measurements } from '../../shared/sound.ts';
import { vectorOf } from '../../shared/vectors.ts';
import { brightnessOf, drawBlade } from './blade.ts';
import { archive, contextOf, make, onClick, setPressed } from './dom.ts';
import { drawnFrom } from './drawn-shape.ts';
import { dropZone } from './drop-zone.ts';
import { number, seconds, share } from './format.ts';
import { CannotMeasure, measureFile, measureRecording, type Watch } from './measure-here.ts';
import { Listening, NoMicrophone } from './microphone.ts';
import { shapeFor, withoutShape } from './near-asked.ts';
import { SHOWN_ACCENTS } from './shapes.ts';
import { type SoundAsked, WAYS, type Way } from './sound-asked.ts';
import type { Store } from './state.ts';
import { colours, onRepaint } from './theme.ts';

export interface RecordedParts {
  /** The scale that the shelf's vectors are on. */
  parameters: ShelfParameters;
  /** Before the microphone opens: what the page plays would be heard by it. */
  quiet: () => void;
  /** A sound was taken in or removed, or is asked in another way: a state worth going back to. */
  settled: () => void;
}

const SUNG = 'what was sung';
const BLADE_HEIGHT = 64;
const LONGEST_BLADE_PIXELS = 520;

export class RecordedSound {
  private readonly store: Store;
  private readonly parts: RecordedParts;
  private readonly element: HTMLElement;
  private readonly sing = make('button', { type: 'button', class: 'sing' });
  private readonly zone: HTMLElement;
  private readonly state = make('div', { class: 'recorded-state' });
  /** What is said once, for those who hear the page read. */
  private readonly says = make('p', { class: 'recorded-says', role: 'status' });
  private readonly shown = make('div', { class: 'recorded-shown' });
  private readonly blade = make('canvas', { 'aria-hidden': 'true', class: 'recorded-blade' });
  private readonly ways: ReadonlyMap<Way, HTMLElement>;
  private listening: Listening | null = null;
  private work: AbortController | null = null;
  /** The browser asks the person for the microphone. */
  private opening: object | null = null;

  constructor(box: HTMLElement, store: Store, parts: RecordedParts) {
    this.store = store;
    this.parts = parts;
    this.zone = dropZone((file) => void this.takeFile(file));
    this.ways = new Map(WAYS.map((way) => [way, this.wayButton(way)]));
    this.element = make(
      'section',
      { class: 'recorded', 'aria-label': 'Sing it or drop it' },
      make('div', { class: 'recorded-ask' }, this.sing, this.zone),
      this.state,
      this.says,
      this.shown,
    );
    box.replaceChildren(this.element);
    onClick(this.sing, () => void this.toggleListening());
    store.on(['recorded'], () => this.show());
    store.on(['shape'], ({ shape, recorded }) => {
      // Rubbed out: what is left of the sound is its colour, where that was asked too.
      if (shape === null && recorded) store.set({ recorded: withoutShape(recorded) });
    });
    store.on(['pane'], ({ pane }) => {
      if (pane === 'shape') this.draw();
      else this.listening?.giveUp();
    });
    onRepaint(() => this.draw());
    this.drawSing();
  }

  private get asked(): SoundAsked | null {
    return this.store.get().recorded;
  }

  /** Key and button: listens, or stops listening and asks with what was heard. */
  async toggleListening(): Promise<void> {
    if (this.listening) return this.listening.stop();
    if (this.opening) return;
    this.giveUp();
    this.parts.quiet();
    const opening = {};
    this.opening = opening;
    this.say('Waiting for the microphone.');
    let listening: Listening;
    try {
      listening = await Listening.start();
    } catch (problem) {
      if (this.opening !== opening) return;
      this.opening = null;
      this.say(problem instanceof NoMicrophone ? problem.message : String(problem));
      this.bringIntoView();
      return;
    }
    if (this.opening !== opening) {
      // Allowed too late: something else was asked with meanwhile.
      listening.giveUp();
      return;
    }
    this.opening = null;
    this.bringIntoView();
    this.listening = listening;
    this.say('');
    this.drawSing();
    this.followLevel(listening);
    const heard = await listening.heard;
    if (this.listening !== listening) return;
    this.hearNoMore();
    if (heard) await this.measure(SUNG, (watch) => measureRecording(heard.recording, heard.sampleRateHz, watch));
  }

  async takeFile(file: File, others = 0): Promise<void> {
    this.giveUp();
    await this.measure(file.name, (watch) => measureFile(file, watch));
    if (others > 0 && this.asked?.name === file.name) this.say('One sound at a time: the first of them was taken.');
  }

  /** Stops whatever is going on; a sound already asked with stays. */
  giveUp(): void {
    this.opening = null;
    this.listening?.giveUp();
    if (this.listening) this.hearNoMore();
    this.work?.abort(new DOMException('Given up.', 'AbortError'));
  }

  private hearNoMore(): void {
    this.listening = null;
    this.drawSing();
    this.state.replaceChildren();
  }

  /** The sound goes, and with it what was asked by it. */
  remove(): void {
    this.giveUp();
    this.store.set({ recorded: null, shape: null });
    this.say('');
    this.parts.settled();
  }

  private ask(recorded: SoundAsked): void {
    this.store.set({ recorded, shape: shapeFor(recorded, this.store.get().shape) });
    this.parts.settled();
  }

  private draw(): void {
    if (this.asked) this.drawBlade(this.asked.measured);
  }

  private async measure(name: string, work: (watch: Watch) => Promise<MeasuredHere>): Promise<void> {
    const control = new AbortController();
    this.work = control;
    const progress = this.progress(name, control);
    this.say('');
    try {
      const measured = await work({ onProgress: progress, signal: control.signal });
      if (!control.signal.aborted) this.take(name, measured);
    } catch (problem) {
      if (control.signal.aborted) return;
      this.bringIntoView();
      this.say(problem instanceof CannotMeasure ? `${nameFirst(name)}${problem.message}` : String(problem));
    } finally {
      if (this.work === control) {
        this.work = null;
        this.state.replaceChildren();
      }
    }
  }

  private take(name: string, { measurements, fileSeconds }: MeasuredHere): void {
    const { vectorCentre: centre, vectorScale: scale } = this.parts.parameters;
    this.ask({
      name,
      way: this.asked?.way ?? 'shape',
      measured: measurements,
      heights: drawnFrom(contourOfActivePart(measurements)),
      colour: {
        vector: vectorOf(measurements, { centre, scale }),
        centroidHz: measurements.centroidHz,
        roughness: measurements.roughness,
      },
    });
    this.say(lengthWords(measurements.durationSeconds, fileSeconds));
    this.bringIntoView();
  }

  /** The curve stands above and may fill the pane. */
  private bringIntoView(): void {
    this.element.scrollIntoView({ block: 'nearest' });
  }

  private show(): void {
    if (this.asked === null) {
      this.shown.replaceChildren();
      return;
    }
    const { name, measured, way } = this.asked;
    const focused = this.shown.contains(document.activeElement) ? document.activeElement : null;
    const remove = make('button', { type: 'button', class: 'remove', 'aria-label': `Remove ${name}` }, '×');
    onClick(remove, () => {
      this.remove();
      this.sing.focus();
    });
    for (const [other, button] of this.ways) setPressed(button, other === way);
    this.shown.replaceChildren(
      make('div', { class: 'recorded-name' }, archive(name), remove),
      this.blade,
      make('p', { class: 'recorded-facts' }, factsOf(measured)),
      make('div', { class: 'choices', role: 'group', 'aria-label': 'Find what is near' }, ...this.ways.values()),
      make(
        'p',
        { class: 'quiet' },
        'Measured here, and kept nowhere. A link to this page can carry its shape, not its sound or colour.',
      ),
    );
    if (focused instanceof HTMLElement && this.shown.contains(focused)) focused.focus();
    this.drawBlade(measured);
  }

  private wayButton(way: Way): HTMLElement {
    const button = make('button', { type: 'button', class: 'choice', 'aria-pressed': 'false' }, `by ${way}`);
    onClick(button, () => {
      if (this.asked !== null && this.asked.way !== way) this.ask({ ...this.asked, way });
    });
    return button;
  }

  private drawBlade(measured: Measurements): void {
    const width = Math.min(LONGEST_BLADE_PIXELS, this.shown.clientWidth);
    const context = contextOf(this.blade, width, BLADE_HEIGHT);
    if (!context) return;
    this.blade.style.width = `${width}px`;
    const { contour, centroidHz } = measured;
    const shape = {
      contour: contour.map((value) => value * 255),
      brightness: brightnessOf(centroidHz),
      accents: wedgeShares(measured, SHOWN_ACCENTS),
    };
    const { signal, ink, sheet } = colours();
    const box = { x: 4, y: BLADE_HEIGHT / 2 + 4, width: width - 8, height: BLADE_HEIGHT - 16, wedge: 8 };
    drawBlade(context, shape, box, { ink, line: signal, ground: sheet });
  }

  private drawSing(): void {
    const listens = this.listening !== null;
    this.sing.replaceChildren(listens ? 'Stop and find' : 'Sing it', make('kbd', {}, 'b'));
    setPressed(this.sing, listens);
    this.element.toggleAttribute('data-listening', listens);
  }

  private followLevel(listening: Listening): void {
    const left = make('span', { class: 'recorded-left' });
    const bar = make('span', { class: 'meter-bar' });
    const cancel = make('button', { type: 'button', class: 'small' }, 'Cancel');
    onClick(cancel, () => listening.giveUp());
    this.state.replaceChildren(make('b', {}, 'Listening'), left, make('span', { class: 'meter' }, bar), cancel);
    const follow = () => {
      if (this.listening !== listening) return;
      left.textContent = `${Math.ceil(listening.secondsLeft())} s left`;
      bar.style.transform = `scaleX(${(listening.levelDb() + 60) / 60})`;
      requestAnimationFrame(follow);
    };
    follow();
  }

  private progress(name: string, control: AbortController): Watch['onProgress'] {
    const done = make('span', { class: 'recorded-left' });
    const cancel = make('button', { type: 'button', class: 'small' }, 'Cancel');
    onClick(cancel, () => {
      control.abort(new DOMException('Given up.', 'AbortError'));
      this.state.replaceChildren();
    });
    this.state.replaceChildren(make('span', {}, 'Measuring ', archive(name)), done, cancel);
    return (part) => {
      done.textContent = part === null ? 'decoding' : share(part);
    };
  }

  private say(sentence: string): void {
    this.says.textContent = sentence;
  }
}

const nameFirst = (name: string): string => (name === SUNG ? '' : `${name}: `);

function factsOf({ durationSeconds, gesture, note, centsOff, centroidHz }: Measurements): string {
  const pitch = note === null ? 'no clear note' : `${note}${centsOff === null ? '' : ` ${cents(centsOff)}`}`;
  const bright = centroidHz === null ? null : `brightness ${number(centroidHz, 0)} Hz`;
  return [seconds(durationSeconds), gesture, pitch, bright].filter((fact) => fact !== null).join(' · ');
}

const cents = (off: number): string => `${off >= 0 ? '+' : ''}${number(off, 0)} cents`;

/** Says where not all of a file was measured. */
function lengthWords(measuredSeconds: number, fileSeconds: number | null): string {
  if (measuredSeconds < MEASURED_SECONDS) return '';
  if (fileSeconds === null) return 'The first minute of it was measured.';
  return fileSeconds > MEASURED_SECONDS ? `The first minute of ${seconds(fileSeconds)} was measured.` : '';
}
