/** Criteria on the sound itself: its colour and its pitch. */
import { hertzToNote, nearestNote, noteName, noteToHertz, pitchClassName, semitonesToRate } from '../music.ts';
import type { NumericField } from '../shelf.ts';
import { PROFILE_BANDS, PROFILE_LOWEST_HZ } from '../sound.ts';
import type { ChipOf, PitchTarget } from './chips.ts';
import { type ColourRule, colourOf, FULL_SHARE, NO_SHARE } from './colours.ts';
import type { SoundColumns } from './columns.ts';
import { type Criterion, type Reason, type Scene, scored } from './criterion.ts';
import { formatHertz } from './describe.ts';
import { factsOf } from './facts.ts';
import { FITS, LEFT_OUT, type Reach, scoreMiss } from './fit.ts';
import { noteToken } from './tokens.ts';
import { changesUnder, fieldAt, isUnknownUnder } from './varispeed.ts';
import { wordReason } from './word-reason.ts';

/** A sound called dark that was not measured so still answers, as if just inside the outer third. */
const FULLY = 0.6;
const NAMED_BONUS = 0.1;

export function colourCriterion({ colour }: ChipOf<'colour'>, scene: Scene): Criterion {
  const { rule } = colourOf(colour);
  const measured = measuredColour(rule, scene);
  // A name tells of the sound as recorded: what is called bright may be dark two octaves down.
  const speaks = scene.semitones === 0 || !('field' in rule && changesUnder(rule.field));
  const named = speaks ? scene.index.match(colour, undefined, true) : null;
  const scores = scored(scene, (sound) => {
    const score = measured.score(sound);
    return named && named.scores[sound] > 0 ? Math.min(1, Math.max(score, FULLY) + NAMED_BONUS) : score;
  });
  return {
    weight: 0.7,
    measured: false,
    scores,
    full: FULLY,
    said: colour,
    reason(sound) {
      const reason = named?.reason(sound);
      return measured.reason(sound) ?? (reason ? wordReason(reason, colour) : null);
    },
  };
}

interface Measured {
  score(sound: number): number;
  reason(sound: number): Reason | null;
}

function measuredColour(rule: ColourRule, scene: Scene): Measured {
  const { columns, semitones } = scene;
  if (rule.by === 'presence') {
    const at = fieldAt(columns, rule.field, semitones);
    const holds = (sound: number) => Number.isNaN(at(sound)) !== rule.present;
    const text = PRESENCE[rule.field]?.[rule.present ? 0 : 1] ?? '';
    return {
      score: (sound) => (holds(sound) ? 1 : LEFT_OUT),
      reason: (sound) => (holds(sound) ? { text, fits: true } : null),
    };
  }
  if (rule.by === 'mono') {
    const channels = columns.number('channels');
    const widths = columns.number('stereoWidth');
    const isMono = (sound: number) => channels[sound] === 1 || widths[sound] < SAME_CHANNELS;
    return {
      score: (sound) => (isMono(sound) === rule.mono ? 1 : LEFT_OUT),
      reason: (sound) => (isMono(sound) === rule.mono ? { text: rule.mono ? 'mono' : 'stereo', fits: true } : null),
    };
  }
  const standing = factsOf(columns).standing(rule.field, semitones);
  const recorded = semitones !== 0 && isUnknownUnder(rule.field) ? ' as recorded' : '';
  const towards = (sound: number) => (rule.end === 'high' ? standing[sound] : 1 - standing[sound]);
  return {
    score: (sound) => scoreStanding(towards(sound)),
    reason(sound) {
      const share = towards(sound);
      if (!(share >= NO_SHARE)) return null;
      return { text: `${rule.comparative} than ${Math.round(share * 100)} %${recorded}`, fits: true };
    },
  };
}

const PRESENCE: Partial<Record<NumericField, readonly [has: string, lacks: string]>> = {
  pitchHz: ['pitched', 'no pitch'],
  tremoloHz: ['tremolo', 'no tremolo'],
  pulseBpm: ['pulse', 'no pulse'],
};

/** Side at under a hundredth of the whole: both channels hold the same. */
const SAME_CHANNELS = 0.01;

/** FULLY at the edge of the outer third, 1 at the very end; down to a third of FULLY at the half, then left out. */
function scoreStanding(share: number): number {
  if (!(share >= NO_SHARE)) return LEFT_OUT;
  const edge = 1 - FULL_SHARE;
  if (share >= edge) return FULLY + ((1 - FULLY) * (share - edge)) / (1 - edge);
  return FULLY / 3 + ((FULLY * 2) / 3) * ((share - NO_SHARE) / (edge - NO_SHARE));
}

/** Exact: within a quarter tone fits, a tone and a half is shown. Near: a tone and a half fits, a fourth is shown. */
const NOTE_REACH: Reach = { fits: 50, shown: 150 };
const NEAR_REACH: Reach = { fits: 150, shown: 500 };

/** A sound without a measured pitch whose name tells the note answers too, after all that were measured to fit. */
const NAMED_NOTE = FITS;

