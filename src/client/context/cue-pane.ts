/** The Cue pane: what is heard in place, set, drawn and said. */
import { formatMetre, formatNoteValue, formatPosition, positionAt } from '../../../shared/music.ts';
import { clicksBetween, type Placing, type Score } from '../../../shared/placing.ts';
import { secondsToTimecode } from '../../../shared/timecode.ts';
import type { Bench } from '../bench.ts';
import { atSpeed } from '../blade.ts';
import { archive, byId, contextOf, make, onClick, setPressed } from '../dom.ts';
import { number, seconds, trueMinus } from '../format.ts';
import type { Shapes } from '../shapes.ts';
import type { Store } from '../state.ts';
import { colours, onRepaint } from '../theme.ts';
import { type ChartScene, type ChartTake, chartAxis, chartHeight, drawChart } from './chart.ts';
import { CueControls } from './cue-controls.ts';
import { letterOf, otherOf, type PlaceSettings } from './settings.ts';

/** Set for someone who has said neither. */
const USUAL_TEMPO = '120 bpm';
const USUAL_METRE = '4/4';

export class CuePane {
  private readonly store: Store;
  private readonly shapes: Shapes;
  private readonly bench: Bench;
  private readonly controls: CueControls;
  private readonly chart = byId('place-chart', HTMLCanvasElement);
  /** All but the playhead. */
  private readonly still = document.createElement('canvas');
  private scene: ChartScene | null = null;
  private waiting = false;
  private frame = 0;

  /** `ask` puts a piece into the question. */
  constructor(store: Store, shapes: Shapes, bench: Bench, ask: (piece: string) => void) {
    this.store = store;
    this.shapes = shapes;
    this.bench = bench;
    this.controls = new CueControls(store, () => this.renew());
    this.listen(ask);
    store.on(['pane', 'sound', 'query', 'speed', 'place', 'pair'], () => this.renew());
    store.on(['playing', 'pane'], () => this.animate());
    new ResizeObserver(() => this.renew()).observe(this.chart);
    onRepaint(() => this.renew());
  }

  private listen(ask: (piece: string) => void): void {
    const { store, bench, chart } = this;
    const set = (change: Partial<PlaceSettings>) => store.set({ place: { ...store.get().place, ...change } });
    onClick(byId('place-on'), () => set({ inPlace: !store.get().place.inPlace }));
    onClick(byId('place-click'), () => set({ click: !store.get().place.click }));
    onClick(byId('place-swap'), () => bench.swap());
    onClick(byId('place-keep'), () => bench.keepOther());
    onClick(byId('place-tempo'), () => {
      const { metre } = store.get().query;
      ask(USUAL_TEMPO);
      if (!metre) ask(USUAL_METRE);
      byId('pane-cue').focus();
    });
    const countIn = byId('place-count-in', HTMLSelectElement);
    countIn.addEventListener('change', () => set({ countIn: countIn.value as PlaceSettings['countIn'] }));
    chart.addEventListener('click', (event) => {
      if (!this.scene) return;
      const axis = chartAxis(this.scene, chart.clientWidth);
      const across = Math.max(0, (event.offsetX - axis.left) / axis.width) * axis.seconds;
      this.playFrom(this.scene.bars.startSeconds + across);
    });
    chart.addEventListener('keydown', (event) => this.key(event));
  }

  /** Beat by beat through the bars, playing from there. */
  private key(event: KeyboardEvent): void {
    const { scene } = this;
    const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
    if (!scene || (by === undefined && event.key !== 'Home')) return;
    event.preventDefault();
    event.stopPropagation();
    const { startSeconds, endSeconds } = scene.bars;
    const now = this.bench.place.scoreSeconds ?? startSeconds;
    const beats = clicksBetween(scene.score, startSeconds, endSeconds).map(({ scoreSeconds }) => scoreSeconds);
    const before = beats.findLastIndex((beat) => beat <= now + 0.001);
    // Back goes to the beat under way first, unless it has only just begun.
    const step = by === -1 && now - beats[before] > 0.25 ? 0 : (by ?? -beats.length);
    this.playFrom(beats[Math.max(0, Math.min(beats.length - 1, before + step))] ?? startSeconds);
  }

