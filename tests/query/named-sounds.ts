/** Made-up sounds of which a test states only what it is about; all else has no meaning. */
import type { Shelf } from '../../shared/shelf.ts';
import type { Sound } from '../../shared/sound.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

const [BLANK] = inventSounds(1);

export function soundsOf(stated: readonly Partial<Sound>[]): Sound[] {
  return stated.map((given, at): Sound => {
    const name = given.name ?? `sound ${at + 1}`;
    return {
      ...BLANK,
      id: at.toString(32).padStart(16, '0'),
      session: '',
      tags: [],
      description: '',
      places: [{ folder: 'Field', file: `${name}.wav`, startSeconds: 0 }],
      durationSeconds: 1,
      channels: 2,
      integratedLufs: null,
      activeStartSeconds: null,
      activeSeconds: null,
      attackSeconds: null,
      decaySeconds: null,
      climaxSeconds: null,
      accents: given.climaxSeconds ? [{ seconds: given.climaxSeconds, strengthDb: 12 }] : [],
      gesture: null,
      centroidHz: null,
      flatness: null,
      pitchHz: null,
      pulseBpm: null,
      tremoloHz: null,
      brightnessSlope: null,
      stereoWidth: null,
      roughness: null,
      ...given,
      name,
    };
  });
}

export function shelfOfNamed(stated: readonly Partial<Sound>[]): Shelf {
  return shelfOf(soundsOf(stated));
}
