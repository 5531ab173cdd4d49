/** A rule of a question: looks at one place in the text and says what it understands there, or null. */
import type { ChipContent } from './chips.ts';
import type { Found } from './quantities.ts';
import type { Reader } from './reader.ts';

export type Rule = (reader: Reader, at: number) => Found<ChipContent> | null;
