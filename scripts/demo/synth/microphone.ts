/** What microphones do to sounds: all cut the lowest rumble; one taped to the thing itself does much more. */
import { type FilterOptions, filterInPlace } from './filter.ts';
import type { Random } from './random.ts';

/** Any microphone hears little below the lowest note: no thumps under the blows, no drift under the room. */
export const MICROPHONE: FilterOptions = { kind: 'high', hz: 24 };

/**
 * A contact microphone: narrow, resonant, easily driven too hard, and it hears its own tape. In place; expects peaks near 1
 * and leaves them there.
 */
export function throughContact(channels: readonly Float32Array[], rateHz: number, random: Random): void {
  const resonanceHz = random.range(700, 1400);
  for (const channel of channels) {
    const peak = filterInPlace(channel.slice(), rateHz, { kind: 'band', hz: resonanceHz, quality: 3 });
    filterInPlace(channel, rateHz, { kind: 'high', hz: 70 });
    filterInPlace(channel, rateHz, { kind: 'low', hz: 6500 });
    let loose = 0;
    for (let index = 0; index < channel.length; index += 1) {
      let value = channel[index] + 0.9 * peak[index];
      // The tape lets go now and then where the thing moves most: short crackles that follow the level.
      if (random.unit() < 0.00025 * Math.abs(value)) loose = 0.5 * value * random.sign();
      value += loose;
      loose *= 0.86;
      channel[index] = Math.tanh(1.1 * value);
    }
    filterInPlace(channel, rateHz, { kind: 'low', hz: 9000 });
  }
}
