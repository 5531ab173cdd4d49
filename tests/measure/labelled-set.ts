/**
 * Made-up sounds whose truth is known because they were put together from known parts: gesture, main accent, every
 * accent, and the active part. Labels come from the parts alone, never from what a detector says about the mix.
 */
import type { Gesture } from '../../shared/sound.ts';
import { Random } from './random.ts';
import {
  loudest20ms,
  MATERIALS,
  type Material,
  reverberation,
  roomNoise,
  rootMeanSquare,
  struck,
  sustained,
} from './sources.ts';

export interface TrueAccent {
  seconds: number;
  /** Loudest 20 ms of the strike alone over all else around it (50 ms before to 30 ms after its onset), in dB. */
  prominenceDb: number;
}

export interface LabelledSound {
  seed: number;
  description: string;
  sampleRateHz: number;
  channels: Float32Array[];
  gesture: Gesture;
  /** The moment to put on the beat; null where the gesture has none (drone, pulse). */
  climaxSeconds: number | null;
  /** False for the broad top of a swell, whose exact moment nobody can tell. */
  climaxIsSharp: boolean;
  accents: TrueAccent[];
  /** Beginnings neither sudden nor slow (15 to 150 ms), or sudden but quiet: a matter of taste, so they count neither way. */
  softStartSeconds: number[];
  /** See `activePart`. */
  activeStartSeconds: number;
  activeSeconds: number;
  pulsePeriodSeconds: number | null;
  tremoloHz: number | null;
}

/**
 * The same in whole steps of eight bits, its peak at `peakSteps` of 128: what an old sampler or a game kept. Without dither, so
 * that what is weaker than half a step rests on zero.
 */
export function inEightBits(channels: readonly Float32Array[], peakSteps: number): Float32Array[] {
  const peak = Math.max(...channels.map((samples) => samples.reduce((most, x) => Math.max(most, Math.abs(x)), 0)));
  return channels.map((samples) => samples.map((x) => Math.round((x / peak) * peakSteps) / 128));
}

interface Part {
  at: number;
  samples: Float32Array;
  gains: number[];
  start: 'strike' | 'soft' | 'slow';
}

/** A strip of silence on which parts are laid, in seconds from the sound's own beginning. */
class Stage {
  readonly parts: Part[] = [];
  readonly random: Random;
  readonly rate: number;
  readonly channels: number;

  constructor(random: Random, rate: number, channels: number) {
    this.random = random;
    this.rate = rate;
    this.channels = channels;
  }

  material(): Material {
    return this.random.pick(MATERIALS);
  }

  /** A strike with its loudest 20 ms at `levelDb`. */
  strike(at: number, levelDb: number, options: { dying?: number; material?: Material; attack?: number } = {}): void {
    const material = options.material ?? this.material();
    const attack = options.attack ?? this.random.logBetween(0.0003, 0.01);
    const dying = options.dying ?? this.random.logBetween(0.08, 3);
    this.#lay(at, struck(this.random, material, this.rate, attack, dying), levelDb, 'strike');
  }

  /** Steady material of `seconds` under an outline of amplitude 0..1 over 0..1; an accent if it starts at once. */
  hold(
    at: number,
    seconds: number,
    levelDb: number,
    outline: (share: number) => number,
    material = this.material(),
  ): void {
    const samples = sustained(this.random, material, Math.round(seconds * this.rate), this.rate);
    for (let i = 0; i < samples.length; i++) samples[i] *= outline(i / samples.length);
    const edge = Math.min(samples.length >> 2, Math.round(0.002 * this.rate));
    for (let i = 0; i < edge; i++) {
      samples[i] *= i / edge;
      samples[samples.length - 1 - i] *= i / edge;
    }
    const early = outline(0.015 / seconds);
    const late = outline(0.15 / seconds);
    const start = early > 0.7 ? 'strike' : late > 0.7 || early > 0.5 * late ? 'soft' : 'slow';
    this.#lay(at, samples, levelDb, start);
  }