export function pitchCriterion({ target, near }: ChipOf<'pitch'>, scene: Scene): Criterion {
  const { columns, index, semitones } = scene;
  const reach = near ? NEAR_REACH : NOTE_REACH;
  const pitchOf = fieldAt(columns, 'pitchHz', semitones);
  const missOf = centsFrom(target);
  // Between notes no name tells where a shift leads.
  const tells = target.unit === 'note' && Number.isInteger(semitones);
  const named = tells ? index.exactly(noteToken(target.noteNumber - semitones)) : null;
  const recorded = columns.number('pitchHz');
  const standingOut = standingOutAt(target, semitonesToRate(semitones), columns, near ? STANDS_OUT_NEAR : STANDS_OUT);
  const scores = scored(scene, (sound) => {
    const miss = missOf(pitchOf(sound));
    if (!Number.isNaN(miss)) return scoreMiss(miss, reach);
    if (!Number.isNaN(recorded[sound])) return LEFT_OUT;
    if (named && named.scores[sound] > 0) return NAMED_NOTE;
    return standingOut(sound);
  });
  return {
    weight: 1,
    measured: true,
    scores,
    full: FITS,
    said: null,
    reason(sound) {
      const hertz = pitchOf(sound);
      const nearest = nearestNote(hertz);
      if (!nearest) {
        const reason = named?.reason(sound);
        if (reason) return wordReason(reason, reason.text);
        return standingOut(sound) > 0 ? { text: `no clear pitch, but strong at ${nameOf(target)}`, fits: false } : null;
      }
      const cents = Math.round(missOf(hertz));
      const off = `${cents < 0 ? '-' : '+'}${Math.abs(cents)} cents`;
      return { text: `${nearest.name}, ${formatHertz(hertz)}, ${off}${ofTarget(target)}`, fits: scores[sound] >= FITS };
    },
  };
}

function ofTarget(target: PitchTarget): string {
  if (target.unit === 'hertz') return ` from ${formatHertz(target.hertz)}`;
  return target.unit === 'class' ? ` from ${pitchClassName(target.pitchClass)}` : '';
}

/**
 * A plate or a bell has many partials and no one pitch; it comes after all that were measured to have the note, first those
 * whose strongest partial it is.
 */
const STANDS_OUT = 0.5;
/** Who asks for what is about a pitch is answered better by a pitch some way off. */
const STANDS_OUT_NEAR = 0.3;
/** A partial counts as heard that lies no more than this below the strongest, where it answers least ... */
const HEARD_DECIBELS = 18;
const HARDLY_STANDS_OUT = 0.1;
/** ... and that stands this far above the bands on either side: a thud is loud at many notes, and has none. */
const PARTIAL_DECIBELS = 6;
/** A partial is so wide in the profile (profile.ts). */
const PARTIAL_HERTZ = 8;
/** What one step of a shelf's profile stands for. */
const PROFILE_STEPS_PER_DECIBEL = 3;

/**
 * How a sound without a pitch answers a note: by a partial there, the stronger the better, up to `most`; LEFT_OUT without one, and always
 * for a pitch class.
 */
function standingOutAt(
  target: PitchTarget,
  rate: number,
  columns: SoundColumns,
  most: number,
): (sound: number) => number {
  if (target.unit === 'class') return () => LEFT_OUT;
  const hertz = (target.unit === 'note' ? noteToHertz(target.noteNumber) : target.hertz) / rate;
  const band = Math.round(12 * Math.log2(hertz / PROFILE_LOWEST_HZ));
  if (band < 0 || band >= PROFILE_BANDS) return () => LEFT_OUT;
  const reach = 1 + Math.ceil(12 * Math.log2(1 + PARTIAL_HERTZ / hertz));
  return (sound) => {
    const profile = columns.profile(sound);
    if (profile === null) return LEFT_OUT;
    const stepsBelow = (at: number): number => (at in profile ? profile[at] : Number.POSITIVE_INFINITY);
    const here = stepsBelow(band);
    const share = here / PROFILE_STEPS_PER_DECIBEL / HEARD_DECIBELS;
    const isPeak = here <= stepsBelow(band - 1) && here <= stepsBelow(band + 1);
    const around = Math.min(stepsBelow(band - reach), stepsBelow(band + reach));
    const isPartial = around - here >= PARTIAL_DECIBELS * PROFILE_STEPS_PER_DECIBEL;
    return isPeak && isPartial && share <= 1 ? most + share * (HARDLY_STANDS_OUT - most) : LEFT_OUT;
  };
}

function nameOf(target: PitchTarget): string {
  if (target.unit === 'hertz') return formatHertz(target.hertz);
  return target.unit === 'note' ? noteName(target.noteNumber) : pitchClassName(target.pitchClass);
}

/** Cents from the target, -600..600 for a pitch class; NaN for what has no pitch. */
function centsFrom(target: PitchTarget): (hertz: number) => number {
  if (target.unit === 'class') {
    return (hertz) => {
      const note = hertzToNote(hertz);
      if (note === null) return Number.NaN;
      const above = (((note - target.pitchClass) % 12) + 12) % 12;
      return (above > 6 ? above - 12 : above) * 100;
    };
  }
  const wanted = target.unit === 'note' ? noteToHertz(target.noteNumber) : target.hertz;
  return (hertz) => (hertz > 0 ? 1200 * Math.log2(hertz / wanted) : Number.NaN);
}
