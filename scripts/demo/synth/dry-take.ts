/**
 * What every sound source gives: the sound as a close microphone would hear it, before the room, together with what
 * is true of it by construction. Nothing here is measured from the audio.
 */
import type { Gesture } from '../../../shared/sound.ts';
import type { Random } from './random.ts';

/** What a source may use while it plays. */
export interface Studio {
  rateHz: number;
  /** Buffers wanted: 1 for mono, 2 for a stereo pair. */
  channels: 1 | 2;
  /** Chance of this take. */
  random: Random;
  /** Chance of the things in the session: every take on the same body in one session is on the same object. */
  making: Random;
}

export interface DryTake {
  channels: Float32Array[];
  gesture: Gesture;
  /** Moment of the main accent from the first energy; null where nothing strikes or peaks (a drone). */
  accentSeconds: number | null;
  pitchHz: number | null;
  /** Seconds from the first energy until the synthesised envelope lies `dropDb` below its top for good. */
  fallSeconds: (dropDb: number) => number;
}

/** Empty buffers of a length. */
export function silence(studio: Studio, seconds: number): Float32Array[] {
  const frames = Math.max(1, Math.round(seconds * studio.rateHz));
  return Array.from({ length: studio.channels }, () => new Float32Array(frames));
}

/** Largest absolute sample of all channels. */
export function peakOf(channels: readonly Float32Array[]): number {
  let peak = 0;
  for (const channel of channels) {
    for (let index = 0; index < channel.length; index += 1) {
      const value = Math.abs(channel[index]);
      if (value > peak) peak = value;
    }
  }
  return peak;
}

/** Adds `source` into `target` from a frame on, times `gain`; what would lie beyond the end is dropped. */
export function mixInto(
  target: readonly Float32Array[],
  source: readonly Float32Array[],
  startFrame: number,
  gain: number,
): void {
  target.forEach((into, channel) => {
    const from = source[Math.min(channel, source.length - 1)];
    const count = Math.min(from.length, into.length - startFrame);
    for (let index = 0; index < count; index += 1) into[startFrame + index] += gain * from[index];
  });
}

/** Scales so that the peak is `peak`; silence stays silence. */
export function normalise(channels: readonly Float32Array[], peak: number): void {
  const found = peakOf(channels);
  if (found === 0) return;
  const gain = peak / found;
  for (const channel of channels) for (let index = 0; index < channel.length; index += 1) channel[index] *= gain;
}

/** Raised-cosine fade over the last `seconds`, so that a cut is never a click. */
export function fadeOut(channels: readonly Float32Array[], rateHz: number, seconds: number): void {
  for (const channel of channels) {
    const count = Math.min(channel.length, Math.round(seconds * rateHz));
    for (let index = 0; index < count; index += 1) {
      channel[channel.length - 1 - index] *= 0.5 - 0.5 * Math.cos((Math.PI * index) / count);
    }
  }
}

/** Raised-cosine fade over the first `seconds`. */
export function fadeIn(channels: readonly Float32Array[], rateHz: number, seconds: number): void {
  for (const channel of channels) {
    const count = Math.min(channel.length, Math.round(seconds * rateHz));
    for (let index = 0; index < count; index += 1) channel[index] *= 0.5 - 0.5 * Math.cos((Math.PI * index) / count);
  }
}

/** Scales one channel to an RMS; silence stays silence. */
export function normaliseRms(channel: Float32Array, rms: number): void {
  let energy = 0;
  for (let index = 0; index < channel.length; index += 1) energy += channel[index] * channel[index];
  if (energy === 0) return;
  const gain = rms / Math.sqrt(energy / channel.length);
  for (let index = 0; index < channel.length; index += 1) channel[index] *= gain;
}