  #lay(at: number, samples: Float32Array, levelDb: number, start: Part['start']): void {
    const gain = 10 ** (levelDb / 20);
    for (let i = 0; i < samples.length; i++) samples[i] *= gain;
    const side = this.random.between(0, 1);
    const gains =
      this.channels === 1
        ? [1]
        : this.random.chance(0.3)
          ? this.random.pick([
              [1, 0],
              [0, 1],
            ])
          : [side, 1 - side];
    const power = Math.sqrt(gains.reduce((sum, g) => sum + g * g, 0) / this.channels);
    this.parts.push({ at, samples, gains: gains.map((g) => g / power), start });
  }
}

interface Plan {
  gesture: Gesture;
  /** Seconds from the sound's beginning. */
  climax: number | null;
  sharp: boolean;
  pulsePeriod?: number;
  tremolo?: number;
}

type Planner = (stage: Stage) => Plan;
const PLANS: Planner[] = [hit, swell, riser, drone, pulse, phrase, fade];
/** Lines of syllables, sounds of two parts, and short whooshes. */
const SOFT_PLANS: Planner[] = [spoken, twoParts, whoosh];

/** The sound of one seed; the seven gestures take turns. */
export function labelledSound(seed: number): LabelledSound {
  return laidOut(seed, PLANS);
}

/** The same for what begins softly: syllables, two parts and whooshes take turns. */
export function labelledSoftSound(seed: number): LabelledSound {
  return laidOut(seed, SOFT_PLANS);
}

function laidOut(seed: number, plans: readonly Planner[]): LabelledSound {
  const random = new Random(seed * 7919 + 13);
  const rate = random.pick([44100, 48000, 48000, 96000]);
  const channels = random.chance(0.5) ? 2 : 1;
  const stage = new Stage(random, rate, channels);
  const plan = plans[((seed % plans.length) + plans.length) % plans.length](stage);

  const preRoll = random.chance(0.25) ? 0 : random.between(0, 1);
  const postRoll = random.chance(0.25) ? 0 : random.between(0, 1);
  const roomSeconds = random.chance(0.5) ? random.logBetween(0.2, 2.5) : 0;
  const wetDb = random.between(-26, -8);
  const longest = Math.max(...stage.parts.map((part) => part.at + part.samples.length / rate));
  const frames = Math.ceil((preRoll + longest + roomSeconds * 0.7 + postRoll) * rate);
  const clean = Array.from({ length: channels }, () => new Float32Array(frames));
  for (const part of stage.parts) layOn(clean, part, Math.round((preRoll + part.at) * rate), 1);
  if (roomSeconds > 0) {
    const wet = reverberation(random, clean, rate, roomSeconds);
    const dryLevel = Math.max(...clean.map((samples) => loudest20ms(samples, rate)));
    const wetLevel = Math.max(...wet.map((samples) => loudest20ms(samples, rate)), 1e-9);
    const gain = (dryLevel / wetLevel) * 10 ** (wetDb / 20);
    clean.forEach((samples, c) => {
      for (let i = 0; i < frames; i++) samples[i] += wet[c][i] * gain;
    });
  }
  const noiseDb = random.chance(0.15) ? null : random.between(-90, -45);
  const quietest = noiseDb === null ? -45 : Math.max(-45, noiseDb + 26);
  const peak = Math.max(...clean.map((samples) => samples.reduce((a, b) => Math.max(a, Math.abs(b)), 0)));
  const gain = 10 ** (random.between(Math.min(quietest, -6), -1) / 20) / peak;
  for (const samples of clean) for (let i = 0; i < frames; i++) samples[i] *= gain;

  const noiseLevel = noiseDb === null ? 0 : 10 ** (noiseDb / 20);
  const noises = noiseLevel === 0 ? [] : clean.map(() => roomNoise(random, frames, rate, noiseLevel));
  const mix = clean.map((samples, c) => (noises.length > 0 ? samples.map((x, i) => x + noises[c][i]) : samples));
  const floorPower = noises.reduce((sum, noise) => sum + audiblePower(noise, rate) / noises.length, 0);
  const active = activePart(clean, rate, floorPower);
  const accents = stage.parts
    .filter((part) => part.start === 'strike')
    .map((part) => ({ seconds: preRoll + part.at, prominenceDb: prominence(mix, part, preRoll + part.at, gain, rate) }))
    .sort((a, b) => a.seconds - b.seconds);
  return {
    seed,
    description: `${plan.gesture}, ${rate} Hz, ${channels} ch, floor ${noiseDb?.toFixed(0) ?? 'none'}, room ${roomSeconds.toFixed(1)} s ${wetDb.toFixed(0)} dB`,
    sampleRateHz: rate,
    channels: mix,
    gesture: plan.gesture,
    climaxSeconds: plan.climax === null ? null : preRoll + plan.climax,
    climaxIsSharp: plan.sharp,
    accents,
    softStartSeconds: stage.parts.filter((part) => part.start === 'soft').map((part) => preRoll + part.at),
    activeStartSeconds: active.start,
    activeSeconds: active.end - active.start,
    pulsePeriodSeconds: plan.pulsePeriod ?? null,
    tremoloHz: plan.tremolo ?? null,
  };
}

