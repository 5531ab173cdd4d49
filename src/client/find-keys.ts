/** What each key does on the Find page. */
import type { Bench } from './bench.ts';
import type { Controls } from './controls.ts';
import { byId } from './dom.ts';
import type { KeyAction } from './keys.ts';
import type { List } from './list.ts';
import type { Question } from './question.ts';
import type { Selects } from './selects.ts';
import type { Speeds } from './speeds.ts';
import type { PaneName, Store } from './state.ts';
import type { Wish } from './wish.ts';

export interface FindParts {
  store: Store;
  question: Question;
  controls: Controls;
  selects: Selects;
  speeds: Speeds;
  wish: Wish;
  bench: Bench;
  list: List;
  /** Rows onward from the sound in hand. */
  step: (rows: number) => void;
  goTo: (row: number) => void;
  openPane: (pane: PaneName) => void;
  /** Listens to the microphone, or stops. */
  sing: () => void;
  /** From now on Alike asks from the sound in hand, too. */
  keepAsking: () => void;
  nextTheme: () => void;
}

const OCTAVE = 12;
const AXIS_STEP = 1.25;
const SHORTEST_AXIS_SECONDS = 0.05;
const LONGEST_AXIS_SECONDS = 3600;

export function keyActions(parts: FindParts): KeyAction[] {
  const { store, question, controls, selects, wish, bench, list, step, goTo, nextTheme } = parts;
  const pane = (name: PaneName, focus: string) => () => {
    parts.openPane(name);
    byId(focus).focus();
  };
  const zoomAxis = (factor: number) => {
    const seconds = list.spanSeconds * factor;
    store.set({ axisSeconds: Math.max(SHORTEST_AXIS_SECONDS, Math.min(LONGEST_AXIS_SECONDS, seconds)) });
  };
  const find = 'Find';
  const play = 'Play';
  const look = 'Look';
  return [
    { group: find, keys: ['/'], shown: ['/'], does: 'to the question', run: () => question.focus() },
    { group: find, keys: ['Escape'], shown: ['Esc'], does: 'back to the question', run: () => question.focus() },
    { group: find, keys: ['h'], shown: ['h'], does: 'set by hand', run: () => controls.toggle() },
    {
      group: find,
      keys: ['v'],
      shown: ['v'],
      does: 'also at other speeds, or as recorded only',
      run: () => parts.speeds.toggle(),
    },
    { group: find, keys: ['t'], shown: ['t'], does: 'tap the tempo', run: () => controls.tap() },
    {
      group: find,
      keys: ['Enter', 'Backspace'],
      shown: ['Enter', '⌫'],
      does: 'in the question: take as pieces, remove the last',
      run: () => bench.play(),
      elsewhere: true,
    },
    {
      group: find,
      keys: ['ArrowDown', 'ArrowUp'],
      shown: ['↓', '↑'],
      does: 'next, previous, and hear it',
      run: (key) => step(key === 'ArrowDown' ? 1 : -1),
    },
    {
      group: find,
      keys: ['PageDown', 'PageUp'],
      shown: ['PgDn', 'PgUp'],
      does: 'a page on, a page back',
      run: (key) => step((key === 'PageDown' ? 1 : -1) * list.pageRows),
    },
    {
      group: find,
      keys: ['Home', 'End'],
      shown: ['Home', 'End'],
      does: 'first, last',
      run: (key) => goTo(key === 'Home' ? 0 : store.get().results.found - 1),
    },
    { group: find, keys: ['b'], shown: ['b'], does: 'by voice: sing it; again: find what was sung', run: parts.sing },
    {
      group: find,
      keys: ['s'],
      shown: ['s'],
      does: 'select, or no longer',
      run: () => selects.toggle(store.get().sound),
    },
    {
      group: find,
      keys: ['p'],
      shown: ['p'],
      does: 'put what is asked for on the pick-up list',
      run: () => wish.write(),
    },
    {
      group: play,
      keys: [' '],
      shown: ['Space'],
      does: 'play, stop; while Cue is open, in its bars',
      run: () => bench.toggle(),
    },
    {
      group: play,
      keys: ['Enter'],
      shown: ['Enter'],
      does: 'play from the start',
      run: () => bench.playFromStart(),
    },
    { group: play, keys: ['l'], shown: ['l'], does: 'loop', run: () => store.set({ loop: !store.get().loop }) },
    {
      group: play,
      keys: ['[', ']'],
      shown: ['[', ']'],
      does: 'a semitone slower, faster',
      run: (key) => bench.changeSpeed(key === ']' ? 1 : -1),
    },
    {
      group: play,
      keys: ['{', '}'],
      shown: ['{', '}'],
      does: 'an octave slower, faster',
      run: (key) => bench.changeSpeed(key === '}' ? OCTAVE : -OCTAVE),
    },
    { group: play, keys: ['\\'], shown: ['\\'], does: 'as recorded', run: () => store.set({ speed: 0 }) },
    {
      group: play,
      keys: [',', '.'],
      shown: [',', '.'],
      does: 'softer, louder',
      run: (key) => bench.changeLevel(key === '.' ? 1 : -1),
    },
    {
      group: play,
      keys: ['x', 'X'],
      shown: ['x', 'X'],
      does: 'to the other take and back; keep this one as the other',
      run: (key) => (key === 'x' ? bench.swap() : bench.keepOther()),
    },
    {
      group: play,
      keys: ['k', 'r'],
      shown: ['k', 'r'],
      does: 'click, room: on or off',
      run: (key) => bench.place.switch(key === 'k' ? 'click' : 'room'),
    },
    {
      group: play,
      keys: ['o'],
      shown: ['o'],
      does: 'play on move, or stay silent',
      run: () => store.set({ playOnMove: !store.get().playOnMove }),
    },
    { group: look, keys: ['m'], shown: ['m'], does: 'map; there the arrows go that way', run: pane('map', 'map') },
    { group: look, keys: ['i'], shown: ['i'], does: 'all about this sound', run: pane('sound', 'pane-sound') },
    { group: look, keys: ['n'], shown: ['n'], does: 'nearest to this sound', run: pane('alike', 'pane-alike') },
    { group: look, keys: ['a'], shown: ['a'], does: 'nearest to this sound too', run: parts.keepAsking },
    { group: look, keys: ['w'], shown: ['w'], does: 'a shape to come near to', run: pane('shape', 'shape-curve') },
    {
      group: look,
      keys: ['q'],
      shown: ['q'],
      does: 'in its bars: against click and cue',
      run: pane('cue', 'pane-cue'),
    },
    { group: look, keys: ['c'], shown: ['c'], does: 'selects', run: pane('selects', 'pane-selects') },
    {
      group: look,
      keys: ['-', '=', '+'],
      shown: ['-', '+'],
      does: 'time axis (on the map: the map) smaller, larger',
      run: (key) => zoomAxis(key === '-' ? AXIS_STEP : 1 / AXIS_STEP),
    },
    { group: look, keys: ['0'], shown: ['0'], does: 'fit again', run: () => store.set({ axisSeconds: null }) },
    { group: look, keys: ['d'], shown: ['d'], does: 'day, night, or as the system has it', run: nextTheme },
    {
      group: look,
      keys: ['?'],
      shown: ['?'],
      does: 'this list',
      run: () => byId('keys', HTMLDialogElement).showModal(),
    },
  ];
}
