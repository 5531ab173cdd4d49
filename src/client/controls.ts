/** Everything that can be set by hand instead of typed: each control reads the question and writes text into it. */
import { formatMetre, type Metre, positionAt, type Tempo } from '../../shared/music.ts';
import type { Chip } from '../../shared/query/chips.ts';
import { lengthSeconds, type Query } from '../../shared/query/chips.ts';
import type { MusicalTarget } from '../../shared/query/musical.ts';
import { chipToText } from '../../shared/query/parse.ts';
import type { Asking } from './asking.ts';
import { byId, make, onClick, setPressed } from './dom.ts';

import type { Question } from './question.ts';
import type { Store } from './state.ts';

/** A tap later than this begins a new count; the tempo is the mean of the last so many gaps. */
const TAP_PAUSE_MILLISECONDS = 2500;
const TAPS_KEPT = 8;

const text = (value: number): string => String(Number(value.toFixed(3)));

export class Controls {
  private readonly question: Question;
  private readonly target: () => MusicalTarget | null;
  private taps: number[] = [];

  constructor(store: Store, question: Question, asking: Asking, target: () => MusicalTarget | null) {
    this.question = question;
    this.target = target;
    fillPicker(byId('set-session', HTMLSelectElement), asking.sessions);
    fillPicker(byId('set-tag', HTMLSelectElement), asking.tags);
    this.listenTempo();
    this.listenPanel();
    store.on(['query'], ({ query }) => this.read(query));
  }

  toggle(): void {
    const panel = byId('controls');
    panel.hidden = !panel.hidden;
    byId('show-controls').setAttribute('aria-expanded', String(!panel.hidden));
    if (!panel.hidden) panel.querySelector('input')?.focus();
  }

  tap(): void {
    const now = performance.now();
    if (now - (this.taps.at(-1) ?? 0) > TAP_PAUSE_MILLISECONDS) this.taps = [];
    this.taps = [...this.taps, now].slice(-TAPS_KEPT);
    const gaps = this.taps.length - 1;
    if (gaps < 1) return;
    const bpm = (60_000 * gaps) / (this.taps[gaps] - this.taps[0]);
    this.setTempo(Math.round(bpm));
  }

  /** A tempo said within "2 bars at 84" is changed there; else it stands by itself. */
  private setTempo(bpm: number | null): void {
    this.setCounting(
      'tempo',
      (said) => (bpm === null ? null : { bpm, note: said?.note ?? null }),
      bpm === null ? '' : `${text(bpm)} bpm`,
    );
  }

  private setMetre(metre: string): void {
    const [beats, unit] = metre.split('/').map(Number);
    this.setCounting('metre', () => (metre === '' ? null : { beats, unit }), metre);
  }

  private setCounting<K extends 'tempo' | 'metre'>(
    what: K,
    value: (said: Counting[K]) => Counting[K],
    alone: string,
  ): void {
    this.question.rewrite((chips) => {
      const [chip] = chips;
      if (chips.length !== 1) return null;
      if (chip.kind === what) return alone;
      const said = countingIn(chip)?.[what] ?? null;
      return said === null ? null : chipToText(withCounting(chip, { [what]: value(said) }));
    }, alone);
  }

  private setAccent(bar: number | null, beat: number | null): void {
    const at = bar === null && beat === null ? '' : `accent at bar ${text(bar ?? 1)} beat ${text(beat ?? 1)}`;
    this.question.replace((chip) => chip.kind === 'accent', at);
  }

  private listenTempo(): void {
    const tempo = byId('tempo', HTMLInputElement);
    tempo.addEventListener('change', () => this.setTempo(numberIn(tempo)));
    onClick(byId('tap'), () => this.tap());
    const metre = byId('metre', HTMLSelectElement);
    metre.addEventListener('change', () => this.setMetre(metre.value));
    const bar = byId('accent-bar', HTMLInputElement);
    const beat = byId('accent-beat', HTMLInputElement);
    for (const input of [bar, beat])
      input.addEventListener('change', () => this.setAccent(numberIn(bar), numberIn(beat)));
  }

  private listenPanel(): void {
    const { question } = this;
    onClick(byId('show-controls'), () => this.toggle());
    const from = byId('set-length-from', HTMLInputElement);
    const to = byId('set-length-to', HTMLInputElement);
    const setLength = () =>
      question.replace(
        (chip) => chip.kind === 'length' || chip.kind === 'length-range',
        lengthText(numberIn(from), numberIn(to)),
      );
    from.addEventListener('change', setLength);
    to.addEventListener('change', setLength);
    choices('set-accent', (value, on) =>
      question.replace((chip) => chip.kind === 'accent', on ? `accent at ${value}` : ''),
    );
    choices('set-gesture', (value, on) =>
      question.replace((chip) => chip.kind === 'gesture' && chip.gesture === value, on ? value : ''),
    );
    choices('set-colour', (value, on) => {
      const opposite = byId('set-colour').querySelector(`[data-value="${value}"]`)?.parentElement;
      const pair = [...(opposite?.children ?? [])].map((button) => (button as HTMLElement).dataset.value);
      question.replace((chip) => chip.kind === 'colour' && pair.includes(chip.colour), on ? value : '');
    });
    const note = byId('set-note', HTMLInputElement);
    note.addEventListener('change', () => {
      const wanted = note.value.trim();
      const piece = /^\d+([.,]\d+)?$/.test(wanted) ? `around ${wanted} Hz` : wanted;
      question.replace((chip) => chip.kind === 'pitch', piece && (/hz/i.test(piece) ? piece : `note ${piece}`));
    });
    const quoted = (name: string): string => (/[\s,]/.test(name) ? `"${name}"` : name);
    const session = byId('set-session', HTMLSelectElement);
    session.addEventListener('change', () =>
      question.replace((chip) => chip.kind === 'session', session.value && `session ${quoted(session.value)}`),
    );
    const tag = byId('set-tag', HTMLSelectElement);
    tag.addEventListener('change', () =>
      question.replace((chip) => chip.kind === 'tag', tag.value && `tagged ${quoted(tag.value)}`),
    );
  }

