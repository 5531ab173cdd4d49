/**
 * All that changes on the Find page, in one place, and the part of it that a link carries.
 *
 * The URL's hash is the shareable form: question, sound in hand, varispeed, pane and map view. Settings that belong to the
 * person (theme, keys, level) are kept in the browser instead and never travel.
 */
import { EMPTY_QUERY, type Query } from '../../shared/query/chips.ts';
import { parseShifts } from '../../shared/query/varispeed.ts';
import { FIRST_PLACE_SETTINGS, NO_PAIR, type PairState, type PlaceSettings } from './context/settings.ts';
import { type DrawnShape, readShape, writeShape } from './drawn-shape.ts';
import type { SoundAsked } from './sound-asked.ts';

export type PaneName = 'list' | 'map' | 'sound' | 'alike' | 'shape' | 'cue' | 'selects';
export const PANES: readonly PaneName[] = ['list', 'map', 'sound', 'alike', 'shape', 'cue', 'selects'];

/** Centre in map units, and pixels a map unit; null shows the whole map. */
export interface MapView {
  x: number;
  y: number;
  scale: number;
}

/** What the list and the map show: sounds in order, best first. */
export interface Results {
  order: Uint32Array;
  /** How many of `order` answer the question. */
  found: number;
}

export interface State {
  /** Pieces of the question already taken as chips, as text. */
  pieces: readonly string[];
  /** What stands in the box. */
  typed: string;
  /** The course of loudness asked for beside the text. */
  shape: DrawnShape | null;
  /** A sound that was sung or dropped; no link carries it. */
  recorded: SoundAsked | null;
  query: Query;
  results: Results;
  /** Index of the sound in hand; -1 for none. */
  sound: number;
  /** Sounds that Alike was told to ask from; empty where it follows the sound in hand. */
  alikeFrom: readonly number[];
  pane: PaneName;
  mapView: MapView | null;
  /** Seconds across the list's plot; null fits the results. */
  axisSeconds: number | null;
  /** Varispeed in semitones. */
  speed: number;
  /** Further speeds that every sound may answer at; empty where they answer as recorded only. */
  alsoAt: readonly number[];
  playing: boolean;
  loop: boolean;
  /** Play each sound as one moves to it. */
  playOnMove: boolean;
  /** Hearing it in its bars. */
  place: PlaceSettings;
  /** The takes one goes between. */
  pair: PairState;
}

export const INITIAL_STATE: State = {
  pieces: [],
  typed: '',
  shape: null,
  recorded: null,
  query: EMPTY_QUERY,
  results: { order: new Uint32Array(0), found: 0 },
  sound: -1,
  alikeFrom: [],
  pane: 'map',
  mapView: null,
  axisSeconds: null,
  speed: 0,
  alsoAt: [],
  playing: false,
  loop: false,
  playOnMove: true,
  place: FIRST_PLACE_SETTINGS,
  pair: NO_PAIR,
};

type Listener = (state: State, before: State) => void;

export class Store {
  private state: State;
  private readonly listeners: { keys: readonly (keyof State)[]; act: Listener }[] = [];

  constructor(initial: State = INITIAL_STATE) {
    this.state = initial;
  }

  get(): State {
    return this.state;
  }

  /** Changes some fields and tells those who listen to one that really changed. */
  set(patch: Partial<State>): void {
    const before = this.state;
    const changed = (Object.keys(patch) as (keyof State)[]).filter((key) => !Object.is(patch[key], before[key]));
    if (changed.length === 0) return;
    this.state = { ...before, ...patch };
    for (const { keys, act } of this.listeners) if (keys.some((key) => changed.includes(key))) act(this.state, before);
  }

  on(keys: readonly (keyof State)[], act: Listener): void {
    this.listeners.push({ keys, act });
  }
}

/** The question as one text: commas keep the pieces apart. */
export function questionText({ pieces, typed }: Pick<State, 'pieces' | 'typed'>): string {
  return [...pieces, typed.trim()].filter((piece) => piece !== '').join(', ');
}

/** Varispeed as the slider has it: whole semitones, two octaves either way. */
export const wholeSpeed = (semitones: number): number => Math.max(-24, Math.min(24, Math.round(semitones)));

/** The varispeed the question itself asks at; 0 where it asks at none. */
export function speedAsked(query: Query): number {
  const chip = query.chips.find(({ kind }) => kind === 'varispeed');
  return chip?.kind === 'varispeed' ? wholeSpeed(chip.semitones) : 0;
}

export interface Link {
  question: string;
  shape: DrawnShape | null;
  soundId: string | null;
  alikeIds: readonly string[];
  /** null: as the question has it. */
  speed: number | null;
  alsoAt: readonly number[];
  pane: PaneName | null;
  mapView: MapView | null;
  /** Where in the sound to stand, as the report's links ask. */
  atSeconds: number | null;
}

export function writeLink(link: Link): string {
  const parts = new URLSearchParams();
  if (link.question) parts.set('q', link.question);
  if (link.shape) parts.set('shape', writeShape(link.shape));
  if (link.soundId) parts.set('sound', link.soundId);
  if (link.alikeIds.length > 0) parts.set('alike', link.alikeIds.join('_'));
  if (link.speed !== null) parts.set('speed', String(link.speed));
  if (link.alsoAt.length > 0) parts.set('also', link.alsoAt.join('_'));
  if (link.pane && link.pane !== 'map') parts.set('pane', link.pane);
  if (link.mapView) {
    const { x, y, scale } = link.mapView;
    parts.set('map', [x.toFixed(3), y.toFixed(3), scale.toFixed(2)].join('_'));
  }
  if (link.atSeconds !== null) parts.set('at', String(link.atSeconds));
  const text = parts.toString();
  return text ? `#${text}` : '';
}

/** Alike asks from no more sounds than this together. */
const MOST_ALIKE = 24;

/** Reads a hash; what it does not understand it leaves out. */
export function readLink(hash: string): Link {
  const parts = new URLSearchParams(hash.replace(/^#/, ''));
  const numberOf = (text: string | null | undefined): number | null => {
    const value = text ? Number(text) : Number.NaN;
    return Number.isFinite(value) ? value : null;
  };
  const [x = null, y = null, scale = null] = (parts.get('map') ?? '').split('_').map(numberOf);
  const speed = numberOf(parts.get('speed'));
  const pane = PANES.find((name) => name === parts.get('pane')) ?? null;
  return {
    question: parts.get('q') ?? '',
    shape: readShape(parts.get('shape') ?? ''),
    soundId: parts.get('sound') || null,
    alikeIds: [...new Set((parts.get('alike') ?? '').split('_'))].filter((id) => id !== '').slice(0, MOST_ALIKE),
    speed: speed === null ? null : wholeSpeed(speed),
    alsoAt: parseShifts((parts.get('also') ?? '').replaceAll('_', ' '))?.filter(Number.isInteger) ?? [],
    pane,
    mapView: x !== null && y !== null && scale !== null && scale > 0 ? { x, y, scale } : null,
    atSeconds: numberOf(parts.get('at')),
  };
}