  private playFrom(score: number): void {
    if (this.bench.place.isOn) void this.bench.place.play(score);
  }

  /** Once before the next frame, and only while it is seen. */
  private renew(): void {
    if (this.waiting || this.store.get().pane !== 'cue') return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.show();
    });
  }

  private show(): void {
    const { sound, place, pair, query } = this.store.get();
    const { score, placing } = this.bench.place;
    setPressed(byId('place-on'), place.inPlace);
    setPressed(byId('place-click'), place.click);
    byId('place-swap', HTMLButtonElement).disabled = otherOf(pair, sound) < 0;
    const keep = byId('place-keep', HTMLButtonElement);
    keep.disabled = sound < 0;
    setPressed(keep, sound >= 0 && pair.kept === sound);
    byId('place-count-in', HTMLSelectElement).value = place.countIn;
    this.controls.show();
    byId('place-line').textContent = headline(score, sound, this.whatLands(sound));
    byId('place-counting').textContent = score
      ? `${counted(score)}. Set in the tempo bar above.`
      : 'Bars and beats come from the tempo bar above.';
    byId('place-no-tempo').hidden = score !== null;
    byId('place-tempo').textContent = query.metre ? 'Set 120' : 'Set 120, 4/4';
    this.scene = score && placing ? this.sceneOf(score, placing) : null;
    this.showTakes();
    byId('place-facts').replaceChildren(...this.facts(score));
    this.draw();
  }

  /** A swell may have a strike at its head and yet be about its broad top. */
  private whatLands(sound: number): string {
    if (sound < 0) return 'accent';
    return this.shapes.mainAccent(sound)?.strikes ? 'accent' : 'loudest moment';
  }

  private sceneOf(score: Score, bars: Placing): ChartScene {
    const { sound, pair, place, speed } = this.store.get();
    const other = otherOf(pair, sound);
    const takes = [sound, other]
      .filter((take) => take >= 0)
      .map((take): ChartTake & { letter: 'A' | 'B' } => ({
        letter: letterOf(pair, take),
        shape: atSpeed(this.shapes.of(take), speed),
        durationSeconds: this.shapes.duration(take),
        placing: this.bench.place.placingOf(take) ?? bars,
        inHand: take === sound,
      }))
      .sort((a, b) => a.letter.localeCompare(b.letter));
    return {
      score,
      bars,
      takes: takes.length > 1 ? takes : takes.map((take) => ({ ...take, letter: '' })),
      cue: place.cue && {
        columns: place.cue.columns,
        durationSeconds: place.cue.buffer.duration,
        barOneSeconds: place.barOneSeconds,
        muted: place.cueMuted,
      },
    };
  }

  private showTakes(): void {
    const { sound, pair, playing } = this.store.get();
    const other = otherOf(pair, sound);
    const takes = other < 0 ? [] : [sound, other].sort((a) => (letterOf(pair, a) === 'A' ? -1 : 1));
    const focused = byId('place-takes').contains(document.activeElement);
    byId('place-takes').replaceChildren(
      ...takes.map((take) => {
        const inHand = take === sound;
        const button = make(
          'button',
          { type: 'button', disabled: inHand },
          make('span', {}, letterOf(pair, take)),
          make('span', { class: 'name' }, archive(this.shapes.name(take))),
          make(
            'span',
            { class: inHand ? 'heard' : 'sub' },
            inHand ? (playing ? 'you hear this' : 'in hand') : 'x goes to it',
          ),
        );
        if (!inHand) onClick(button, () => this.bench.swap());
        return make('li', {}, button);
      }),
    );
    if (focused) byId('place-swap').focus();
  }

  private facts(score: Score | null): HTMLElement[] {
    const { sound, place, speed } = this.store.get();
    const placing = this.bench.place.placingOf(sound);
    if (!score || !placing) return [];
    const at = (where: number): string => trueMinus(formatPosition(positionAt(where, score.tempo, score.metre)));
    const timecode = secondsToTimecode(place.barOneSeconds + placing.enterSeconds, this.controls.rate);
    const rows: [string, string][] = [
      ['Clip starts, bar:beat', at(placing.enterSeconds)],
      [`Timecode at ${this.controls.rate}`, trueMinus(timecode)],
      ['Cut from its head', cutInWords(placing, speed !== 0)],
      ['Clip ends, bar:beat', at(placing.leaveSeconds)],
    ];
    return rows.flatMap(([term, value]) => [make('dt', {}, term), make('dd', {}, value)]);
  }

  private draw(): void {
    const { chart, scene } = this;
    chart.hidden = scene === null;
    if (!scene) return;
    const height = chartHeight(scene);
    chart.style.height = `${height}px`;
    chart.setAttribute('aria-valuemax', String(scene.bars.bars));
    drawChart(this.still, scene, chart.clientWidth, colours());
    this.drawPlayhead();
  }

  private drawPlayhead(): void {
    const { chart, scene } = this;
    if (!scene) return;
    const { clientWidth: width, clientHeight: height } = chart;
    const context = contextOf(chart, width, height);
    if (!context || this.still.width === 0) return;
    context.drawImage(this.still, 0, 0, width, height);
    const score = this.bench.place.scoreSeconds;
    const stands = score ?? scene.bars.startSeconds;
    const position = positionAt(stands, scene.score.tempo, scene.score.metre);
    chart.setAttribute('aria-valuenow', (position.bar - scene.bars.firstBar).toFixed(0));
    chart.setAttribute('aria-valuetext', `bar ${position.bar} beat ${Math.floor(position.beat)}`);
    if (score === null) return;
    const axis = chartAxis(scene, width);
    const x = axis.left + ((score - scene.bars.startSeconds) / axis.seconds) * axis.width;
    context.fillStyle = colours().signal;
    context.fillRect(Math.round(x) - 1, 18, 2, height - 18);
  }

  private animate(): void {
    cancelAnimationFrame(this.frame);
    if (this.store.get().pane !== 'cue') return;
    this.renew();
    const step = () => {
      this.drawPlayhead();
      if (this.bench.place.playing && this.store.get().pane === 'cue') this.frame = requestAnimationFrame(step);
    };
    this.frame = requestAnimationFrame(step);
  }
}

