/** A sound that is asked with, as the page holds it. */
import type { WantedColour } from '../../shared/query/sound-nearness.ts';
import type { Measurements } from '../../shared/sound.ts';

export const WAYS = ['shape', 'colour', 'both'] as const;
export type Way = (typeof WAYS)[number];

export interface SoundAsked {
  /** The file's name, or "what was sung". */
  name: string;
  way: Way;
  measured: Measurements;
  /** Its contour as if it had been drawn: what stands in the pane to be drawn over, and what a link carries. */
  heights: readonly number[];
  colour: WantedColour;
}
