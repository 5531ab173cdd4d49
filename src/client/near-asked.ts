/** What the sounds found should come near to: a curve that was drawn, a sound that was sung or dropped, or both. */
import type { Nearness } from '../../shared/query/nearness.ts';
import { nearShape } from '../../shared/query/shape-words.ts';
import {
  bothNearnesses,
  colourNearness,
  contourOfActivePart,
  shapeNearness,
} from '../../shared/query/sound-nearness.ts';
import type { Shelf } from '../../shared/shelf.ts';
import { type DrawnShape, wantedOf } from './drawn-shape.ts';
import type { OtherChip } from './other-chip.ts';
import type { SoundAsked } from './sound-asked.ts';

export interface Asked {
  shape: DrawnShape | null;
  recorded: SoundAsked | null;
}

/** Looks over the shelf once for each thing asked, however many letters are typed beside it. */
export class NearAsked {
  private readonly shelf: Shelf;
  private last: Asked = { shape: null, recorded: null };
  private nearness: Nearness | null = null;

  constructor(shelf: Shelf) {
    this.shelf = shelf;
  }

  of({ shape, recorded }: Asked): Nearness | null {
    if (shape === this.last.shape && recorded === this.last.recorded) return this.nearness;
    this.last = { shape, recorded };
    this.nearness = this.make({ shape, recorded });
    return this.nearness;
  }

  private make({ shape, recorded }: Asked): Nearness | null {
    const { shelf } = this;
    if (recorded === null) return shape && nearShape(shelf, wantedOf(shape));
    if (recorded.way === 'colour' || shape === null) return colourNearness(shelf, recorded.colour);
    // As measured, until it is drawn over.
    const contour = isDrawnOver({ shape, recorded }) ? wantedOf(shape).contour : contourOfActivePart(recorded.measured);
    const byShape = shapeNearness(shelf, { contour, seconds: shape.seconds });
    if (recorded.way === 'shape') return byShape;
    return bothNearnesses(shelf.count, byShape, colourNearness(shelf, recorded.colour));
  }
}

const isDrawnOver = ({ shape, recorded }: Asked): boolean =>
  shape !== null && recorded !== null && shape.heights !== recorded.heights;

/** The curve that goes with a recorded sound: its own where its shape is asked, none where only its colour is. */
export function shapeFor(recorded: SoundAsked, before: DrawnShape | null): DrawnShape | null {
  if (recorded.way === 'colour') return null;
  return { heights: recorded.heights, seconds: before?.seconds ?? null };
}

/** What is left of a recorded sound once its curve is rubbed out: its colour, where that was asked too. */
export function withoutShape(recorded: SoundAsked): SoundAsked | null {
  if (recorded.way === 'colour') return recorded;
  return recorded.way === 'both' ? { ...recorded, way: 'colour' } : null;
}

export function recordedChip(
  recorded: SoundAsked,
  shape: DrawnShape | null,
  acts: Pick<OtherChip, 'edit' | 'remove'>,
): OtherChip {
  const over = isDrawnOver({ shape, recorded });
  return {
    kind: 'like',
    label:
      over && recorded.way === 'shape'
        ? `shape begun from ${recorded.name}`
        : `like ${recorded.name}, by ${recorded.way}`,
    detail: over && recorded.way === 'both' ? 'shape changed' : '',
    ...acts,
  };
}
