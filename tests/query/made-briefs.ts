/**
 * Briefs made by machine from what is true of a sound, to guard against fitting the search to the forty written ones: half
 * of them to work with, half only to be counted.
 *
 * A sound is described by words its file carries, by gesture in one of several usual words, and by one or two figures
 * (length, accent, note, musical length) as a person would round them; some with a slip of spelling. Only such briefs count
 * as by truth mean that sound before all others.
 */
import { createRandom, type Random } from '../../scripts/demo/synth/random.ts';
import { nearestNote } from '../../shared/music.ts';
import type { Gesture } from '../../shared/sound.ts';
import type { TrueSound } from './brief-truth.ts';

export interface MadeBrief {
  asks: string;
  meant: TrueSound;
}

/** Usual words for a gesture. */
const SAID: Readonly<Record<Gesture, readonly string[]>> = {
  hit: ['hit', 'strike', 'one blow', 'struck'],
  swell: ['swell', 'swelling', 'crescendo and back', 'swells'],
  riser: ['riser', 'rising', 'build', 'rise to a cut'],
  drone: ['drone', 'held', 'sustained', 'steady'],
  pulse: ['pulse', 'pulsing', 'repeated blows'],
  phrase: ['phrase', 'several events', 'phrases'],
  fade: ['fade', 'dying away', 'fading', 'dies away'],
};
const DAYS: readonly (readonly [short: string, said: string])[] = [
  ['mon', 'Monday'],
  ['tue', 'Tuesday'],
  ['wed', 'Wednesday'],
  ['thu', 'Thursday'],
  ['fri', 'Friday'],
  ['sat', 'Saturday'],
];
const PLACES = 'boathouse,net loft,slipway,quay,kitchen,lighthouse,chapel hall,pump house,ice cellar,watch hut'.split(
  ',',
);
const SUBJECTS = ['metal', 'glass', 'skin', 'wood', 'strings', 'breath', 'water', 'small things'];
const TEMPI = [60, 66, 72, 84, 96, 108, 120, 132] as const;
/** As for the written briefs: what misses by less more is as right. */
const CLEAR = 0.1;
const SHORTEST_ACCENT = 0.4;

interface Part {
  says: string;
  /** Whether it is true of a sound. */
  holds: (sound: TrueSound) => boolean;
  /** How far a sound is from it, as a share; nothing for what is true or not. */
  misses?: (sound: TrueSound) => number;
}

export function makeBriefs(sounds: readonly TrueSound[], count: number, seed: string): MadeBrief[] {
  const random = createRandom(seed);
  const briefs: MadeBrief[] = [];
  while (briefs.length < count) {
    const meant = random.pick(sounds);
    const parts = partsOf(meant, random);
    const rivals = sounds.filter((sound) => sound !== meant && parts.every(({ holds }) => holds(sound)));
    const missOf = (sound: TrueSound) => parts.reduce((sum, { misses }) => sum + (misses?.(sound) ?? 0), 0);
    if (rivals.some((rival) => missOf(rival) <= missOf(meant) + CLEAR)) continue;
    briefs.push({ asks: parts.map(({ says }) => says).join(random.pick([', ', ' ', ', '])), meant });
  }
  return briefs;
}

function partsOf(meant: TrueSound, random: Random): Part[] {
  const parts = whatAndWhere(meant, random);
  const { gesture } = meant;
  if (random.unit() < 0.8)
    parts.push({ says: random.pick(SAID[gesture]), holds: (sound) => sound.gesture === gesture });
  const figures = figuresOf(meant, random);
  const many = meant.carries === 'name' && random.unit() < 0.6 ? 1 : 2;
  for (let left = many; left > 0 && figures.length > 0; left--) {
    parts.push(...figures.splice(random.whole(0, figures.length - 1), 1));
  }
  return parts;
}

