/** Puts a long recording together from known sounds, known pauses and a room's noise: its takes are known by construction. */
import { type Envelope, EnvelopeFollower } from '../../shared/measure/envelope.ts';
import type { Random } from '../measure/random.ts';
import { roomNoise, rootMeanSquare } from '../measure/sources.ts';

export interface Sound {
  name: string;
  samples: Float32Array;
}

export interface TrueTake {
  name: string;
  /** Where the sound was laid, and where it first and last is louder than the room (10 and 50 ms means). */
  laidFrame: number;
  audibleFrame: number;
  endFrame: number;
}

export interface Session {
  envelope: Envelope;
  totalFrames: number;
  takes: TrueTake[];
}

export interface SessionPlan {
  rate: number;
  /** null for digital silence between the sounds. */
  roomDbfs: number | null;
  /** Least and longest pause between sounds. */
  pauseSeconds: readonly [number, number];
  /** The room's noise swings up and down by this much, one and a half times through the recording. */
  driftDb?: number;
  /** Peaks of the sounds, least and largest. */
  peakDbfs?: readonly [number, number];
  /** The recording is faded in and out evenly over this long. */
  fadeSeconds?: number;
}

export function recordSession(random: Random, sounds: readonly Sound[], plan: SessionPlan): Session {
  const { rate, roomDbfs, pauseSeconds, driftDb = 0, peakDbfs = [-14, -1], fadeSeconds = 0 } = plan;
  const pause = (): number => Math.round(random.between(...pauseSeconds) * rate);
  const laid: { sound: Sound; frame: number; gain: number }[] = [];
  let end = pause();
  for (const sound of sounds) {
    const peak = sound.samples.reduce((most, x) => Math.max(most, Math.abs(x)), 0);
    laid.push({ sound, frame: end, gain: 10 ** (random.between(...peakDbfs) / 20) / peak });
    end += sound.samples.length + pause();
  }
  const room = roomDbfs === null ? 0 : 10 ** (roomDbfs / 20);
  const roomAt = (frame: number): number => room * 10 ** ((driftDb * Math.sin((3 * Math.PI * frame) / end)) / 20);
  const mix = roomDbfs === null ? new Float32Array(end) : roomNoise(random, end, rate, room);
  for (let i = 0; i < end; i++) mix[i] *= roomDbfs === null ? 0 : roomAt(i) / room;
  const takes = laid.map(({ sound: { name, samples }, frame, gain }): TrueTake => {
    for (let i = 0; i < samples.length; i++) mix[frame + i] += samples[i] * gain;
    const step = Math.round(rate * 0.01);
    const level = roomAt(frame) / gain;
    let first = 0;
    while (first + step < samples.length && rootMeanSquare(samples, first, first + step) < level) first += step;
    let last = samples.length;
    while (last - step > first && rootMeanSquare(samples, last - 5 * step, last) < level) last -= step;
    return { name, laidFrame: frame, audibleFrame: frame + first, endFrame: frame + last };
  });
  const fade = Math.round(fadeSeconds * rate);
  for (let i = 0; i < fade; i++) {
    mix[i] *= i / fade;
    mix[end - 1 - i] *= i / fade;
  }
  const follower = new EnvelopeFollower(rate, 1);
  follower.push([mix]);
  return { envelope: follower.finish(), totalFrames: end, takes };
}