function hit(stage: Stage): Plan {
  const { random } = stage;
  const dying = random.logBetween(0.08, 8);
  stage.strike(0, 0, { dying });
  const form = random.next();
  // A stick that bounces, a flam's grace note, a mallet's touch, or a faint pre-echo of tape.
  if (form < 0.15) stage.strike(random.between(0.06, 0.16), random.between(-14, -3), { dying: dying * 0.5 });
  else if (form < 0.3) {
    stage.parts.length = 0;
    const grace = random.between(0.03, 0.12);
    stage.strike(0, random.between(-14, -5), { dying: Math.min(dying, 0.3) });
    stage.strike(grace, 0, { dying });
    return { gesture: 'hit', climax: grace, sharp: true };
  } else if (form < 0.4) {
    const early = random.between(0.03, 0.3);
    for (const part of stage.parts) part.at += early;
    stage.strike(0, random.between(-38, -26), { dying: 0.1 });
    return { gesture: 'hit', climax: early, sharp: true };
  }
  return { gesture: 'hit', climax: 0, sharp: true };
}

/** Ways to grow from nothing to 1 over 0..1. */
function growth(random: Random): (share: number) => number {
  const form = random.next();
  if (form < 0.3) return (x) => x;
  if (form < 0.5) return (x) => Math.sin((Math.PI * x) / 2) ** 2;
  if (form < 0.7) {
    const power = random.between(1, 3);
    return (x) => x ** power;
  }
  const range = random.between(22, 45);
  return (x) => 10 ** ((range * (x - 1)) / 20);
}

function swell(stage: Stage): Plan {
  const { random } = stage;
  const seconds = random.logBetween(0.8, 7);
  const top = random.between(0.3, 0.65);
  const up = growth(random);
  const down = growth(random);
  stage.hold(0, seconds, 0, (x) => (x < top ? up(x / top) : down((1 - x) / (1 - top))));
  return { gesture: 'swell', climax: seconds * top, sharp: false };
}

function riser(stage: Stage): Plan {
  const { random } = stage;
  const seconds = random.logBetween(0.5, 6);
  const form = random.next();
  const up = growth(random);
  if (form < 0.2) {
    // Rises and stops dead: the stop is what must land.
    stage.hold(0, seconds, 0, up);
    return { gesture: 'riser', climax: seconds, sharp: true };
  }
  const gap = random.chance(0.25) ? random.between(0.02, 0.12) : 0;
  if (form < 0.45) {
    // A roll that quickens or not, rising into the strike.
    const step = random.between(0.06, 0.16);
    const material = stage.material();
    for (let at = 0; at < seconds - 0.05; at += step * random.between(0.9, 1.1)) {
      stage.strike(at, 20 * Math.log10(Math.max(0.01, up(at / seconds))) - 8, {
        material,
        dying: random.between(0.1, 0.4),
      });
    }
  } else {
    stage.hold(0, seconds, random.between(-14, -4), up);
  }
  stage.strike(seconds + gap, 0, { dying: random.logBetween(0.08, Math.min(1.5, seconds)) });
  return { gesture: 'riser', climax: seconds + gap, sharp: true };
}

