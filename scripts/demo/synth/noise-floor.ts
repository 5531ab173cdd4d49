/** What a microphone hears when nothing happens: its own hiss over the room's low rumble. */
import { normaliseRms } from './dry-take.ts';
import { filterInPlace } from './filter.ts';
import { MICROPHONE } from './microphone.ts';
import { pinkPair, whiteNoise } from './noise.ts';
import type { Random } from './random.ts';

export interface FloorOptions {
  channels: number;
  /** RMS per channel in dBFS; null = digital silence. */
  floorDbfs: number | null;
}

export function noiseFloor(frames: number, rateHz: number, options: FloorOptions, random: Random): Float32Array[] {
  const { floorDbfs } = options;
  const channels = Array.from({ length: options.channels }, () => new Float32Array(frames));
  if (floorDbfs === null) return channels;
  const rumble = pinkPair(options.channels, frames, random.branch('rumble'));
  channels.forEach((channel, which) => {
    channel.set(rumble[which]);
    const hiss = whiteNoise(frames, random.branch(`hiss ${which}`));
    for (let index = 0; index < frames; index += 1) channel[index] += 0.4 * hiss[index];
    filterInPlace(channel, rateHz, MICROPHONE);
    normaliseRms(channel, 10 ** (floorDbfs / 20));
  });
  return channels;
}
