/** Notes of solo tones and of single blows, right by construction (solo-tones.ts). */
import { describe, expect, test } from 'vitest';
import { measureBlocks } from '../../shared/measure/measure.ts';
import type { Measurements } from '../../shared/sound.ts';
import { Random } from './random.ts';
import { FREE_BAR, type Mode, RATE, SOLO_SPECTRA, type Spectrum, soloTone, struckModes } from './solo-tones.ts';

function measure(samples: Float32Array): Measurements {
  return measureBlocks([[samples]], { sampleRateHz: RATE, channels: 1, bitDepth: 24, channelMask: null }).measurements;
}

function cents(hz: number | null, reference: number): number {
  return hz === null ? Number.POSITIVE_INFINITY : Math.abs(1200 * Math.log2(hz / reference));
}

// 50 cents is the bar of pitch comparisons in music research (mir_eval); the middle of the swing is known to 25.
describe('a tone with vibrato has the note of its middle', () => {
  test.each(Object.keys(SOLO_SPECTRA))('%s', (name) => {
    const random = new Random(21);
    // In the reed's twelve partials alike, more than a third of a semitone leaves no two periods alike.
    const swings = name.includes('twelfth') ? [20, 35] : [20, 35, 50, 70, 100];
    for (const swing of swings) {
      const hz = random.logBetween(110, 900);
      const vibrato = { rateHz: random.between(5, 7), cents: swing };
      const { pitchHz } = measure(soloTone(hz, 1.3, SOLO_SPECTRA[name], vibrato));
      expect(cents(pitchHz, hz), `${hz.toFixed(1)} Hz, ${JSON.stringify(vibrato)}`).toBeLessThan(25);
    }
  });

  test('also in a sound of six seconds, whose frames lie further apart', () => {
    const tone = soloTone(330, 6, SOLO_SPECTRA['saw, as bowed strings'], { rateHz: 5.6, cents: 60 });
    expect(cents(measure(tone).pitchHz, 330)).toBeLessThan(25);
  });

  test('two notes in turn, a whole tone apart and each half a second long, are no vibrato', () => {
    const tones = [440, 493.88, 440, 493.88].map((hz) => soloTone(hz, 0.5, SOLO_SPECTRA.sine, null));
    const whole = Float32Array.from({ length: 2 * RATE }, (_, n) => tones[Math.floor(n / (RATE / 2))][n % (RATE / 2)]);
    const { pitchHz } = measure(whole);
    if (pitchHz !== null) expect(Math.min(cents(pitchHz, 440), cents(pitchHz, 493.88))).toBeLessThan(10);
  });
});

describe('the octave', () => {
  const weakFundamental: Spectrum = (n) => (n > 9 ? 0 : [0, 0.1, 1, 0.11, 0.4, 0.05, 0.2, 0.03, 0.1, 0.02][n]);

  test.each([98, 233, 523, 880])('a fundamental 20 dB under the second partial is the note: %f Hz', (hz) => {
    expect(cents(measure(soloTone(hz, 0.8, weakFundamental, null)).pitchHz, hz)).toBeLessThan(10);
  });

  test('a fundamental 76 dB down under a lone weak third partial is not', () => {
    const octaveOfNothing: Spectrum = (n) => {
      if (n > 16) return 0;
      if (n % 2 === 0) return 2 / n;
      return n === 3 ? 0.2 : 10 ** (-76 / 20);
    };
    for (const hz of [65.4, 146.8, 330]) {
      expect(cents(measure(soloTone(hz, 0.8, octaveOfNothing, null)).pitchHz, 2 * hz), `${hz} Hz`).toBeLessThan(10);
    }
  });
});

describe('single blows', () => {
  test('a free bar has the note of its first partial or none', () => {
    const random = new Random(31);
    let first = 0;
    for (let turn = 0; turn < 24; turn++) {
      const hz = random.logBetween(130, 1_600);
      const ring = random.logBetween(0.4, 3);
      const damping = random.between(0.7, 2);
      // The blow leaves the higher modes up to twice as strong; they die sooner, as in wood and metal.
      const modes = FREE_BAR.map(
        (ratio, i): Mode => ({
          ratio,
          amplitude: i === 0 ? 1 : random.logBetween(0.15, 2),
          fallSeconds: ring / ratio ** damping,
        }),
      );
      const blow = { level: random.logBetween(0.1, 1), fallSeconds: 0.03 };
      const { pitchHz } = measure(struckModes(hz, 1.2, modes, blow, random));
      if (pitchHz === null) continue;
      first++;
      expect(cents(pitchHz, hz), `${turn}: ${pitchHz} for ${hz}`).toBeLessThan(50);
    }
    expect(first).toBeGreaterThan(12);
  });

  test('a bar whose ring is its first partial keeps its note though the blow is louder', () => {
    const modes = FREE_BAR.map((ratio) => ({ ratio, amplitude: 1, fallSeconds: 1.5 / ratio ** 1.7 }));
    for (const hz of [262, 349, 587]) {
      const bar = struckModes(hz, 1.5, modes, { level: 1.5, fallSeconds: 0.03 });
      expect(cents(measure(bar).pitchHz, hz), `${hz} Hz`).toBeLessThan(20);
    }
  });

  test('a burst of noise with a lone partial in it has no note', () => {
    const random = new Random(41);
    const noted: string[] = [];
    for (let turn = 0; turn < 24; turn++) {
      const hz = random.logBetween(150, 3_000);
      const fallSeconds = random.logBetween(0.08, 0.6);
      const level = 10 ** (random.between(-18, -3) / 20);
      const lone = { ratio: 1, amplitude: Math.SQRT2 * level, fallSeconds: fallSeconds * random.between(0.7, 1) };
      const { pitchHz } = measure(struckModes(hz, 1.2 * fallSeconds, [lone], { level: 1, fallSeconds }, random));
      if (pitchHz !== null) noted.push(`${hz} Hz at ${level}: ${pitchHz}`);
    }
    expect(noted).toEqual([]);
  });
});
