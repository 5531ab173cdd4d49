/** What is set in the Cue pane. It lasts as long as the page: a cue is never kept, and nothing of it is sent. */
import type { CountIn } from '../../../shared/placing.ts';
import type { CueFile } from './cue-file.ts';

export interface PlaceSettings {
  /** While the pane is open, what is played is played in its bars. */
  inPlace: boolean;
  click: boolean;
  countIn: CountIn;
  room: boolean;
  /** 0 is the sound alone, 1 the room alone. */
  roomAmount: number;
  roomSeconds: number;
  cue: CueFile | null;
  /** The cue's time at bar 1 beat 1. */
  barOneSeconds: number;
  /** Against the level at which take and cue are equally loud. */
  cueLevelDb: number;
  cueMuted: boolean;
}

export const FIRST_PLACE_SETTINGS: PlaceSettings = {
  inPlace: true,
  click: true,
  countIn: 'needed',
  room: false,
  roomAmount: 0.3,
  roomSeconds: 1.8,
  cue: null,
  barOneSeconds: 0,
  cueLevelDb: 0,
  cueMuted: false,
};

/** The two takes one goes between. */
export interface PairState {
  /** In hand before this one; -1 for none. */
  previous: number;
  /** The one of the two that came in hand first: it is called A. */
  first: number;
  /** Kept as the other; -1 for none. */
  kept: number;
  /** True once one went from one to the other, until another take comes in hand. */
  comparing: boolean;
}

export const NO_PAIR: PairState = { previous: -1, first: -1, kept: -1, comparing: false };

/** The take that `x` goes to; -1 where there is none. */
export function otherOf({ previous, kept }: PairState, inHand: number): number {
  if (kept >= 0 && kept !== inHand) return kept;
  return previous !== inHand ? previous : -1;
}

/** A for the kept one or the one that came first, B for the other. */
export function letterOf({ first, kept }: PairState, sound: number): 'A' | 'B' {
  return sound === (kept >= 0 ? kept : first) ? 'A' : 'B';
}