  /** Controls show what the question says, whoever wrote it. */
  private read(query: Query): void {
    const find = <K extends Chip['kind']>(kind: K) =>
      query.chips.find((chip): chip is Extract<Chip, { kind: K }> => chip.kind === kind);
    setValue('tempo', query.tempo ? text(query.tempo.bpm) : '');
    showMetre(query.metre);
    const target = this.target();
    const at = target && query.tempo ? positionAt(target.seconds, query.tempo, query.metre) : null;
    setValue('accent-bar', at && target?.part === 'accent' ? String(at.bar) : '');
    setValue('accent-beat', at && target?.part === 'accent' ? text(at.beat) : '');
    const range = find('length-range');
    const length = find('length');
    const seconds = length ? lengthSeconds(length.length) : null;
    const [low, high] = range
      ? [lengthSeconds(range.from), lengthSeconds(range.to)]
      : [length?.fit === 'under' ? null : seconds, length?.fit === 'over' ? null : seconds];
    setValue('set-length-from', low === null ? '' : text(low));
    setValue('set-length-to', high === null ? '' : text(high));
    const accent = find('accent');
    const share = accent?.at.unit === 'share' ? accent.at.share : null;
    press('set-accent', (value) => share === { start: 0, middle: 0.5, end: 1 }[value]);
    press('set-gesture', (value) =>
      query.chips.some((chip) => chip.kind === 'gesture' && !chip.negated && chip.gesture === value),
    );
    press('set-colour', (value) =>
      query.chips.some((chip) => chip.kind === 'colour' && !chip.negated && chip.colour === value),
    );
    const pitch = find('pitch');
    setValue('set-note', pitch ? pitch.label.replace(/^note /, '') : '');
    setValue('set-session', matchOption('set-session', find('session')?.text));
    setValue('set-tag', matchOption('set-tag', find('tag')?.text));
  }
}

function lengthText(from: number | null, to: number | null): string {
  if (from !== null && to !== null)
    return from === to ? `${text(from)} s` : `${text(Math.min(from, to))}-${text(Math.max(from, to))} s`;
  if (from !== null) return `over ${text(from)} s`;
  return to === null ? '' : `under ${text(to)} s`;
}

interface Counting {
  tempo: Tempo | null;
  metre: Metre | null;
}

/** What a chip by itself says about counting; null for chips that count nothing. */
function countingIn(chip: Chip): Counting | null {
  if (chip.kind === 'length' && chip.length.unit === 'musical') return chip.length;
  if (chip.kind === 'length-range' && chip.to.unit === 'musical') return chip.to;
  if (chip.kind === 'accent' && (chip.at.unit === 'position' || chip.at.unit === 'downbeat')) return chip.at;
  return null;
}

function withCounting(chip: Chip, change: Partial<Counting>): Chip {
  const counted = <T extends { unit: string }>(value: T): T =>
    value.unit === 'musical' || value.unit === 'position' || value.unit === 'downbeat'
      ? { ...value, ...change }
      : value;
  if (chip.kind === 'length') return { ...chip, length: counted(chip.length) };
  if (chip.kind === 'length-range') return { ...chip, from: counted(chip.from), to: counted(chip.to) };
  return chip.kind === 'accent' ? { ...chip, at: counted(chip.at) } : chip;
}

function numberIn(input: HTMLInputElement): number | null {
  const value = input.value.trim() === '' ? Number.NaN : Number(input.value);
  return Number.isFinite(value) && value >= Number(input.min) ? value : null;
}

function setValue(id: string, value: string): void {
  const control = byId<HTMLInputElement | HTMLSelectElement>(id);
  if (control.value !== value && document.activeElement !== control) control.value = value;
}

function showMetre(metre: Metre | null): void {
  const select = byId('metre', HTMLSelectElement);
  const wanted = metre ? formatMetre(metre) : '';
  if (![...select.options].some((option) => option.value === wanted)) select.append(make('option', {}, wanted));
  select.value = wanted;
}

function matchOption(id: string, value: string | undefined): string {
  const wanted = value?.toLowerCase();
  return [...byId(id, HTMLSelectElement).options].find((option) => option.value.toLowerCase() === wanted)?.value ?? '';
}

function fillPicker(select: HTMLSelectElement, values: readonly string[]): void {
  select.append(...values.map((value) => make('option', { value }, value)));
}

function choices(id: string, act: (value: string, on: boolean) => void): void {
  byId(id).addEventListener('click', (event) => {
    const button = event.target instanceof Element ? event.target.closest<HTMLElement>('.choice') : null;
    if (button?.dataset.value) act(button.dataset.value, button.getAttribute('aria-pressed') !== 'true');
  });
}

function press(id: string, isOn: (value: string) => boolean): void {
  for (const button of byId(id).querySelectorAll<HTMLElement>('.choice'))
    setPressed(button, isOn(button.dataset.value ?? ''));
}
