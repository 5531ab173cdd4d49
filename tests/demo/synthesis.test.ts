/** The building blocks of the synthesis against what is known of them by thought or from a handbook. */
import { describe, expect, it } from 'vitest';
import { beats, drone, fade, riser, struck, swell, swiped } from '../../scripts/demo/plan/shorthand.ts';
import { playSource, type SoundSource } from '../../scripts/demo/sources/source.ts';
import { BODIES } from '../../scripts/demo/synth/bodies.ts';
import type { Studio } from '../../scripts/demo/synth/dry-take.ts';
import { fallThrough } from '../../scripts/demo/synth/fall.ts';
import { addBowed } from '../../scripts/demo/synth/friction.ts';
import { addModes, type Mode, modesFallSeconds } from '../../scripts/demo/synth/modal-bank.ts';
import { pinkNoise, whiteNoise } from '../../scripts/demo/synth/noise.ts';
import { createRandom } from '../../scripts/demo/synth/random.ts';
import { addRoom } from '../../scripts/demo/synth/room.ts';
import { scatter } from '../../scripts/demo/synth/scatter.ts';
import { shapeAccentSeconds, shapeFallSeconds, shapeLevel } from '../../scripts/demo/synth/shape.ts';

const RATE = 48000;
const studio = (seed: string): Studio => ({
  rateHz: RATE,
  channels: 1,
  random: createRandom(seed),
  making: createRandom(`${seed} making`),
});

describe('modes', () => {
  const mode: Mode = { hz: 441, t60Seconds: 0.5, gain: 1, left: 1, right: 1, turn: 0, riseSeconds: 0, sharpness: 0 };

  it('a mode rings at its frequency, at its gain, and falls by 60 dB in its t60', () => {
    const output = [new Float32Array(RATE)];
    addModes(output, [mode], Float32Array.of(1), RATE);
    // The answer to an impulse is gain r^n sin(w (n + 1)): 441 rising zero crossings in a second, but for the cut-off end.
    const crossings = Array.from({ length: RATE / 2 }, (_, n) => n).filter(
      (n) => n > 0 && output[0][n - 1] < 0 && output[0][n] >= 0,
    );
    expect(crossings.length / 0.5).toBeCloseTo(441, -1);
    expect(peak(output[0], 0, 0.01)).toBeCloseTo(1, 1);
    expect(20 * Math.log10(peak(output[0], 0.5, 0.01) / peak(output[0], 0, 0.01))).toBeCloseTo(-60, 0);
    expect(modesFallSeconds([mode], 60)).toBeCloseTo(0.5, 4);
    expect(modesFallSeconds([], 60)).toBe(0);
  });

  it('the right microphone hears the same mode turned by its angle', () => {
    const output = [new Float32Array(RATE / 4), new Float32Array(RATE / 4)];
    addModes(output, [{ ...mode, t60Seconds: 1000, turn: Math.PI / 3 }], Float32Array.of(1), RATE);
    const [left, right] = output.map((channel) => channel.subarray(1000));
    // Correlation of two sines is the cosine of the angle between them: cos 60 degrees = 0.5.
    expect(dot(left, right) / Math.sqrt(dot(left, left) * dot(right, right))).toBeCloseTo(0.5, 2);
  });

  it('a late mode is silent at the blow and swells', () => {
    const output = [new Float32Array(RATE)];
    addModes(output, [{ ...mode, t60Seconds: 3, riseSeconds: 0.4 }], Float32Array.of(1), RATE);
    expect(peak(output[0], 0, 0.005)).toBeLessThan(0.25 * peak(output[0], 0.05, 0.2));
  });

  it('bodies keep the ratios of the handbook (Fletcher and Rossing): bar and membrane, none exactly harmonic', () => {
    const bar = BODIES.bronzeBar.ratios(createRandom('bar'));
    [1, 2.756, 5.404, 8.933].forEach((ratio, index) => {
      expect(Math.abs(bar[index] / ratio - 1)).toBeLessThan(0.005);
    });
    const membrane = BODIES.frameDrum.ratios(createRandom('drum'));
    [1, 1.594, 2.136, 2.296, 2.653, 2.918].forEach((ratio, index) => {
      expect(Math.abs(membrane[index] / ratio - 1)).toBeLessThan(0.021);
    });
  });
});

describe('friction', () => {
  const modes: Mode[] = [300, 827, 1621].map((hz, index) => ({
    ...{ hz, t60Seconds: 2, gain: index === 0 ? 1 : 0.1, left: 1, right: 1, turn: 0, riseSeconds: 0, sharpness: 0 },
  }));
  const bow = (pressure: number) => {
    const output = [new Float32Array(RATE)];
    const random = createRandom('bow');
    addBowed(output, modes, { effortAt: () => 1, pressure, grit: 0.05, seconds: 1, rateHz: RATE, random });
    return output[0];
  };

  it('lightly pressed, feeds a quiet mode until it sings at its own pitch', () => {
    const sung = bow(0.05);
    expect(peak(sung, 0.8, 0.2)).toBeGreaterThan(10 * peak(sung, 0, 0.01));
    const last = sung.subarray(RATE / 2);
    const crossings = last.reduce(
      (count, value, index) => count + (index > 0 && last[index - 1] < 0 && value >= 0 ? 1 : 0),
      0,
    );
    expect(Math.abs(crossings / 0.5 / 300 - 1)).toBeLessThan(0.01);
  });

  it('stays finite, and no faster than a few times the bow (0.2), however hard it is pressed', () => {
    for (const pressure of [0.5, 2, 6]) {
      const sung = bow(pressure);
      expect(sung.every(Number.isFinite)).toBe(true);
      expect(peak(sung, 0, 1)).toBeLessThan(2);
    }
  });
});

