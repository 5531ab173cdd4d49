/** Criteria on time: how long a sound is and where its accent falls. */
import { mainAccentColumns } from '../main-accent.ts';
import { barSeconds, semitonesToRate, type Tempo, varispeedFor } from '../music.ts';
import type { Seconds } from '../sound.ts';
import { type Chip, type ChipOf, lengthSeconds, momentSeconds } from './chips.ts';
import { type Criterion, type Reason, type Scene, scored } from './criterion.ts';
import { formatSeconds, formatSemitones } from './describe.ts';
import { aboutReach, exactReach, FITS, LEFT_OUT, type Reach, scoreMiss, secondsReach } from './fit.ts';
import { headSecondsOf, heardSecondsOf } from './heard.ts';
import { fieldAt } from './varispeed.ts';

/**
 * What the lengths and accents of a question come to together. "2 bars at 84, accent at end" is one wish: that the
 * accent falls after two bars, however long the sound rings on; then the length asks nothing by itself.
 */
export interface TimeGoal {
  /** The one length asked for, or the one that leads to the accent; null where there is none, or it lacks a tempo. */
  seconds: Seconds | null;
  reach: (wanted: Seconds) => Reach;
  /** The length that the accent ends; it asks nothing by itself. */
  endedByAccent: Chip | null;
}

export function timeGoal(chips: readonly Chip[]): TimeGoal {
  const asked = chips.filter((chip) => !chip.negated);
  const lengths = asked.filter(
    (chip): chip is ChipOf<'length'> => chip.kind === 'length' && (chip.fit === 'exact' || chip.fit === 'about'),
  );
  // Of several lengths, the one named next to the accent leads to it: "1.2 s to the accent, 2 s".
  const atEnd = asked.find((chip): chip is ChipOf<'accent'> => chip.kind === 'accent' && isAtEnd(chip));
  const beside = atEnd && lengths.filter((chip) => Math.abs(asked.indexOf(chip) - asked.indexOf(atEnd)) === 1);
  const length = lengths.length > 1 ? beside?.[0] : lengths[0];
  const seconds = length ? lengthSeconds(length.length) : null;
  return {
    seconds,
    reach: length ? reachOf(length) : exactReach,
    endedByAccent: seconds !== null && atEnd && length ? length : null,
  };
}

/** Bars and beats are meant exactly; seconds are often a guess. */
function reachOf({ fit, length }: ChipOf<'length'>): (wanted: Seconds) => Reach {
  if (fit === 'about') return aboutReach;
  return length.unit === 'seconds' ? secondsReach : exactReach;
}

function isAtEnd({ at }: ChipOf<'accent'>): boolean {
  return at.unit === 'downbeat' || (at.unit === 'share' && at.share === 1);
}

export function lengthCriterion(chip: ChipOf<'length'>, goal: TimeGoal, scene: Scene): Criterion | null {
  const wanted = lengthSeconds(chip.length);
  if (wanted === null) return null;
  if (chip.fit === 'under') return within(0, wanted, scene);
  if (chip.fit === 'over') return within(wanted, Number.POSITIVE_INFINITY, scene);
  if (chip === goal.endedByAccent) return null;
  return fittingLength(wanted, reachOf(chip)(wanted), scene);
}

export function lengthRangeCriterion(chip: ChipOf<'length-range'>, scene: Scene): Criterion | null {
  const from = lengthSeconds(chip.from);
  const to = lengthSeconds(chip.to);
  return from === null || to === null ? null : within(Math.min(from, to), Math.max(from, to), scene);
}

/** Limits go by the length that is heard, as it is listed: room around it makes a take neither too long nor long enough. */
function within(from: Seconds, to: Seconds, scene: Scene): Criterion {
  const { columns, semitones } = scene;
  const stretch = 1 / semitonesToRate(semitones);
  const heard = heardSecondsOf(columns);
  // What nobody hears as too short or too long, and the list writes as the limit itself, is not left out.
  const lowest = from - exactReach(from).fits;
  const highest = to + exactReach(to).fits;
  const scores = scored(scene, (sound) => {
    const seconds = heard(sound) * stretch;
    return seconds >= lowest && seconds <= highest ? 1 : LEFT_OUT;
  });
  return {
    weight: 0,
    measured: false,
    scores,
    full: 0,
    said: null,
    reason: (sound) => ({ text: `${formatSeconds(heard(sound) * stretch)} long`, fits: true }),
  };
}

