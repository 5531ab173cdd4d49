/** Random questions, and what must hold of every chip that is read from one. */
import type { Chip } from '../../shared/query/chips.ts';
import { chipToText, type ParseContext, parseQuery, sameChip } from '../../shared/query/parse.ts';
import type { Random } from '../measure/random.ts';

/** Everything the grammar knows about, and things close to it. */
const PARTS = [
  ...'2 bars at 84|3.5 s|800ms|under|over 10s|2-4s|about|1:30|3 beats|of 7/8|in 6/8|at dotted quarter = 60|♩ = 72'.split(
    '|',
  ),
  ...'accent at end|accent|at 1.5s|on beat 3|on bar 2 beat 3|on the next downbeat|at 60 %|late accent|third beat|of bar 3|landing on|run-up|to the accent|or'.split(
    '|',
  ),
  ...'hit|swells|risers|drone|pulsing|dark|brighter|sharp attack|no pitch|wide|mono|C2|F#3|Bb1|note a|around 110 Hz'.split(
    '|',
  ),
  ...'in Boathouse|session "old mill"|tagged metal|untagged|rights cleared|rights missing|owner anna|used|fresh'.split(
    '|',
  ),
  ...'wav|ogg vorbis|not|without|no|a|the|and|"quoted words"|“|”|"|-12 st|two octaves down|half speed|up 5 st|down two octaves|max|@ 84|F sharp 3'.split(
    '|',
  ),
  ...'metal|MetalSwipe_017-03.wav|Größe|ﬁ|½|…|😀|İstanbul|2.5|0|-1|999999|1e9|..|,,|;|(|)|/|:|#|♭|\u0301|\u200b|\u00a0'.split(
    '|',
  ),
];
const CHARACTERS = [...'abcdefghijklmnopqrstuvwxyz0123456789 .,;:/-+#"“”()%=\'\t\nÄéßñΩж中♯♭♩½ﬁ\u0301\u200d😀'];

export function randomText(random: Random): string {
  const parts = Array.from({ length: random.whole(0, 7) }, () => random.pick(PARTS));
  const text = parts.join(random.pick([' ', ' ', ', ', '']));
  if (random.chance(0.3)) return text;
  const characters = [...text];
  for (let changes = random.whole(0, 4); changes > 0; changes--) {
    const at = random.whole(0, characters.length);
    const kind = random.whole(0, 2);
    if (kind === 0) characters.splice(at, 1);
    else if (kind === 1) characters.splice(at, 0, random.pick(CHARACTERS));
    else characters[at] = random.pick(CHARACTERS);
  }
  return characters.join('');
}

export const CONTEXTS: readonly ParseContext[] = [
  {},
  { tempoBpm: 84 },
  { tempoBpm: 61.5, metre: { beats: 7, unit: 8 }, sessions: ['Boathouse', 'Old Mill'] },
];

/** What is wrong with a chip; null where it is as it should be. */
export function fault(chip: Chip, text: string, context: ParseContext): string | null {
  const [start, end] = chip.span;
  if (!(start >= 0 && start < end && end <= text.length)) return `span ${start}..${end}`;
  if (chip.label.trim() === '') return 'no label';
  const written = chipToText(chip);
  const alone = parseQuery(written).chips;
  if (alone.length !== 1 || !sameChip(alone[0], chip)) return `"${written}" reads differently`;
  // In its context a chip that lacks a tempo or metre takes it from there, as it did the first time.
  const inContext = parseQuery(written, context).chips;
  if (inContext.length !== 1 || inContext[0].kind !== chip.kind) return `"${written}" reads differently in its context`;
  return holdsOnlyNumbers(chip) ? null : 'a number that is none';
}

function holdsOnlyNumbers(value: unknown): boolean {
  if (typeof value === 'number') return Number.isFinite(value);
  return typeof value !== 'object' || value === null || Object.values(value).every(holdsOnlyNumbers);
}
