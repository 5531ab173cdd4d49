/**
 * Words for the colour of a sound, and the measurement each stands on.
 *
 * "Dark" has no limit in Hz: in an archive of gongs it is another thing than in one of flutes. So most colours go by
 * standing: the lowest or highest third of this archive, shading off to the middle. A few are plain facts.
 */
import type { NumericField } from '../shelf.ts';

export type ColourName = (typeof COLOURS)[number]['name'];

/** Sounds in the outer third answer fully; the answer shades off to nothing at the half. */
export const FULL_SHARE = 1 / 3;
export const NO_SHARE = 1 / 2;

export type ColourRule =
  /** `end`: which end of the field's range answers. `comparative` completes "... than 80 %". */
  | { by: 'standing'; field: NumericField; end: 'low' | 'high'; comparative: string }
  /** True where the field has a value, or has none. */
  | { by: 'presence'; field: NumericField; present: boolean }
  | { by: 'mono'; mono: boolean };

export interface Colour {
  name: string;
  /** How people also say it; whole words or phrases, lower case. */
  also: readonly string[];
  rule: ColourRule;
  /** What the chip states as its threshold. */
  meaning: string;
}

const lowest = (field: NumericField, comparative: string): ColourRule => ({
  by: 'standing',
  field,
  end: 'low',
  comparative,
});
const highest = (field: NumericField, comparative: string): ColourRule => ({
  by: 'standing',
  field,
  end: 'high',
  comparative,
});

export const COLOURS = [
  {
    name: 'dark',
    also: ['darker', 'dull', 'muffled', 'sombre', 'somber'],
    rule: lowest('centroidHz', 'darker'),
    meaning: 'lowest third by spectral centroid',
  },
  {
    name: 'bright',
    also: ['brighter', 'brilliant', 'shiny', 'glassy'],
    rule: highest('centroidHz', 'brighter'),
    meaning: 'highest third by spectral centroid',
  },
  {
    name: 'smooth',
    also: ['smoother'],
    rule: lowest('roughness', 'smoother'),
    meaning: 'lowest third by roughness',
  },
  {
    name: 'rough',
    also: ['rougher', 'grainy', 'gritty', 'harsh', 'raspy'],
    rule: highest('roughness', 'rougher'),
    meaning: 'highest third by roughness',
  },
  {
    name: 'pitched',
    also: ['tuned', 'with pitch', 'has pitch'],
    rule: { by: 'presence', field: 'pitchHz', present: true },
    meaning: 'has a pitch',
  },
  {
    name: 'unpitched',
    also: ['no pitch', 'without pitch', 'pitchless', 'untuned', 'no note', 'without a note', 'not pitched'],
    rule: { by: 'presence', field: 'pitchHz', present: false },
    meaning: 'has no pitch',
  },
  {
    name: 'noisy',
    also: ['noisier', 'noiselike', 'hissy'],
    rule: highest('flatness', 'noisier'),
    meaning: 'highest third by spectral flatness',
  },
  {
    name: 'tonal',
    also: ['tonelike'],
    rule: lowest('flatness', 'more tonal'),
    meaning: 'lowest third by spectral flatness',
  },
  {
    name: 'dry',
    also: ['drier', 'damped'],
    rule: lowest('decaySeconds', 'drier'),
    meaning: 'lowest third by length of decay',
  },
  {
    name: 'ringing',
    also: ['rings', 'resonant', 'wet', 'let ring'],
    rule: highest('decaySeconds', 'longer ringing'),
    meaning: 'highest third by length of decay',
  },
  {
    name: 'wide',
    also: ['wider'],
    rule: highest('stereoWidth', 'wider'),
    meaning: 'highest third by stereo width',
  },
  {
    name: 'narrow',
    also: ['narrower'],
    rule: lowest('stereoWidth', 'narrower'),
    meaning: 'lowest third by stereo width',
  },
  { name: 'mono', also: ['monaural'], rule: { by: 'mono', mono: true }, meaning: 'one channel, or both the same' },
  { name: 'stereo', also: [], rule: { by: 'mono', mono: false }, meaning: 'two channels that differ' },
  {
    name: 'loud',
    also: ['louder'],
    rule: highest('integratedLufs', 'louder'),
    meaning: 'highest third by loudness as recorded',
  },
  {
    name: 'quiet',
    also: ['quieter'],
    rule: lowest('integratedLufs', 'quieter'),
    meaning: 'lowest third by loudness as recorded',
  },
  {
    name: 'sharp attack',
    also: ['fast attack', 'hard attack', 'quick attack'],
    rule: lowest('attackSeconds', 'faster attack'),
    meaning: 'lowest third by length of attack',
  },
  {
    name: 'slow attack',
    also: ['soft attack', 'gentle attack', 'long attack'],
    rule: highest('attackSeconds', 'slower attack'),
    meaning: 'highest third by length of attack',
  },
  {
    name: 'short',
    also: ['shorter', 'brief'],
    rule: lowest('activeSeconds', 'shorter'),
    meaning: 'shortest third',
  },
  { name: 'long', also: ['longer'], rule: highest('activeSeconds', 'longer'), meaning: 'longest third' },
  {
    name: 'brightening',
    also: ['grows brighter', 'growing brighter'],
    rule: highest('brightnessSlope', 'more brightening'),
    meaning: 'highest third by change of spectral centroid',
  },
  {
    name: 'darkening',
    also: ['grows darker', 'growing darker'],
    rule: lowest('brightnessSlope', 'more darkening'),
    meaning: 'lowest third by change of spectral centroid',
  },
  {
    name: 'trembling',
    also: ['with tremolo', 'wobbling'],
    rule: { by: 'presence', field: 'tremoloHz', present: true },
    meaning: 'has a tremolo',
  },
  {
    name: 'rhythmic',
    also: ['with pulse'],
    rule: { by: 'presence', field: 'pulseBpm', present: true },
    meaning: 'has a pulse',
  },
] as const satisfies readonly Colour[];

/** Every way of saying a colour, longest first so that "grows brighter" is tried before "brighter". */
export const COLOUR_WORDS: readonly (readonly [said: string, name: ColourName])[] = COLOURS.flatMap((colour) =>
  [colour.name, ...colour.also].map((said) => [said, colour.name] as const),
).sort((a, b) => b[0].length - a[0].length);

/** Fields by whose order in the archive a colour is judged. */
export const STANDING_FIELDS: readonly NumericField[] = [
  ...new Set(COLOURS.flatMap(({ rule }: Colour) => (rule.by === 'standing' ? [rule.field] : []))),
];

const BY_NAME = new Map<ColourName, Colour>(COLOURS.map((colour) => [colour.name, colour]));

export function colourOf(name: ColourName): Colour {
  return BY_NAME.get(name) ?? COLOURS[0];
}
