/**
 * Whether a stretch of sound is somebody speaking, told from what a voice cannot help doing:
 *
 *   for a good part of the time it is periodic at 70 to 400 Hz, in runs of some tenths of a second, and its pitch never
 *   holds still (intonation), though it keeps within an octave or so;
 *   unvoiced sounds and stops come in between, so that loudness rises and falls about four times a second
 *   (Houtgast & Steeneken, JASA 77(3), 1985, the modulation of speech; Scheirer & Slaney, ICASSP 1997, the same 4 Hz to
 *   tell speech from music; from memory);
 *   the mouth moves: the voiced frames' spectrum (cepstrum, Davis & Mermelstein 1980) changes from one to the next;
 *   syllables swell as they die, where what is struck or plucked jumps up and dies slowly;
 *   vowels are held or rich in partials, where drops and bubbles are short and pure.
 *
 * The bounds are ours, and all must hold, so that a phrase, a squeak or a row of drops is no speech.
 */
import type { Decibels, Hertz, Seconds, Semitones } from '../sound.ts';
import { mean, quantile, RunningMean } from './running.ts';
import { SHAPE_COEFFICIENTS, SPEECH_HOP_SECONDS, type VoiceFrames } from './speech-frames.ts';

/** What is measured of a stretch. Shares 0..1; all 0 where nothing is heard. */
export interface SpeechTraits {
  /** Share of the frames heard that are periodic. */
  voicedShare: number;
  /** The longest voiced run. */
  longestVoicedSeconds: Seconds;
  /** Mean length of the voiced runs. */
  voicedRunSeconds: Seconds;
  /** Share of the steps of 30 ms within voiced runs at which the pitch moves, and moves smoothly. */
  glideShare: number;
  medianPitchHz: Hertz;
  /** From the pitch's first to its last tenth. */
  pitchRangeSemitones: Semitones;
  /** Rises and falls of the level. */
  syllablesASecond: number;
  /** Of the time in which the level moves, how much it rises. */
  risingShare: number;
  /** How far the spectrum's shape strays over the voiced frames ... */
  shapeSpreadDb: Decibels;
  /** ... and how far it moves in 30 ms. */
  shapeMotionDb: Decibels;
  /** Median over the voiced frames of the power outside the strongest partial. */
  richness: number;
}

/** From the lowest to the highest value that speech may have; what words of 0.6 to 5 s in five languages have. */
const SPEECH_BOUNDS: Readonly<Record<keyof SpeechTraits, readonly [number, number]>> = {
  voicedShare: [0.25, 1],
  longestVoicedSeconds: [0.1, 2],
  voicedRunSeconds: [0.025, 0.85],
  glideShare: [0.6, 1],
  medianPitchHz: [75, 330],
  pitchRangeSemitones: [1.3, 17],
  syllablesASecond: [1.2, 8],
  risingShare: [0.22, 0.66],
  shapeSpreadDb: [4.5, 30],
  shapeMotionDb: [2.6, 30],
  richness: [0.05, 1],
};
/** A single word shows less of it. */
const WORD_BOUNDS: Partial<typeof SPEECH_BOUNDS> = {
  voicedShare: [0.2, 1],
  longestVoicedSeconds: [0.05, 2],
  glideShare: [0.5, 1],
  medianPitchHz: [70, 380],
  risingShare: [0.15, 0.7],
  shapeMotionDb: [2, 30],
};

/** The frames [from, to) of a voice; `roomDb` is the room's level as `VoiceFrames.levelDb` has it. */
export interface Stretch {
  voice: VoiceFrames;
  from: number;
  to: number;
  roomDb: Decibels;
}

/** A voice is either held or rich: what is short and pure at once, run by run, is a drop or a bubble. */
const LEAST_RICHNESS_SECONDS: Seconds = 0.011;

export function isSpeech(stretch: Stretch): boolean {
  return within(stretch, SPEECH_BOUNDS, ({ richness, voicedRunSeconds }) => {
    return richness * voicedRunSeconds >= LEAST_RICHNESS_SECONDS;
  });
}

/** Whether it could be a word or two: true of more than speech. */
export function mayBeWord(stretch: Stretch): boolean {
  return within(stretch, WORD_BOUNDS);
}

/** What the levels tell comes first: it costs next to nothing, and settles most. */
function within(
  stretch: Stretch,
  bounds: Partial<typeof SPEECH_BOUNDS>,
  isVoice: (traits: SpeechTraits) => boolean = () => true,
): boolean {
  const holds = (traits: Partial<SpeechTraits>): boolean =>
    Object.entries(traits).every(([name, value]) => {
      const bound = bounds[name as keyof SpeechTraits];
      return bound === undefined || (value >= bound[0] && value <= bound[1]);
    });
  if (!holds(levelTraits(levelsHeard(stretch)))) return false;
  const traits = speechTraits(stretch);
  return holds(traits) && isVoice(traits);
}

/** A frame is heard when it stands this far above the room, and no further than this below the loudest. */
const HEARD_ABOVE_ROOM_DB: Decibels = 6;
const HEARD_BELOW_TOP_DB: Decibels = 35;
const VOICED_CLARITY = 0.7;
/** Pitch and shape are compared over this many frames. */
const STEP = 3;
const LEAST_GLIDE: Semitones = 0.08;
const LARGEST_GLIDE: Semitones = 3;