describe('noise', () => {
  it('white has RMS 1 and no lean; pink loses 3 dB an octave', () => {
    const white = whiteNoise(1 << 17, createRandom('white'));
    expect(rms(white)).toBeCloseTo(1, 1);
    const pink = pinkNoise(1 << 17, createRandom('pink'));
    // Octave bands of pink noise carry equal energy, by definition of 1/f: compare 250 Hz and 4 kHz, 4 octaves apart.
    expect(Math.abs(octaveDb(pink, 250) - octaveDb(pink, 4000))).toBeLessThan(1.5);
    // Those of white noise rise by 3.01 dB an octave.
    expect(octaveDb(white, 4000) - octaveDb(white, 250)).toBeCloseTo(12.04, -0.5);
  });
});

describe('rooms', () => {
  it('the tail falls by 60 dB in the decay time asked for (Schroeder backward integration, ISO 3382: T30)', () => {
    const room = { t60Seconds: 1.2, highShare: 0.9, wallHz: 8000, pathMetres: 8, earlyDb: -12, tailDb: -18 };
    const click = [Float32Array.of(1), Float32Array.of(1)];
    const [left, right] = addRoom(click, room, { rateHz: RATE, seconds: 1.6, random: createRandom('room') });
    expect(reverberationSeconds(left)).toBeGreaterThan(1.0);
    expect(reverberationSeconds(left)).toBeLessThan(1.4);
    const tails = [left, right].map((channel) => channel.subarray(0.1 * RATE));
    expect(
      Math.abs(dot(tails[0], tails[1])) / Math.sqrt(dot(tails[0], tails[0]) * dot(tails[1], tails[1])),
    ).toBeLessThan(0.2);
    expect(left[0]).toBeCloseTo(1, 6);
  });
});

describe('shapes and falls', () => {
  it('levels lie in 0..1, reach 1 at the accent, and are 0 outside', () => {
    for (const shape of [swell(2, 0.4), riser(2), fade(2), drone(2)]) {
      const levels = Array.from({ length: 2001 }, (_, index) => shapeLevel(shape, index / 1000));
      expect(Math.min(...levels)).toBeGreaterThanOrEqual(0);
      expect(Math.max(...levels)).toBeLessThanOrEqual(1);
      expect(shapeLevel(shape, -0.1) + shapeLevel(shape, 2)).toBe(0);
    }
    expect(shapeAccentSeconds(drone(2))).toBeNull();
    expect(shapeLevel(swell(2, 0.4), 0.8)).toBeCloseTo(1, 6);
    const cut = shapeAccentSeconds(riser(2)) ?? 0;
    expect(shapeLevel(riser(2), cut)).toBeCloseTo(1, 2);
  });

  it('rise and fall bracket the time above a level', () => {
    const shape = swell(3);
    for (const dropDb of [6, 12, 20]) {
      const threshold = 10 ** (-dropDb / 20);
      expect(shapeLevel(shape, shapeFallSeconds(shape, dropDb) - 0.006)).toBeGreaterThan(threshold);
      expect(shapeLevel(shape, shapeFallSeconds(shape, dropDb) + 0.006)).toBeLessThanOrEqual(threshold);
    }
  });

  it('one exponential decay through another takes as long as the slower one', () => {
    const decay = (t60: number) => (dropDb: number) => (t60 * dropDb) / 60;
    expect(fallThrough(decay(0.3), decay(2))(60)).toBeCloseTo(2, 6);
    expect(fallThrough(() => 1.5, decay(2))(60)).toBeCloseTo(3.5, 6);
  });

  it('scattered moments begin at 0, ascend, and are as many as the curve asks for', () => {
    const times = scatter(drone(20, 0.1), 50, 0.5, createRandom('rain'));
    expect(times[0]).toBe(0);
    expect(times.every((time, index) => index === 0 || time > times[index - 1])).toBe(true);
    // A Poisson count of about 1000 lies within 4 standard deviations, 4 sqrt(1000) = 126; flurries spread it a little more.
    expect(Math.abs(times.length - 1000)).toBeLessThan(200);
  });
});

