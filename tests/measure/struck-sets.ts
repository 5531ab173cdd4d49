/**
 * Random sounds for the question which note they have: bodies whose partials stand in no row, and harmonic sounds whose
 * lowest harmonics are weak or missing. Ratios are those of Fletcher & Rossing, The Physics of Musical Instruments (from
 * memory); levels, decays and mistunings are drawn by chance.
 */
import type { Random } from './random.ts';

export const RATE = 48_000;

export interface StruckBody {
  kind: string;
  /** Frequencies over the one they are named by. */
  ratios: (random: Random) => number[];
  lowestHz: readonly [number, number];
  /** Ratios that a listener may name besides strong partials: a bell's strike note, an octave under its nominal. */
  strikeRatios: readonly number[];
}

const detuned = (ratios: readonly number[], share: number) => (random: Random) =>
  ratios.map((ratio) => ratio * (1 + share * random.between(-1, 1)));

export const STRUCK_BODIES: readonly StruckBody[] = [
  {
    kind: 'minor-third bell',
    ratios: detuned([0.5, 1, 1.2, 1.5, 2, 2.5, 2.67, 3, 4, 5.33], 0.012),
    lowestHz: [130, 1_200],
    strikeRatios: [1],
  },
  {
    kind: "ship's bell",
    ratios: detuned([0.5, 1, 1.2, 1.5, 2, 2.52, 2.66, 3, 3.76, 4.2, 5.4, 6.7], 0.006),
    lowestHz: [300, 1_200],
    strikeRatios: [1],
  },
  {
    kind: 'free bar',
    ratios: detuned([1, 2.756, 5.404, 8.933, 13.344], 0.01),
    lowestHz: [80, 1_500],
    strikeRatios: [],
  },
  {
    // A bar's higher modes; the fourth to sixth, near 2 : 3 : 4, give its note.
    kind: 'tubular bell',
    ratios: detuned([2.756, 5.404, 8.933, 13.344, 18.637], 0.004),
    lowestHz: [50, 90],
    strikeRatios: [8.933 / 2],
  },
  {
    kind: 'circular plate',
    ratios: detuned([1, 1.73, 2.328, 3.91, 4.11, 6.3, 6.71], 0.01),
    lowestHz: [80, 900],
    strikeRatios: [],
  },
  {
    kind: 'membrane',
    ratios: detuned([1, 1.594, 2.136, 2.296, 2.653, 2.918, 3.156, 3.5, 3.6], 0.01),
    lowestHz: [50, 500],
    strikeRatios: [],
  },
  {
    kind: 'random partials',
    ratios: (random) => Array.from({ length: random.whole(3, 9) }, () => random.logBetween(1, 9)),
    lowestHz: [80, 1_000],
    strikeRatios: [],
  },
  {
    // Whole multiples of an absent low tone, seldom neighbours: its period is there, its note is not heard.
    kind: 'near multiples of a low tone',
    ratios: (random) =>
      Array.from({ length: random.whole(3, 6) }, () => random.whole(4, 32) * (1 + 0.003 * random.between(-1, 1))),
    lowestHz: [28, 120],
    strikeRatios: [],
  },
];

export interface StruckSound {
  kind: string;
  samples: Float32Array;
  /** Frequencies and energies (over the whole sound) of the partials. */
  partials: { hz: number; energy: number; ratio: number }[];
  strikeHz: number[];
}

interface Mode {
  hz: number;
  amplitude: number;
  /** Fall by 60 dB. */
  fallSeconds: number;
}

/** Any of the bodies, dying away or played backwards, as it is or up to three octaves lower, with more or less noise. */
export function struckSound(body: StruckBody, random: Random): StruckSound {
  const octaves = random.chance(0.4) ? random.whole(1, 3) : 0;
  const lowestHz = random.logBetween(body.lowestHz[0], body.lowestHz[1]) / 2 ** octaves;
  const ringSeconds = random.logBetween(0.4, 6) * 2 ** (octaves / 2);
  const tilt = random.between(0, 1);
  const dampedAboveHz = random.logBetween(500, 8_000);
  const modes = body
    .ratios(random)
    .map((ratio) => ({ ratio, hz: ratio * lowestHz }))
    .filter(({ hz }) => hz > 20 && hz < 12_000)
    .map(({ ratio, hz }) => ({
      ratio,
      hz,
      amplitude: ratio ** -tilt * random.logBetween(0.15, 1.5),
      fallSeconds: (ringSeconds * random.between(0.6, 1.4)) / (1 + (hz / dampedAboveHz) ** 1.2),
    }));
  const seconds = Math.min(2, 0.3 + ringSeconds * 0.7);
  return {
    kind: body.kind,
    samples: rung(modes, seconds, random.chance(0.3), random.logBetween(1e-4, 0.03), random),
    partials: modes.map(({ ratio, hz, amplitude, fallSeconds }) => ({
      ratio,
      hz,
      energy: amplitude ** 2 * fallSeconds * (1 - 10 ** ((-6 * seconds) / fallSeconds)),
    })),
    strikeHz: body.strikeRatios.map((ratio) => ratio * lowestHz),
  };
}