function drone(stage: Stage): Plan {
  const { random } = stage;
  const seconds = random.logBetween(1.5, 8);
  const fadeIn = random.between(0.002, 0.15);
  const fadeOut = random.between(0.002, 0.15);
  const depth = random.chance(0.5) ? random.between(0.1, 0.33) : 0;
  const hertz = random.logBetween(Math.max(0.7, 5 / seconds), 14);
  const edges = (x: number): number => Math.min(1, x / fadeIn, (1 - x) / fadeOut);
  const material = random.pick(['white noise', 'tone', 'coloured noise', 'thud'] as const);
  stage.hold(
    0,
    seconds,
    0,
    (x) => edges(x) * (1 - depth + depth * Math.sin(2 * Math.PI * hertz * x * seconds)),
    material,
  );
  const steady = depth > 0.15 && (material === 'tone' || material === 'white noise' || material === 'thud');
  return { gesture: 'drone', climax: null, sharp: false, ...(steady ? { tremolo: hertz } : {}) };
}

function pulse(stage: Stage): Plan {
  const { random } = stage;
  const count = random.whole(5, 16);
  const period = random.logBetween(0.12, 0.8);
  const material = stage.material();
  const dying = random.between(0.3, 1) * period;
  const gated = random.chance(0.3);
  for (let n = 0; n < count; n++) {
    const at = n * period + random.between(-0.004, 0.004) + 0.004;
    const level = random.between(-2, 0);
    if (gated) stage.hold(at, period * 0.5, level, () => 1, material);
    else stage.strike(at, level, { material, dying });
  }
  return { gesture: 'pulse', climax: null, sharp: false, pulsePeriod: period };
}

function phrase(stage: Stage): Plan {
  const { random } = stage;
  const count = random.whole(3, 8);
  const loudest = random.whole(0, count - 1);
  let at = 0;
  let climax = 0;
  for (let n = 0; n < count; n++) {
    if (n === loudest) climax = at;
    stage.strike(at, n === loudest ? 0 : random.between(-12, -3), { dying: random.logBetween(0.1, 1.2) });
    at += random.logBetween(0.15, 1.1);
  }
  return { gesture: 'phrase', climax, sharp: true };
}

/**
 * Two to seven syllables of one voice, 0.13 to 0.28 s each with a pause of 30 to 120 ms between: three to six a
 * second, as people speak (common practice, no source). The loudest leads by 3 dB or more.
 */
function spoken(stage: Stage): Plan {
  const { random } = stage;
  const count = random.whole(2, 7);
  const loudest = random.whole(0, count - 1);
  const material = random.pick(['tone', 'chord', 'coloured noise'] as const);
  let at = 0;
  let climax = 0;
  for (let n = 0; n < count; n++) {
    const seconds = random.between(0.13, 0.28);
    const top = random.between(0.3, 0.6);
    if (n === loudest) climax = at + seconds * top;
    const outline = (x: number): number => Math.sin((Math.PI / 2) * (x < top ? x / top : (1 - x) / (1 - top)));
    stage.hold(at, seconds, n === loudest ? 0 : random.between(-9, -3), outline, material);
    at += seconds + random.between(0.03, 0.12);
  }
  return { gesture: 'phrase', climax, sharp: false };
}

/** A pluck, and when it has died a whoosh as loud or louder: two things, however steadily the second rises. */
function twoParts(stage: Stage): Plan {
  const { random } = stage;
  stage.strike(0, random.between(-10, -3), { dying: random.between(0.08, 0.2) });
  const at = random.between(0.25, 0.5);
  const seconds = random.between(0.3, 1.2);
  const top = random.between(0.4, 0.7);
  const outline = (x: number): number => Math.sin((Math.PI / 2) * (x < top ? x / top : (1 - x) / (1 - top))) ** 2;
  stage.hold(at, seconds, 0, outline, 'coloured noise');
  return { gesture: 'phrase', climax: at + seconds * top, sharp: false };
}

/** A swish of 0.15 to 0.5 s, whose top is narrow: what it is called is a matter of taste, where its top is not. */
function whoosh(stage: Stage): Plan {
  const { random } = stage;
  const seconds = random.between(0.15, 0.5);
  const top = random.between(0.35, 0.75);
  const outline = (x: number): number => (x < top ? x / top : (1 - x) / (1 - top)) ** 2;
  stage.hold(0, seconds, 0, outline, random.pick(['tone', 'white noise'] as const));
  return { gesture: 'swell', climax: seconds * top, sharp: true };
}