function whatAndWhere(meant: TrueSound, random: Random): Part[] {
  const place = PLACES.find((name) => meant.at(...name.split(' ')));
  const day = DAYS.find(([short]) => meant.at(short));
  const parts: Part[] = [];
  if (meant.carries === 'name') {
    const [noun, rest] = meant.name.split(', ');
    const own = [...noun.split(' '), ...(rest?.split(' ') ?? [])].filter(
      (word) => word.length > 3 && /^[a-z-]+$/i.test(word),
    );
    const chosen = own.filter(() => random.unit() < 0.7).slice(0, 3);
    const words = chosen.length > 0 ? chosen : own.slice(0, 1);
    if (words.length > 0) {
      const folded = words.map((word) => word.toLowerCase().replaceAll('-', ''));
      const says = words.map((word) =>
        random.unit() < 0.1 ? slipped(word.toLowerCase(), random) : word.toLowerCase(),
      );
      parts.push({ says: says.join(' '), holds: (sound) => sound.says(...folded) });
    }
  } else {
    const subject = SUBJECTS.find((name) => meant.at(...name.split(' ')));
    if (meant.carries === 'subject' && subject) {
      parts.push({ says: subject, holds: (sound) => sound.at(...subject.split(' ')) });
    }
  }
  if (place && (meant.carries !== 'name' || random.unit() < 0.3)) {
    const before = random.pick(['', 'in the ', 'from the ']);
    parts.push({ says: `${before}${place}`, holds: (sound) => sound.at(...place.split(' ')) });
    if (day && random.unit() < 0.5) {
      parts.push({ says: random.pick([day[1], `on ${day[1]}`]), holds: (sound) => sound.at(day[0]) });
    }
  }
  return parts;
}

function figuresOf(meant: TrueSound, random: Random): Part[] {
  const { lengthSeconds, accentSeconds, pitchHz } = meant;
  const rounded = Number(lengthSeconds.toPrecision(2));
  const about = random.unit() < 0.5 ? 'about ' : '';
  const figures: Part[] = [
    {
      says: `${about}${rounded < 1 && random.unit() < 0.5 ? `${Math.round(rounded * 1000)} ms` : `${rounded} s`}`,
      holds: (sound) => Math.abs(sound.lengthSeconds - rounded) < 0.5 * rounded,
      misses: (sound) => Math.abs(sound.lengthSeconds - rounded) / rounded,
    },
  ];
  if (accentSeconds !== null && accentSeconds > SHORTEST_ACCENT) {
    figures.push(accentPart(accentSeconds, random));
  }
  const note = pitchHz === null ? null : nearestNote(pitchHz);
  if (note !== null && pitchHz !== null) {
    const near = (sound: TrueSound) =>
      sound.pitchHz === null ? Number.POSITIVE_INFINITY : Math.abs(12 * Math.log2(sound.pitchHz / pitchHz));
    figures.push({
      says: random.pick([note.name, `around ${Math.round(pitchHz)} Hz`]),
      holds: (sound) => near(sound) < 0.5,
    });
  }
  return figures;
}

function accentPart(accentSeconds: number, random: Random): Part {
  const tempo = random.pick(TEMPI);
  const count = (accentSeconds * tempo) / 60;
  const whole = Math.round(count);
  const musical = whole >= 1 && Math.abs(count - whole) < 0.03 * whole && random.unit() < 0.7;
  const seconds = musical ? (whole * 60) / tempo : Number(accentSeconds.toFixed(accentSeconds < 1 ? 2 : 1));
  const says = musical
    ? `${whole} ${whole === 1 ? 'beat' : 'beats'} at ${tempo}, accent at end`
    : random.pick([`accent at ${seconds} s`, `peak at ${seconds} s`, `${seconds} s to the accent`]);
  return {
    says,
    holds: (sound) => sound.accentSeconds !== null && Math.abs(sound.accentSeconds - seconds) < 0.25 * seconds,
    misses: (sound) => 2 * (Math.abs((sound.accentSeconds ?? Number.POSITIVE_INFINITY) - seconds) / seconds),
  };
}

/** One letter wrong, missing, doubled or swapped with the next, in words long enough to bear it. */
function slipped(word: string, random: Random): string {
  if (word.length < 5) return word;
  const at = random.whole(1, word.length - 2);
  return random.pick([
    `${word.slice(0, at)}${word.slice(at + 1)}`,
    `${word.slice(0, at)}${word[at]}${word.slice(at)}`,
    `${word.slice(0, at)}${word[at + 1]}${word[at]}${word.slice(at + 2)}`,
    `${word.slice(0, at)}e${word.slice(at + 1)}`,
  ]);
}
