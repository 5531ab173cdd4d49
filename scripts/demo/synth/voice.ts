/**
 * A voice that says words nobody knows: source and filter (Klatt, "Software for a cascade/parallel formant synthesizer", JASA 67,
 * 1980). Glottal pulses with a wandering pitch, or noise, go through resonances that move from vowel to vowel. Formants are
 * the means of men and women of Peterson & Barney, "Control methods used in a study of the vowels", JASA 24, 1952, table II;
 * bandwidths, transitions and lengths of consonants are Klatt's, rounded (both from memory).
 */
import { filterInPlace } from './filter.ts';
import type { Random } from './random.ts';

export type Speaker = 'man' | 'woman';

/** First, second and third formant in Hz. */
type Formants = readonly [number, number, number];

const VOWELS: Readonly<Record<Speaker, readonly Formants[]>> = {
  man: [
    [270, 2290, 3010],
    [390, 1990, 2550],
    [530, 1840, 2480],
    [660, 1720, 2410],
    [730, 1090, 2440],
    [570, 840, 2410],
    [440, 1020, 2240],
    [300, 870, 2240],
    [640, 1190, 2390],
    [490, 1350, 1690],
  ],
  woman: [
    [310, 2790, 3310],
    [430, 2480, 3070],
    [610, 2330, 2990],
    [860, 2050, 2850],
    [850, 1220, 2810],
    [590, 920, 2710],
    [470, 1160, 2680],
    [370, 950, 2670],
    [760, 1400, 2780],
    [500, 1640, 1960],
  ],
};
/** Mean pitch of the speakers of Peterson & Barney. */
const PITCH_HZ: Readonly<Record<Speaker, number>> = { man: 132, woman: 223 };
const BANDWIDTHS_HZ = [60, 90, 150, 250] as const;
const FOURTH_FORMANT_HZ: Readonly<Record<Speaker, number>> = { man: 3500, woman: 4100 };
const NASAL: Formants = [250, 1300, 2300];
const GLIDE: Formants = [360, 1100, 2300];
/** Where the noise of a stop's burst and of a fricative lies. */
const NOISE_HZ = [1800, 2600, 4200, 5600] as const;
const CONSONANTS = ['stop', 'stop', 'voiced stop', 'fricative', 'nasal', 'glide', 'none'] as const;

/** Values that hold from here on, reached over TRANSITION_SECONDS. */
interface Target {
  seconds: number;
  formants: Formants;
  /** Amplitude of voice, of breath through the same resonances, and of noise at noiseHz. */
  voice: number;
  breath: number;
  noise: number;
  noiseHz: number;
  pitchHz: number;
}

const TRANSITION_SECONDS = 0.05;
/** Voice and noise come and go faster than the mouth moves. */
const ONSET_SECONDS = 0.012;
/** The pitch follows its accents as slowly as this (Fujisaki: about 1 / 20 s twice). */
const LARYNX_SECONDS = 0.08;
const CONTROL_SECONDS = 0.001;
const LEAST_NOISE = 1e-4;
/** Above this the pulses of the glottis fall by 12 dB an octave. */
const GLOTTIS_HZ = 100;

/** One utterance, peak 1: `wordsInPhrase` words in each phrase, a short pause between phrases. Begins and ends in silence. */
export function speak(
  speaker: Speaker,
  wordsInPhrase: readonly number[],
  rateHz: number,
  random: Random,
): Float32Array {
  const targets = utterance(speaker, wordsInPhrase, random);
  const { seconds } = targets[targets.length - 1];
  const frames = Math.ceil(seconds * rateHz);
  const step = Math.max(1, Math.round(CONTROL_SECONDS * rateHz));
  const samples = new Float32Array(frames);
  const hiss = new Float32Array(frames);
  const resonators = BANDWIDTHS_HZ.map(() => new Resonator(rateHz));
  const glottis = new Resonator(rateHz);
  glottis.tune(0, GLOTTIS_HZ);
  // Its answer to one impulse has this peak.
  const pulseGain = (Math.E * rateHz) / (Math.PI * GLOTTIS_HZ);
  const now = { ...targets[0], formants: [...targets[0].formants] };
  let next = 0;
  let phase = 0;
  let tilt = 0;
  const mouth = 1 - Math.exp(-CONTROL_SECONDS / (TRANSITION_SECONDS / 2.5));
  const larynx = 1 - Math.exp(-CONTROL_SECONDS / LARYNX_SECONDS);
  const onset = 1 - Math.exp(-CONTROL_SECONDS / (ONSET_SECONDS / 2.5));
  for (let start = 0; start < frames; start += step) {
    while (next + 1 < targets.length && targets[next + 1].seconds * rateHz <= start) next++;
    const target = targets[next];
    now.voice += onset * (target.voice - now.voice);
    now.breath += onset * (target.breath - now.breath);
    now.noise += onset * (target.noise - now.noise);
    now.pitchHz += larynx * (target.pitchHz - now.pitchHz);
    const pitchHz = now.pitchHz + flutterHz(now.pitchHz, start / rateHz);
    now.formants = now.formants.map((hertz, i) => hertz + mouth * (target.formants[i] - hertz));
    [...now.formants, FOURTH_FORMANT_HZ[speaker]].forEach((hertz, i) => {
      resonators[i].tune(hertz, BANDWIDTHS_HZ[i]);
    });
    for (let i = start; i < Math.min(frames, start + step); i++) {
      phase += pitchHz / rateHz;
      let pulse = 0;
      if (phase >= 1) {
        phase -= 1;
        pulse = 1;
      }
      let shaped = pulseGain * glottis.next(pulse) * now.voice;
      if (now.breath > LEAST_NOISE) shaped += 0.05 * now.breath * random.normal();
      for (const resonator of resonators) shaped = resonator.next(shaped);
      // Sound leaves the lips as the change of the flow.
      samples[i] = shaped - tilt;
      tilt = shaped;
      if (now.noise > LEAST_NOISE) hiss[i] = now.noise * random.normal();
    }
  }
  normalise(samples, 1);
  const noiseHz = (seconds: number): number => (targets.findLast((target) => target.seconds <= seconds) ?? now).noiseHz;
  filterInPlace(hiss, rateHz, { kind: 'band', hz: noiseHz, quality: 1.5 });
  for (let i = 0; i < frames; i++) samples[i] += 0.25 * hiss[i];
  normalise(samples, 1);
  return samples;
}