function fittingLength(wanted: Seconds, reach: Reach, scene: Scene): Criterion {
  const { columns, semitones } = scene;
  const stretch = 1 / semitonesToRate(semitones);
  const heard = heardSecondsOf(columns);
  const missOf = (sound: number) => heard(sound) * stretch - wanted;
  const scores = scored(scene, (sound) => scoreMiss(missOf(sound), reach));
  return {
    weight: 1.5,
    measured: true,
    scores,
    full: FITS,
    said: null,
    reason(sound) {
      const miss = missOf(sound);
      const length = wanted + miss;
      const text = `${formatSeconds(length)} long, ${formatMiss(miss)}`;
      return bendable(text, scores[sound], length, wanted, scene);
    },
  };
}

/** A miss for reading, sign shown: "+2 ms", "-310 ms", "+1.2 s". */
export function formatMiss(miss: Seconds): string {
  const milliseconds = Math.round(miss * 1000);
  const sign = milliseconds < 0 ? '-' : '+';
  const size = Math.abs(milliseconds);
  return size < 1000 ? `${sign}${size} ms` : `${sign}${Number((size / 1000).toFixed(2))} s`;
}

/** Adds, for what does not fit at the speed it answers at, the speed against the recording that makes it fit. */
function bendable(text: string, score: number, length: Seconds, wanted: Seconds, { semitones }: Scene): Reason {
  if (score >= FITS) return { text, fits: true };
  const bend = varispeedFor(length, wanted);
  return { text: bend === null ? text : `${text} (exact at ${formatSemitones(semitones + bend)})`, fits: false };
}

export function accentCriterion({ at }: ChipOf<'accent'>, goal: TimeGoal, scene: Scene): Criterion | null {
  const isEnd = at.unit === 'downbeat' || (at.unit === 'share' && at.share === 1);
  if (isEnd && goal.seconds !== null) return accentAt(goal.seconds, goal.reach(goal.seconds), false, scene);
  if (at.unit === 'share') return accentShare(at.share, scene);
  if (at.unit === 'downbeat') return at.tempo && accentOnBarLine(barSeconds(at.tempo, at.metre), scene);
  const wanted = momentSeconds(at);
  const reach = at.unit === 'seconds' ? secondsReach : exactReach;
  return wanted === null ? null : accentAt(wanted, reach(wanted), true, scene);
}

/** A loudest moment that is no accent is worth this much less than the main accent. */
const LOUDEST = 0.9;
/** A lesser accent that falls right is no better than a main one that must be bent a little: a rattle has one at any time. */
const LESSER = 0.5;

/** Takes a share of the score without taking "fits" from what fits. */
function lessened(score: number, share: number): number {
  return score >= FITS ? FITS + (score - FITS) * share : score * share;
}

interface PlacedAccent {
  score: number;
  /** Seconds from the start of the sound as recorded. */
  accent: Seconds;
  called: 'accent' | 'lesser accent' | 'loudest moment' | 'accent after silence';
}

/**
 * The accent must fall at a time after the sound begins to be heard: a silent head is cut, and counts for nothing. With
 * `anyAccent` lesser accents count too, and so does silence left before the sound, each less than what must be bent a little.
 */
function accentAt(wanted: Seconds, reach: Reach, anyAccent: boolean, scene: Scene): Criterion {
  const { columns, semitones } = scene;
  const stretch = 1 / semitonesToRate(semitones);
  const main = mainAccentColumns(columns);
  const headOf = headSecondsOf(columns);
  const missOf = (sound: number, accent: Seconds) => (accent - headOf(sound)) * stretch - wanted;
  const scoreOf = (sound: number, accent: Seconds) => scoreMiss(missOf(sound, accent), reach);
  /** As much of the silence before the sound is left as helps. */
  const keptHeadMiss = (sound: number, accent: Seconds) => {
    const least = missOf(sound, accent);
    const most = least + headOf(sound) * stretch;
    return least > 0 ? least : Math.min(0, most);
  };
  const best = (sound: number): PlacedAccent => {
    const accent = main.seconds(sound);
    if (Number.isNaN(accent)) return { score: LEFT_OUT, accent, called: 'accent' };
    const score = scoreOf(sound, accent);
    let placed: PlacedAccent = main.strikes(sound)
      ? { score, accent, called: 'accent' }
      : { score: score < 0 ? score : lessened(score, LOUDEST), accent, called: 'loudest moment' };
    if (!anyAccent || placed.score >= FITS) return placed;
    const withHead = LESSER * scoreMiss(keptHeadMiss(sound, accent), reach);
    if (withHead > 0 && withHead > placed.score) placed = { score: withHead, accent, called: 'accent after silence' };
    for (const lesser of main.lesser(sound)) {
      const score = LESSER * scoreOf(sound, lesser);
      if (score > 0 && score > placed.score) placed = { score, accent: lesser, called: 'lesser accent' };
    }
    return placed;
  };
  const scores = scored(scene, (sound) => best(sound).score);
  return {
    weight: 2,
    measured: true,
    scores,
    full: FITS,
    said: null,
    reason(sound) {
      const { accent, called } = best(sound);
      if (called === 'accent after silence') return { text: 'accent there only after silence', fits: false };
      const miss = missOf(sound, accent);
      const text = `${called} ${formatMiss(miss)}`;
      if (called === 'lesser accent' && Math.abs(miss) <= reach.fits) return { text, fits: false };
      return bendable(text, scores[sound], wanted + miss, wanted, scene);
    },
  };
}

