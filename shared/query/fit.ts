/**
 * How well a time fits a wanted time, in one place for ranking and for placing.
 *
 * Tolerance: in a row of equal beats people notice a shift of 2.5 % above about 240 ms, and of 6 ms below (Friberg and
 * Sundberg, JASA 98(5), 1995, abstract, as read second-hand). What misses by less than that fits as it is.
 */
import type { Seconds } from '../sound.ts';

const NOTICED_SHARE = 0.025;
const NOTICED_SECONDS = 0.006;

/** Scores at and above this mean "fits as it is"; exact in binary, as scores are kept in 32 bits. */
export const FITS = 0.75;
/** The score of what only just fits: a little above FITS, clear of rounding. */
const JUST_FITS = 0.76;
/** The best score of what does not fit and would have to be bent. */
const BENT = 0.6;
/** Sounds that answer a question not at all. */
export const LEFT_OUT = -1;

/** How far off still fits, and how far off is still worth showing. */
export interface Reach {
  fits: Seconds;
  shown: Seconds;
}

/** A miss beyond a fifth (just under four semitones of varispeed), or a tenth of a second for very short times, is not shown. */
const SHOWN_SHARE = 0.2;
const SHOWN_SECONDS = 0.1;
/** In seconds people ask by memory or by guess; they are shown what misses by up to three tenths. */
const SECONDS_SHOWN_SHARE = 0.3;
const ABOUT_FITS_SHARE = 0.1;
const ABOUT_SHOWN_SHARE = 0.5;

export function exactReach(wanted: Seconds): Reach {
  return reachOf(wanted, NOTICED_SHARE, SHOWN_SHARE);
}

export function secondsReach(wanted: Seconds): Reach {
  return reachOf(wanted, NOTICED_SHARE, SECONDS_SHOWN_SHARE);
}

export function aboutReach(wanted: Seconds): Reach {
  return reachOf(wanted, ABOUT_FITS_SHARE, ABOUT_SHOWN_SHARE);
}

function reachOf(wanted: Seconds, fitsShare: number, shownShare: number): Reach {
  return {
    fits: Math.max(fitsShare * wanted, NOTICED_SECONDS),
    shown: Math.max(shownShare * wanted, SHOWN_SECONDS),
  };
}

/** 0..1 for a miss, LEFT_OUT beyond what is shown: JUST_FITS..1 where it fits, below BENT where it does not. */
export function scoreMiss(miss: number, reach: Reach): number {
  const size = Math.abs(miss);
  if (size <= reach.fits) return 1 - (1 - JUST_FITS) * Math.min(1, size / reach.fits);
  return size <= reach.shown ? BENT * (1 - size / reach.shown) : LEFT_OUT;
}
