/**
 * What a word says of the sound itself. "Held" is looked for in what people wrote, but where the house vocabulary puts it
 * with "drone", sounds that were measured to hold answer as well: most takes carry no words at all.
 */
import { type FaultKind, GESTURES } from '../sound.ts';
import type { ChipFrame } from './chips.ts';
import { COLOURS } from './colours.ts';
import { type Criterion, eitherOf, plainFact, type Scene } from './criterion.ts';
import { gestureCriterion } from './gesture-criterion.ts';
import { fold } from './reader.ts';
import { colourCriterion } from './sound-criteria.ts';

/** How people call what the build finds wrong with a sound. */
const FAULT_WORDS: Readonly<Record<string, FaultKind>> = {
  hum: 'hum',
  mains: 'hum',
  clipped: 'clipping',
  clipping: 'clipping',
  overloaded: 'clipping',
  distorted: 'clipping',
  dropout: 'dropout',
  dropouts: 'dropout',
  truncated: 'truncated-tail',
};

/** Any of the gestures and colours that the vocabulary puts with a word, or a fault; null where there are none. */
export function meaningOf(text: string, scene: Scene): Criterion | null {
  const names = new Set(scene.index.answersTo(text));
  const frame: ChipFrame = { negated: false, span: [0, 0], label: text, detail: '' };
  const gestures = GESTURES.filter((name) => names.has(name)).map((gesture) =>
    gestureCriterion({ kind: 'gesture', gesture, ...frame }, scene),
  );
  const colours = COLOURS.filter(({ name }) => names.has(name)).map(({ name }) =>
    colourCriterion({ kind: 'colour', colour: name, ...frame }, scene),
  );
  const fault = FAULT_WORDS[fold(text)];
  const { columns } = scene;
  const faults = fault
    ? [plainFact((sound) => columns.faults(sound).includes(fault), columns.count, `has ${fault}`)]
    : [];
  const meanings = [...gestures, ...colours, ...faults];
  return meanings.length > 0 ? eitherOf(meanings) : null;
}