/** Below this nothing is heard. */
function leastHeardDb({ voice, from, to, roomDb }: Stretch): Decibels {
  const top = voice.levelDb.subarray(from, to).reduce((most, level) => Math.max(most, level), -200);
  return Math.max(roomDb + HEARD_ABOVE_ROOM_DB, top - HEARD_BELOW_TOP_DB);
}

function levelsHeard(stretch: Stretch): Float64Array {
  const limit = leastHeardDb(stretch);
  return stretch.voice.levelDb.slice(stretch.from, stretch.to).map((level) => Math.max(limit, level));
}

export function speechTraits(stretch: Stretch): SpeechTraits {
  const { voice, from, to } = stretch;
  const limit = leastHeardDb(stretch);
  const runs: { from: number; to: number }[] = [];
  let heard = 0;
  for (let i = from; i < to; i++) {
    if (voice.levelDb[i] <= limit) continue;
    heard++;
    if (voice.clarity(i) <= VOICED_CLARITY) continue;
    const last = runs[runs.length - 1];
    if (last?.to === i) last.to++;
    else runs.push({ from: i, to: i + 1 });
  }
  const voiced = runs.flatMap((run) => Array.from({ length: run.to - run.from }, (_, i) => run.from + i));
  const pitches = voiced.map((i) => voice.pitchHz(i));
  const steps = runs.flatMap((run) => voiced.filter((i) => i >= run.from && i + STEP < run.to));
  const glides = steps.filter((i) => {
    const glide = Math.abs(12 * Math.log2(voice.pitchHz(i + STEP) / voice.pitchHz(i)));
    return glide > LEAST_GLIDE && glide < LARGEST_GLIDE;
  });
  const lengths = runs.map((run) => (run.to - run.from) * SPEECH_HOP_SECONDS);
  return {
    voicedShare: voiced.length / Math.max(1, heard),
    longestVoicedSeconds: Math.max(0, ...lengths),
    voicedRunSeconds: mean(lengths),
    glideShare: glides.length / Math.max(1, steps.length),
    medianPitchHz: pitches.length > 0 ? quantile(pitches, 0.5) : 0,
    pitchRangeSemitones: pitches.length > 0 ? 12 * Math.log2(quantile(pitches, 0.9) / quantile(pitches, 0.1)) : 0,
    ...levelTraits(levelsHeard(stretch)),
    shapeSpreadDb: shapeSpread(voice, voiced),
    shapeMotionDb: mean(steps.map((i) => shapeDistance(voice, i, i + STEP))),
    richness:
      voiced.length > 0
        ? quantile(
            voiced.map((i) => voice.richness[i]),
            0.5,
          )
        : 0,
  };
}

/** A syllable rises and falls by this much. */
const SYLLABLE_DB: Decibels = 2.5;
/** Slower than this a frame, the level holds. */
const LEAST_SLOPE_DB: Decibels = 0.15;
const SMOOTHED_FRAMES = 5;

/** What levels every SPEECH_HOP_SECONDS tell by themselves. */
export function levelTraits(levels: ArrayLike<Decibels>): Pick<SpeechTraits, 'syllablesASecond' | 'risingShare'> {
  // Means of what is never negative, as RunningMean wants it.
  const smooth = new RunningMean(Float64Array.from(levels, (level) => level + 200)).smoothed(SMOOTHED_FRAMES);
  let syllables = 0;
  let rises = 0;
  let falls = 0;
  let isRising = true;
  let turn = smooth[0] ?? 0;
  let lowest = turn;
  for (let i = 1; i < smooth.length; i++) {
    const level = smooth[i];
    const slope = level - smooth[i - 1];
    if (slope > LEAST_SLOPE_DB) rises++;
    else if (slope < -LEAST_SLOPE_DB) falls++;
    if (isRising ? level > turn : level < turn) turn = level;
    if (isRising && level < turn - SYLLABLE_DB) {
      if (turn > lowest + SYLLABLE_DB) syllables++;
      isRising = false;
      turn = level;
    } else if (!isRising && level > turn + SYLLABLE_DB) {
      isRising = true;
      lowest = turn;
      turn = level;
    }
  }
  return {
    syllablesASecond: syllables / (Math.max(1, levels.length) * SPEECH_HOP_SECONDS),
    risingShare: rises / Math.max(1, rises + falls),
  };
}

function shapeDistance({ shape }: VoiceFrames, a: number, b: number): Decibels {
  let sum = 0;
  for (let k = 0; k < SHAPE_COEFFICIENTS; k++) {
    sum += (shape[b * SHAPE_COEFFICIENTS + k] - shape[a * SHAPE_COEFFICIENTS + k]) ** 2;
  }
  return Math.sqrt(sum);
}

function shapeSpread({ shape }: VoiceFrames, voiced: readonly number[]): Decibels {
  let variance = 0;
  for (let k = 0; k < SHAPE_COEFFICIENTS; k++) {
    const values = voiced.map((i) => shape[i * SHAPE_COEFFICIENTS + k]);
    const middle = mean(values);
    variance += mean(values.map((value) => (value - middle) ** 2));
  }
  return Math.sqrt(variance);
}
