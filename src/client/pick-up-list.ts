/** Pick-ups: what no take answered and is still to be recorded, each with the figures of the wish. Pure. */
import { figureOrNull, oneLine, text } from './carried.ts';
import { readShape, writeShape } from './drawn-shape.ts';
import { seconds } from './format.ts';

export interface PickUp {
  id: string;
  /** The question as it was asked; asking it again looks whether it has been recorded since. */
  wish: string;
  /** The curve drawn beside it, as a link carries it (drawn-shape.ts); empty where none was. */
  shape: string;
  /** `yyyy-mm-dd` of the wish. */
  askedOn: string;
  /** What the pieces of the wish come to, e.g. "2 bars at 84: 5.71 s". */
  figures: readonly string[];
  lengthSeconds: number | null;
  /** From the start of the take to its accent. */
  accentSeconds: number | null;
  tempoBpm: number | null;
  /** As written, e.g. "7/8". */
  metre: string | null;
  /** The take that came nearest when it was asked, and how it misses; empty where none came near. */
  nearest: string;
  nearestId: string;
  note: string;
}

/** null for what is no pick-up. Fields it does not know it leaves out. */
export function readPickUp(value: unknown): PickUp | null {
  if (value === null || typeof value !== 'object') return null;
  const read = value as Record<string, unknown>;
  if (text(read.id) === '' || text(read.wish) === '') return null;
  const shape = readShape(text(read.shape));
  return {
    id: text(read.id),
    wish: text(read.wish),
    shape: shape === null ? '' : writeShape(shape),
    askedOn: text(read.askedOn),
    figures: Array.isArray(read.figures) ? read.figures.map(text).filter((line) => line !== '') : [],
    lengthSeconds: figureOrNull(read.lengthSeconds),
    accentSeconds: figureOrNull(read.accentSeconds),
    tempoBpm: figureOrNull(read.tempoBpm),
    metre: text(read.metre) || null,
    nearest: text(read.nearest),
    nearestId: text(read.nearestId),
    note: text(read.note),
  };
}

/** What tells one pick-up from another. */
export type Wished = Pick<PickUp, 'wish' | 'shape'>;

export const isSameWish = (one: Wished, other: Wished): boolean => one.wish === other.wish && one.shape === other.shape;

/** `incoming` joins `present`: new ones at the end; of one held already only an empty note is filled. */
export function mergePickUps(present: readonly PickUp[], incoming: readonly PickUp[]): PickUp[] {
  const out = present.map((pickUp) => ({ ...pickUp }));
  const byId = new Map(out.map((pickUp) => [pickUp.id, pickUp]));
  const byWish = new Map(out.map((pickUp) => [wishKey(pickUp), pickUp]));
  for (const pickUp of incoming) {
    const held = byId.get(pickUp.id) ?? byWish.get(wishKey(pickUp));
    if (held) {
      if (held.note === '') held.note = pickUp.note;
      continue;
    }
    const added = { ...pickUp };
    out.push(added);
    byId.set(added.id, added);
    byWish.set(wishKey(added), added);
  }
  return out;
}

const wishKey = ({ wish, shape }: Wished): string => JSON.stringify([wish, shape]);

/** A sheet to take to the recording: one pick-up a paragraph, with a box to tick. */
export function toSheet(pickUps: readonly PickUp[]): string {
  const paragraphs = pickUps.map((pickUp, at) => {
    const lines = [
      ...pickUp.figures,
      pickUp.accentSeconds === null ? '' : `accent ${seconds(pickUp.accentSeconds)} after the start`,
      pickUp.nearest && `nearest on the shelf: ${pickUp.nearest}`,
      pickUp.note && `note: ${pickUp.note}`,
      pickUp.askedOn && `asked on ${pickUp.askedOn}`,
    ];
    const below = lines.filter((line) => line !== '').map((line) => `       ${oneLine(line)}\n`);
    return `[ ] ${at + 1}. ${oneLine(pickUp.wish)}\n${below.join('')}`;
  });
  return `To be recorded\n\n${paragraphs.join('\n')}`;
}
