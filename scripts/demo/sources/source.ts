/** Every way of making a sound, the one function that plays any of them, and the two ways of making sounds of sounds. */
import type { Gesture } from '../../../shared/sound.ts';
import { type DryTake, fadeIn, fadeOut, mixInto, normalise, peakOf, type Studio } from '../synth/dry-take.ts';
import { type BowedSource, playBowed } from './bowed.ts';
import { type BreathSource, playBreath } from './breath.ts';
import { type ClatterSource, playClatter } from './clatter.ts';
import { type CreakSource, playCreak } from './creak.ts';
import { playRattle, type RattleSource } from './rattle.ts';
import { playStrings, type StringsSource } from './strings.ts';
import { playStruck, type StruckSource } from './struck.ts';
import { playSwiped, type SwipedSource } from './swiped.ts';
import { playWater, type WaterSource } from './water.ts';
import { playWind, type WindSource } from './wind.ts';

export type SoundSource =
  | StruckSource
  | SwipedSource
  | BowedSource
  | StringsSource
  | ClatterSource
  | BreathSource
  | WaterSource
  | RattleSource
  | CreakSource
  | WindSource
  | ReversedSource
  | LayeredSource;

/** The first `seconds` of a sound, backwards: it grows out of its own tail and stops on its blow. */
export interface ReversedSource {
  kind: 'reversed';
  of: SoundSource;
  seconds: number;
}

export interface Layer {
  source: SoundSource;
  startSeconds: number;
  /** Peak of this part against the loudest. */
  levelDb: number;
}

/** Several sources as one sound: a latch, a creak and a slam. The accent is that of the loudest part. */
export interface LayeredSource {
  kind: 'layered';
  gesture: Gesture;
  layers: Layer[];
}

export function playSource(source: SoundSource, studio: Studio): DryTake {
  switch (source.kind) {
    case 'struck':
      return playStruck(source, studio);
    case 'swiped':
      return playSwiped(source, studio);
    case 'bowed':
      return playBowed(source, studio);
    case 'strings':
      return playStrings(source, studio);
    case 'clatter':
      return playClatter(source, studio);
    case 'breath':
      return playBreath(source, studio);
    case 'water':
      return playWater(source, studio);
    case 'rattle':
      return playRattle(source, studio);
    case 'creak':
      return playCreak(source, studio);
    case 'wind':
      return playWind(source, studio);
    case 'reversed':
      return playReversed(source, studio);
    case 'layered':
      return playLayered(source, studio);
  }
}

function playReversed(source: ReversedSource, studio: Studio): DryTake {
  const take = playSource(source.of, studio);
  const frames = Math.min(take.channels[0].length, Math.round(source.seconds * studio.rateHz));
  const channels = take.channels.map((channel) => channel.slice(0, frames).reverse());
  const seconds = frames / studio.rateHz;
  fadeIn(channels, studio.rateHz, 0.15 * seconds);
  fadeOut(channels, studio.rateHz, 0.004);
  return {
    channels,
    gesture: 'riser',
    accentSeconds: seconds - (take.accentSeconds ?? 0),
    pitchHz: take.pitchHz,
    fallSeconds: () => seconds,
  };
}

function playLayered(source: LayeredSource, studio: Studio): DryTake {
  const takes = source.layers.map((layer, index) => {
    const random = studio.random.branch(`layer ${index}`);
    return { layer, take: playSource(layer.source, { ...studio, random }) };
  });
  const frames = takes.map(
    ({ layer, take }) => Math.round(layer.startSeconds * studio.rateHz) + take.channels[0].length,
  );
  const channels = Array.from({ length: studio.channels }, () => new Float32Array(Math.max(...frames)));
  for (const { layer, take } of takes) {
    const gain = 10 ** (layer.levelDb / 20) / (peakOf(take.channels) || 1);
    mixInto(channels, take.channels, Math.round(layer.startSeconds * studio.rateHz), gain);
  }
  normalise(channels, 1);
  const main = takes.reduce((best, next) => (next.layer.levelDb > best.layer.levelDb ? next : best));
  return {
    channels,
    gesture: source.gesture,
    accentSeconds: main.layer.startSeconds + (main.take.accentSeconds ?? 0),
    pitchHz: null,
    fallSeconds: (dropDb) =>
      Math.max(
        ...takes.map(({ layer, take }) =>
          dropDb + layer.levelDb <= 0 ? 0 : layer.startSeconds + take.fallSeconds(dropDb + layer.levelDb),
        ),
      ),
  };
}