describe('accents', () => {
  it.each([
    { name: 'chain drawn to a blow', source: swiped('boilerPlate', 'chain', riser(2), { accent: 'steel' }) },
    { name: 'rod drawn to a blow', source: swiped('plank', 'threadedRod', riser(1.5, 1.2), { accent: 'oarEnd' }) },
    { name: 'cymbal backwards', source: { kind: 'reversed', of: struck('cymbal', 'wood'), seconds: 1.8 } },
    {
      name: 'strings to a cut',
      source: { kind: 'strings', technique: 'tremolo', hz: [220], players: 4, shape: riser(2) },
    },
  ] satisfies { name: string; source: SoundSource }[])("a riser's energy stands at its accent: $name", ({ source }) => {
    const take = playSource(source, studio('riser'));
    expect(take.gesture).toBe('riser');
    const at = take.accentSeconds ?? 0;
    const [samples] = take.channels;
    // Naive RMS: 60 ms round the accent are louder than any 60 ms of the first four fifths of the rise.
    const accent = Math.max(windowRms(samples, at - 0.06), windowRms(samples, at));
    for (let start = 0; start < 0.8 * at; start += 0.03) expect(windowRms(samples, start)).toBeLessThan(accent);
    if (source.kind === 'swiped') {
      // A blow is the climax of the whole, to 0.1 s.
      let climax = 0;
      for (let start = 0; start < samples.length / RATE; start += 0.01) {
        if (windowRms(samples, start) > windowRms(samples, climax)) climax = start;
      }
      expect(Math.abs(climax + 0.03 - at)).toBeLessThan(0.1);
    } else {
      // A cut leaves nothing: what follows it lies 40 dB below what led to it.
      expect(windowRms(samples, at + 0.03)).toBeLessThan(0.01 * windowRms(samples, at - 0.06));
    }
  });

  it('a row of blows sounds on its beats', () => {
    const blows = beats(4, 120);
    const take = playSource(struck('woodBlock', 'wood', { blows }), studio('row'));
    for (const blow of blows) {
      const before = windowRms(take.channels[0], blow.seconds - 0.06);
      expect(windowRms(take.channels[0], blow.seconds)).toBeGreaterThan(10 * before);
      // The hand strays less than 15 ms from the beat.
      expect(Math.abs(blow.seconds * 2 - Math.round(blow.seconds * 2)) / 2).toBeLessThan(0.015);
    }
  });

  it('what the truth calls silent is silent: after its fall a sound stays 60 dB below its top', () => {
    for (const source of [
      struck('mooringRing', 'steel'),
      struck('bigDrum', 'felt'),
      swiped('sawBlade', 'coin', fade(1)),
    ]) {
      const take = playSource(source, studio('fall'));
      const [samples] = take.channels;
      const top = Math.max(...Array.from({ length: 50 }, (_, index) => windowRms(samples, index * 0.01)));
      const left = windowRms(samples, take.fallSeconds(60) + 0.02);
      expect(20 * Math.log10((left + 1e-12) / top)).toBeLessThan(-50);
      // And it was still there when half of that fall should have passed: above -60 dB.
      expect(20 * Math.log10(windowRms(samples, take.fallSeconds(30)) / top)).toBeGreaterThan(-60);
    }
  });
});

function windowRms(samples: Float32Array, startSeconds: number): number {
  const start = Math.round(startSeconds * RATE);
  return rms(samples.subarray(Math.max(0, start), Math.max(0, start + 0.06 * RATE)));
}

function rms(samples: Float32Array): number {
  return samples.length === 0 ? 0 : Math.sqrt(dot(samples, samples) / samples.length);
}

function dot(first: Float32Array, second: Float32Array): number {
  return first.reduce((sum, value, index) => sum + value * second[index], 0);
}

function peak(samples: Float32Array, startSeconds: number, seconds: number): number {
  const part = samples.subarray(Math.round(startSeconds * RATE), Math.round((startSeconds + seconds) * RATE));
  return part.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
}

/** Energy in an octave band by plain correlation with sines spread over it, in dB. */
function octaveDb(samples: Float32Array, centreHz: number): number {
  const bins = 48;
  const part = samples.subarray(0, 1 << 14);
  let energy = 0;
  for (let bin = 0; bin < bins; bin += 1) {
    const hz = centreHz * 2 ** ((bin + 0.5) / bins - 0.5);
    let real = 0;
    let imaginary = 0;
    part.forEach((value, index) => {
      real += value * Math.cos((2 * Math.PI * hz * index) / RATE);
      imaginary += value * Math.sin((2 * Math.PI * hz * index) / RATE);
    });
    // Each sine stands for a band as wide as its share of the octave: proportional to its frequency.
    energy += (real * real + imaginary * imaginary) * hz;
  }
  return 10 * Math.log10(energy);
}

/** Twice the time from -5 dB to -35 dB of the backward-integrated energy. */
function reverberationSeconds(samples: Float32Array): number {
  const left = new Float64Array(samples.length + 1);
  for (let index = samples.length - 1; index >= 0; index -= 1) left[index] = left[index + 1] + samples[index] ** 2;
  // The direct sound is no part of the tail.
  const tail = left.subarray(Math.round(0.02 * RATE));
  const reach = (db: number) => tail.findIndex((value) => 10 * Math.log10(value / tail[0]) < db) / RATE;
  return 2 * (reach(-35) - reach(-5));
}