function counted({ tempo, metre }: Score): string {
  const note = tempo.note ? formatNoteValue(tempo.note) : 'quarter';
  return `${note} = ${number(tempo.bpm, 3)}, ${metre ? formatMetre(metre) : '4/4, as no metre is said'}`;
}

/** `what` of the take is to land; a take without an accent lands by its loudest moment. */
function headline(score: Score | null, sound: number, what: string): string {
  if (!score) return 'Set a tempo to hear takes in their bars.';
  const { bar, beat } = score.target;
  const where = beat === 1 ? `bar ${bar}` : `bar ${bar}, beat ${number(beat, 3)}`;
  return sound < 0 ? `No sound in hand. Its accent will land on ${where}.` : `Its ${what} lands on ${where}.`;
}

const INAUDIBLE_SECONDS = 0.0005;

function cutInWords({ trimSeconds, soundingTrimSeconds }: Placing, bent: boolean): string {
  if (trimSeconds < INAUDIBLE_SECONDS) return 'nothing';
  const whole = `${seconds(trimSeconds)}${bent ? ' as recorded' : ''}`;
  if (soundingTrimSeconds < INAUDIBLE_SECONDS) return `${whole}, silence`;
  return `${whole}, of which ${seconds(soundingTrimSeconds)} sound. A later bar keeps them.`;
}
