/** Puts a spoken slate before each sound over one room's noise: where the voices end is known by construction. */
import { createRandom } from '../../scripts/demo/synth/random.ts';
import { type Speaker, speak } from '../../scripts/demo/synth/voice.ts';
import type { Random } from '../measure/random.ts';
import { roomNoise, rootMeanSquare } from '../measure/sources.ts';

export interface SlatePlan {
  rate: number;
  speaker: Speaker;
  /** Decides the words. */
  seed: string;
  /** RMS of the room's noise. */
  roomDbfs: number;
  voicePeakDbfs: number;
  soundPeakDbfs: number;
  /** Between slate and sound. */
  pauseSeconds: number;
}

export interface SlatedTake {
  /** Where the voice is last louder than the room (20 ms means). */
  slateEndSeconds: number;
  /** Where the sound was laid. */
  soundFrame: number;
}

/** Three seconds of room between one sound and the next slate. */
const BETWEEN_SECONDS = 3;

export function recordSlated(
  random: Random,
  sounds: readonly Float32Array[],
  plan: SlatePlan,
): { samples: Float32Array; takes: SlatedTake[] } {
  const { rate, roomDbfs, pauseSeconds } = plan;
  const room = 10 ** (roomDbfs / 20);
  const voiceGain = 10 ** (plan.voicePeakDbfs / 20);
  const step = Math.round(0.02 * rate);
  let frame = Math.round(random.between(0.2, 1.2) * rate);
  const laid = sounds.map((sound, i) => {
    const words = createRandom(`${plan.seed} ${i}`);
    const voice = speak(plan.speaker, words.pick([[2, 2], [3], [1, 2], [2, 3]]), rate, words);
    let heardTo = voice.length;
    while (rootMeanSquare(voice, heardTo - step, heardTo) * voiceGain < room) heardTo -= step;
    const voiceFrame = frame;
    const soundFrame = voiceFrame + heardTo + Math.round(pauseSeconds * rate);
    frame = soundFrame + sound.length + BETWEEN_SECONDS * rate;
    const peak = sound.reduce((most, x) => Math.max(most, Math.abs(x)), 0);
    return {
      voice: voice.subarray(0, heardTo),
      voiceFrame,
      sound,
      soundFrame,
      gain: 10 ** (plan.soundPeakDbfs / 20) / peak,
    };
  });
  const samples = roomNoise(random, frame - (BETWEEN_SECONDS - 1) * rate, rate, room);
  for (const { voice, voiceFrame, sound, soundFrame, gain } of laid) {
    for (let i = 0; i < voice.length; i++) samples[voiceFrame + i] += voiceGain * voice[i];
    for (let i = 0; i < sound.length; i++) samples[soundFrame + i] += gain * sound[i];
  }
  const takes = laid.map(({ voice, voiceFrame, soundFrame }) => ({
    slateEndSeconds: (voiceFrame + voice.length) / rate,
    soundFrame,
  }));
  return { samples, takes };
}