/** Accents within a sixteenth of the sounding length fit; beyond three tenths the accent is elsewhere. */
const SHARE_REACH: Reach = { fits: 1 / 16, shown: 0.3 };

function accentShare(wanted: number, scene: Scene): Criterion {
  const { columns } = scene;
  const main = mainAccentColumns(columns);
  const heads = columns.number('activeStartSeconds');
  const sounding = columns.number('activeSeconds');
  const shareOf = (sound: number) => (main.seconds(sound) - heads[sound]) / sounding[sound];
  const scores = scored(scene, (sound) => {
    const share = shareOf(sound);
    return Number.isFinite(share) ? scoreMiss(share - wanted, SHARE_REACH) : LEFT_OUT;
  });
  return {
    weight: 1.2,
    measured: true,
    scores,
    full: FITS,
    said: null,
    reason: (sound) => ({
      text: `accent at ${Math.round(Math.min(1, Math.max(0, shareOf(sound))) * 100)} % of its length`,
      fits: scores[sound] >= FITS,
    }),
  };
}

/** The main accent must fall on some bar line after the first. */
function accentOnBarLine(bar: Seconds, scene: Scene): Criterion {
  const { columns, semitones } = scene;
  const stretch = 1 / semitonesToRate(semitones);
  const main = mainAccentColumns(columns);
  const headOf = headSecondsOf(columns);
  const nearest = (sound: number) => {
    const accent = (main.seconds(sound) - headOf(sound)) * stretch;
    const line = Math.max(1, Math.round(accent / bar));
    return { line, miss: accent - line * bar };
  };
  const reach: Reach = { fits: exactReach(bar).fits, shown: bar / 4 };
  const scores = scored(scene, (sound) => {
    const { miss } = nearest(sound);
    return Number.isNaN(miss) ? LEFT_OUT : scoreMiss(miss, reach);
  });
  return {
    weight: 1.2,
    measured: true,
    scores,
    full: FITS,
    said: null,
    reason(sound) {
      const { miss, line } = nearest(sound);
      return { text: `accent ${formatMiss(miss)} on the downbeat of bar ${line + 1}`, fits: scores[sound] >= FITS };
    },
  };
}

/** A pulse at double or half the tempo goes with it as well; a tenth of an octave off it no longer does. */
const PULSE_REACH = 0.1;

/**
 * "pulses at 84": where a question about pulses names a tempo, those in that tempo come first. Leaves none out, as the
 * tempo also counts bars. null for any other question.
 */
export function pulseCriterion(chips: readonly Chip[], scene: Scene): Criterion | null {
  const tempo = pulseTempo(chips);
  if (!tempo) return null;
  const pulseOf = fieldAt(scene.columns, 'pulseBpm', scene.semitones);
  const scores = scored(scene, (sound) => {
    const octaves = Math.log2(pulseOf(sound) / tempo.bpm);
    const off = Math.abs(octaves - Math.round(octaves));
    return off < PULSE_REACH ? 1 - (1 - FITS) * (off / PULSE_REACH) : 0;
  });
  return {
    weight: 1,
    measured: true,
    scores,
    full: FITS,
    said: null,
    reason(sound) {
      const bpm = pulseOf(sound);
      return Number.isNaN(bpm) ? null : { text: `pulse at ${Number(bpm.toFixed(1))}`, fits: scores[sound] >= FITS };
    },
  };
}

/** The tempo that a question about pulses asks for; null for any other question. */
export function pulseTempo(chips: readonly Chip[]): Tempo | null {
  const isAsked = chips.some(
    (chip) =>
      !chip.negated &&
      ((chip.kind === 'gesture' && chip.gesture === 'pulse') || (chip.kind === 'colour' && chip.colour === 'rhythmic')),
  );
  return (isAsked && chips.find((chip) => chip.kind === 'tempo')?.tempo) || null;
}
