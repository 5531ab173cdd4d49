/** Every way of making a sound, and the one function that plays any of them. */
import type { DryTake, Studio } from '../synth/dry-take.ts';
import { playStruck, type StruckSource } from './struck.ts';
import { playSwiped, type SwipedSource } from './swiped.ts';

export type SoundSource = StruckSource | SwipedSource;

export function playSource(source: SoundSource, studio: Studio): DryTake {
  switch (source.kind) {
    case 'struck':
      return playStruck(source, studio);
    case 'swiped':
      return playSwiped(source, studio);
  }
}