function fade(stage: Stage): Plan {
  const { random } = stage;
  const form = random.next();
  const seconds = random.logBetween(1.5, 7);
  const range = random.between(24, 36);
  if (form < 0.25) {
    // Evenly falling in decibels, slower than struck things do.
    stage.hold(
      0,
      Math.max(seconds, range / 5),
      0,
      (x) => 10 ** ((-range * x) / 20),
      random.pick(['white noise', 'tone', 'thud']),
    );
  } else if (form < 0.6) stage.hold(0, seconds, 0, (x) => 1 - x);
  else if (form < 0.8) stage.hold(0, seconds, 0, (x) => Math.cos((Math.PI * x) / 2));
  else stage.hold(0, seconds, 0, (x) => Math.cos((Math.PI * x) / 2) ** 2);
  return { gesture: 'fade', climax: 0, sharp: true };
}

function layOn(channels: readonly Float32Array[], part: Part, frame: number, gain: number): void {
  channels.forEach((samples, c) => {
    const factor = part.gains[c] * gain;
    for (let i = 0; i < part.samples.length && frame + i < samples.length; i++) {
      if (frame + i >= 0) samples[frame + i] += part.samples[i] * factor;
    }
  });
}

/**
 * Truth by the published definition (activeStartSeconds in shared/measure/descriptors.ts), from the parts alone: first and last
 * moment at which the power of the sound without room noise is above that of the room noise without the sound, and above
 * -60 dB of its loudest 20 ms. Means over 50 ms tell where that is, and within them the first and last 5 ms above the
 * limit, so that a sharp edge is where it is. An event that barely reaches the limit counts like any other.
 */
function activePart(clean: readonly Float32Array[], rate: number, floorPower: number): { start: number; end: number } {
  const step = Math.round(0.001 * rate);
  const powers = Array.from({ length: Math.ceil(clean[0].length / step) }, (_, i) => {
    const parts = clean.map((samples) => rootMeanSquare(samples, i * step, (i + 1) * step) ** 2);
    return parts.reduce((sum, power) => sum + power, 0) / clean.length;
  });
  const short = centredMeans(powers, 5);
  const limit = Math.max(floorPower, Math.max(...centredMeans(powers, 20)) * 1e-6);
  const long = centredMeans(powers, 50);
  const firstLong = long.findIndex((power) => power > limit);
  const lastLong = long.findLastIndex((power) => power > limit);
  const first = short.findIndex((power, i) => i >= firstLong && power > limit);
  const last = short.findLastIndex((power, i) => i <= lastLong && power > limit);
  return { start: (first * step) / rate, end: ((last + 1) * step) / rate };
}

/** Mean square of what is above 12 Hz (one pole): what sways more slowly is neither sound nor noise. */
function audiblePower(noise: Float32Array, rate: number): number {
  const gain = 1 - Math.exp((-2 * Math.PI * 12) / rate);
  let offset = 0;
  const audible = noise.map((sample) => {
    offset += gain * (sample - offset);
    return sample - offset;
  });
  return rootMeanSquare(audible, 0, audible.length) ** 2;
}

function centredMeans(values: readonly number[], width: number): number[] {
  return values.map((_, i) => {
    let sum = 0;
    for (let k = Math.max(0, i - (width >> 1)); k <= i + (width >> 1) && k < values.length; k++) sum += values[k];
    return sum / (2 * (width >> 1) + 1);
  });
}

function prominence(mix: readonly Float32Array[], part: Part, seconds: number, gain: number, rate: number): number {
  const onset = Math.round(seconds * rate);
  const window = Math.round(0.05 * rate);
  let own = 0;
  let others = 0;
  mix.forEach((samples, c) => {
    const alone = part.samples.slice(0, window).map((sample) => sample * part.gains[c] * gain);
    const around = samples.slice(Math.max(0, onset - window), onset + Math.round(0.03 * rate));
    for (let i = 0; i < around.length; i++) {
      const into = i + Math.max(0, onset - window) - onset;
      if (into >= 0 && into < alone.length) around[i] -= alone[into];
    }
    own += loudest20ms(alone, rate) ** 2;
    others += rootMeanSquare(around, 0, around.length) ** 2;
  });
  return 10 * Math.log10((own + 1e-15) / (others + 1e-15));
}
