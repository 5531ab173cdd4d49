/**
 * Which of the stretches that sound like slates are some. A slate that is none swallows a take, and what is swallowed is
 * never measured; one that is missed only stays a sound of its own. So a slate must recur: one voice, whose pitch and
 * level keep together, before LEAST_SHARE of the sounds of a file or more (half its takes or so, where some of its slates
 * are not known as such and count among the sounds), and before two at least. What is as loud and as long as the sound
 * after it counts for half.
 *
 * Before the only take of a file nothing can recur: it takes clear speech that is shorter or quieter than what follows.
 *
 * The bounds are ours; those of clear speech lie between what voices of several languages and cries of creatures have.
 */

import { quantile } from '../../shared/measure/running.ts';
import type { SpeechTraits } from '../../shared/measure/speech.ts';
import type { Decibels, Hertz, Seconds, Semitones } from '../../shared/sound.ts';

/** A voice as far as its level and pitch tell. */
export interface Voice {
  /** Level of the loudest frame above 100 Hz. */
  loudestDb: Decibels;
  pitchHz: Hertz;
}

export interface SlateCandidate {
  /** Index of the region it lies in, and of the one that holds the sound after it. */
  region: number;
  owner: number;
  traits: SpeechTraits;
  voice: Voice;
  seconds: Seconds;
  /** Its loudest moment above that of the sound after it, and its length as a multiple of that sound's. */
  louderDb: Decibels;
  longerBy: number;
}

const LEAST_SHARE = 1 / 3;
const LEAST_SLATES = 2;
/** One voice, in one session, keeps within so much of its middle. */
const PITCH_STRAYS: Semitones = 7;
const LEVEL_STRAYS_DB: Decibels = 8;
/** Clear speech: long enough for a few words, spoken rather than cried, with a mouth that moves. */
const LEAST_CLEAR_SECONDS: Seconds = 0.8;
const MOST_CLEAR_RANGE: Semitones = 10;
const LEAST_CLEAR_SPREAD_DB: Decibels = 7;
const LEAST_CLEAR_VOICED = 0.3;

/** The slates among `candidates`, which are in order of time, and the voice that spoke them; null where none did. */
export function slatesAmong<T extends SlateCandidate>(
  candidates: readonly T[],
  regions: number,
): { slates: T[]; voice: Voice } | null {
  const apart = alternating(candidates);
  if (apart.length === 0) return null;
  const voice = middleVoice(apart);
  const agreeing = apart.filter((candidate) => isOneVoice(candidate.voice, voice));
  const takes = regions - agreeing.filter(({ region, owner }) => owner !== region).length;
  if (takes === 1) return agreeing.length === 1 && isClear(agreeing[0]) ? { slates: agreeing, voice } : null;
  const evidence = agreeing.reduce((sum, candidate) => sum + (rivalsItsTake(candidate) ? 0.5 : 1), 0);
  return evidence >= Math.max(LEAST_SLATES, LEAST_SHARE * takes) ? { slates: agreeing, voice } : null;
}

/** Without those that lie in the take of another slate. */
export function alternating<T extends SlateCandidate>(candidates: readonly T[]): T[] {
  const kept: T[] = [];
  for (const candidate of candidates) {
    if (candidate.region > (kept.at(-1)?.owner ?? -1)) kept.push(candidate);
  }
  return kept;
}

export function isOneVoice(a: Voice, b: Voice): boolean {
  return (
    Math.abs(12 * Math.log2(a.pitchHz / b.pitchHz)) <= PITCH_STRAYS &&
    Math.abs(a.loudestDb - b.loudestDb) <= LEVEL_STRAYS_DB
  );
}

function middleVoice(candidates: readonly SlateCandidate[]): Voice {
  const middle = (of: (voice: Voice) => number): number =>
    quantile(
      candidates.map(({ voice }) => of(voice)),
      0.5,
    );
  return { loudestDb: middle(({ loudestDb }) => loudestDb), pitchHz: middle(({ pitchHz }) => pitchHz) };
}

function rivalsItsTake({ louderDb, longerBy }: SlateCandidate): boolean {
  return louderDb >= 0 && longerBy >= 1;
}

function isClear(candidate: SlateCandidate): boolean {
  const { pitchRangeSemitones, shapeSpreadDb, voicedShare } = candidate.traits;
  return (
    !rivalsItsTake(candidate) &&
    candidate.seconds >= LEAST_CLEAR_SECONDS &&
    pitchRangeSemitones <= MOST_CLEAR_RANGE &&
    shapeSpreadDb >= LEAST_CLEAR_SPREAD_DB &&
    voicedShare >= LEAST_CLEAR_VOICED
  );
}