/** Flutter of 25 %: Klatt & Klatt, JASA 87, 1990 (from memory). */
function flutterHz(pitchHz: number, seconds: number): number {
  const wave = (hertz: number): number => Math.sin(2 * Math.PI * hertz * seconds);
  return 0.5 * (pitchHz / 100) * (wave(12.7) + wave(7.1) + wave(4.7));
}

function utterance(speaker: Speaker, wordsInPhrase: readonly number[], random: Random): Target[] {
  const targets: Target[] = [];
  const basis = PITCH_HZ[speaker] * random.range(0.85, 1.15);
  const syllables = wordsInPhrase.map((words) => Array.from({ length: words }, () => random.whole(1, 2)));
  const count = syllables.flat().reduce((sum, number) => sum + number, 0);
  let done = 0;
  let seconds = 0;
  let last: Target = {
    seconds: 0,
    formants: random.pick(VOWELS[speaker]),
    voice: 0,
    breath: 0,
    noise: 0,
    noiseHz: NOISE_HZ[0],
    pitchHz: basis,
  };
  const hold = (change: Partial<Target>, length: number): void => {
    last = { ...last, voice: 0, breath: 0, noise: 0, ...change, seconds };
    targets.push(last);
    seconds += length;
  };
  for (const phrase of syllables) {
    for (const inWord of phrase) {
      for (let syllable = 0; syllable < inWord; syllable++) {
        // The voice sinks over a sentence and rises where it stresses.
        const stressed = syllable === 0;
        const pitchHz = basis * (1.12 - (0.3 * done) / count) * (stressed ? random.range(1.02, 1.2) : 0.95);
        const voice = random.range(0.6, 1) * (stressed ? 1 : 0.6);
        consonant(hold, random, pitchHz);
        hold({ formants: random.pick(VOWELS[speaker]), voice, pitchHz }, random.range(0.04, 0.08));
        // Half of them are diphthongs.
        const ends = random.unit() < 0.5 ? { formants: random.pick(VOWELS[speaker]) } : {};
        hold(
          { ...ends, voice, pitchHz: pitchHz * random.range(0.8, 1.02) },
          random.range(0.06, stressed ? 0.14 : 0.08),
        );
        if (random.unit() < 0.3) hold({ voice: voice * 0.5, formants: NASAL }, random.range(0.05, 0.08));
        done++;
      }
      if (random.unit() < 0.35) hold({ noise: 0.5, noiseHz: random.pick(NOISE_HZ) }, random.range(0.06, 0.12));
    }
    hold({}, random.range(0.15, 0.35));
  }
  hold({}, 0);
  return targets;
}

function consonant(hold: (change: Partial<Target>, seconds: number) => void, random: Random, pitchHz: number): void {
  const noiseHz = random.pick(NOISE_HZ);
  switch (random.pick(CONSONANTS)) {
    case 'stop':
      hold({ pitchHz }, random.range(0.05, 0.09));
      hold({ noise: 1, noiseHz }, random.range(0.008, 0.015));
      hold({ breath: 0.8 }, random.range(0.02, 0.05));
      break;
    case 'voiced stop':
      hold({ voice: 0.08, formants: NASAL, pitchHz }, random.range(0.04, 0.07));
      hold({ noise: 0.6, noiseHz }, 0.008);
      break;
    case 'fricative':
      hold({ noise: random.range(0.3, 0.8), noiseHz, pitchHz }, random.range(0.08, 0.13));
      break;
    case 'nasal':
      hold({ voice: 0.4, formants: NASAL, pitchHz }, random.range(0.05, 0.09));
      break;
    case 'glide':
      hold({ voice: 0.5, formants: GLIDE, pitchHz }, random.range(0.05, 0.08));
      break;
    case 'none':
      break;
  }
}

/** Klatt's digital resonator, gain 1 at 0 Hz. */
class Resonator {
  readonly #rateHz: number;
  #a = 1;
  #b = 0;
  #c = 0;
  #y1 = 0;
  #y2 = 0;

  constructor(rateHz: number) {
    this.#rateHz = rateHz;
  }

  tune(hertz: number, bandwidthHz: number): void {
    this.#c = -Math.exp((-2 * Math.PI * bandwidthHz) / this.#rateHz);
    this.#b = 2 * Math.exp((-Math.PI * bandwidthHz) / this.#rateHz) * Math.cos((2 * Math.PI * hertz) / this.#rateHz);
    this.#a = 1 - this.#b - this.#c;
  }

  next(x: number): number {
    const y = this.#a * x + this.#b * this.#y1 + this.#c * this.#y2;
    this.#y2 = this.#y1;
    this.#y1 = Math.abs(y) < 1e-25 ? 0 : y;
    return this.#y1;
  }
}

function normalise(samples: Float32Array, to: number): void {
  const peak = samples.reduce((most, x) => Math.max(most, Math.abs(x)), 0);
  if (peak > 0) for (let i = 0; i < samples.length; i++) samples[i] *= to / peak;
}
