/** What a voice's frames show, on tones of known pitch and against the definition worked out plainly. */
import { expect, it } from 'vitest';
import { SILENCE_DBFS } from '../../shared/measure/envelope.ts';
import { SPEECH_HOP_SECONDS, SPEECH_RATE_HZ, VoiceFrames } from '../../shared/measure/speech-frames.ts';
import { Random } from './random.ts';

/** A row of partials falling by 6 dB an octave up to 3.5 kHz. */
function tone(hz: number, seconds: number, gain = 0.1): Float32Array {
  return Float32Array.from({ length: Math.round(seconds * SPEECH_RATE_HZ) }, (_, n) => {
    let value = 0;
    for (let k = 1; k * hz < 3_500; k++) value += Math.sin((2 * Math.PI * k * hz * n) / SPEECH_RATE_HZ + k) / k;
    return gain * value;
  });
}

it.each([82, 110, 196, 247.3, 392])('a row on %d Hz is periodic there, within 20 cents', (hz) => {
  const frames = new VoiceFrames(tone(hz, 0.5));
  for (let i = 5; i < frames.count - 5; i++) {
    expect(frames.clarity(i)).toBeGreaterThan(0.95);
    expect(Math.abs(1200 * Math.log2(frames.pitchHz(i) / hz))).toBeLessThan(20);
  }
});

it('noise is hardly periodic; silence is not, and has no level', () => {
  const random = new Random(4);
  const noise = new VoiceFrames(Float32Array.from({ length: SPEECH_RATE_HZ / 2 }, () => random.between(-0.1, 0.1)));
  const clarities = Array.from({ length: noise.count }, (_, i) => noise.clarity(i)).sort((a, b) => a - b);
  expect(clarities[clarities.length >> 1]).toBeLessThan(0.5);
  const silence = new VoiceFrames(new Float32Array(SPEECH_RATE_HZ / 4));
  for (let i = 0; i < silence.count; i++) {
    expect(silence.clarity(i)).toBe(0);
    expect(silence.levelDb[i]).toBe(SILENCE_DBFS);
    expect(silence.richness[i]).toBe(0);
  }
});

it('the clarity is the greatest normalised square difference of the frame (McLeod & Wyvill 2005)', () => {
  const [from, frameLength, shortest, longest] = [0.1, 320, 20, 115];
  const random = new Random(6);
  // Above 1 kHz, so that the high pass for rumble changes next to nothing.
  const samples = tone(1_250, 0.3).map((x) => x + 0.05 * random.between(-1, 1) * x);
  const centre = Math.round(from / SPEECH_HOP_SECONDS);
  const offset = Math.round(from * SPEECH_RATE_HZ) - frameLength / 2;
  const n = Array.from({ length: longest + 2 }, (_, lag) => {
    let [product, energy] = [0, 0];
    for (let j = offset; j < offset + frameLength - lag; j++) {
      product += samples[j] * samples[j + lag];
      energy += samples[j] ** 2 + samples[j + lag] ** 2;
    }
    return (2 * product) / energy;
  });
  const tops = n.filter((value, lag) => lag >= shortest && lag <= longest && value >= n[lag - 1] && value > n[lag + 1]);
  expect(new VoiceFrames(samples).clarity(centre)).toBeCloseTo(Math.max(...tops), 2);
});