/** Sum of decaying sines of random phase over noise of the given share of their level. */
function rung(
  modes: readonly Mode[],
  seconds: number,
  backwards: boolean,
  noise: number,
  random: Random,
): Float32Array {
  const samples = new Float32Array(Math.round(seconds * RATE));
  for (const { hz, amplitude, fallSeconds } of modes) {
    const phase = random.between(0, 2 * Math.PI);
    const turn = (2 * Math.PI * hz) / RATE;
    const fall = 10 ** (-3 / (fallSeconds * RATE));
    // z[n] = (fall e^(i turn))^n by repeated multiplication.
    let [re, im] = [amplitude * Math.cos(phase), amplitude * Math.sin(phase)];
    const [stepRe, stepIm] = [fall * Math.cos(turn), fall * Math.sin(turn)];
    for (let n = 0; n < samples.length; n++) {
      samples[n] += im;
      [re, im] = [re * stepRe - im * stepIm, re * stepIm + im * stepRe];
    }
  }
  if (backwards) samples.reverse();
  const level = Math.sqrt(samples.reduce((sum, x) => sum + x * x, 0) / samples.length);
  return samples.map((x) => (0.1 / level) * (x + noise * level * random.normal()));
}

export interface HarmonicSound {
  kind: string;
  hz: number;
  samples: Float32Array;
}

/** Harmonic sounds whose note has little or nothing at its own frequency. */
export const HARMONIC_KINDS: Record<string, (random: Random) => HarmonicSound> = {
  'low piano string': (random) => {
    const hz = random.logBetween(27.5, 110);
    const stiffness = random.logBetween(1e-4, 4e-4);
    const modes = Array.from({ length: 24 }, (_, i) => i + 1).map((n) => ({
      hz: n * hz * Math.sqrt(1 + stiffness * n * n),
      // The soundboard hardly radiates the lowest; a hammer at an eighth leaves out every eighth.
      amplitude:
        (0.05 + Math.abs(Math.sin((Math.PI * n) / 8))) * n ** -0.7 * random.logBetween(0.5, 1.5) * below(n * hz, 90),
      fallSeconds: 8 / (1 + n / 8),
    }));
    return { kind: 'low piano string', hz, samples: rung(modes, 1.5, random.chance(0.2), 0.003, random) };
  },
  'bowed bass': (random) => {
    const hz = random.logBetween(31, 100);
    const modes = Array.from({ length: 30 }, (_, i) => i + 1).map((n) => ({
      hz: n * hz,
      amplitude: (random.logBetween(0.3, 2) / n) * below(n * hz, 130),
      fallSeconds: 1e3,
    }));
    return { kind: 'bowed bass', hz, samples: rung(modes, 1.2, false, random.logBetween(0.003, 0.1), random) };
  },
  'partials 3 to 10': (random) => {
    const hz = random.logBetween(60, 600);
    const modes = [3, 4, 5, 6, 7, 8, 9, 10].map((n) => ({
      hz: n * hz,
      amplitude: random.logBetween(0.5, 2),
      fallSeconds: random.chance(0.5) ? 1e3 : 3,
    }));
    return {
      kind: 'partials 3 to 10',
      hz,
      samples: rung(modes, 1.2, random.chance(0.3), random.logBetween(1e-3, 0.05), random),
    };
  },
  'odd harmonics': (random) => {
    const hz = random.logBetween(80, 800);
    const modes = [1, 3, 5, 7, 9, 11].map((n) => ({
      hz: n * hz,
      amplitude: random.logBetween(0.5, 2) / n,
      fallSeconds: 1e3,
    }));
    return { kind: 'odd harmonics', hz, samples: rung(modes, 1.2, false, random.logBetween(1e-3, 0.05), random) };
  },
};

/** Radiation of a body too small for what lies below `cornerHz`: 12 dB an octave. */
function below(hz: number, cornerHz: number): number {
  const ratio = (hz / cornerHz) ** 2;
  return ratio / (1 + ratio);
}
