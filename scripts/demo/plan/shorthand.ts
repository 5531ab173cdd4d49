/** Short ways to write the sessions down, one line a sound. */

import type { BowedSource } from '../sources/bowed.ts';
import { isLoose } from '../sources/clatter.ts';
import type { SoundSource } from '../sources/source.ts';
import { blowsGesture, type StruckSource } from '../sources/struck.ts';
import type { SwipedSource } from '../sources/swiped.ts';
import { dripsGesture } from '../sources/water.ts';
import { BODIES, type BodyName } from '../synth/bodies.ts';
import type { Blow } from '../synth/excitation.ts';
import { type Shape, shapeGesture } from '../synth/shape.ts';
import type { ToolName } from '../synth/tools.ts';
import type { AudioFilePlan, SoundPlan } from './file-plan.ts';

/** What most files have in common; each entry of a session overrides what differs. */
export const TAKE = {
  kind: 'audio',
  format: 'WAV',
  sampleRateHz: 48000,
  bitDepth: 24,
  channels: 2,
  embedded: {},
} satisfies Partial<AudioFilePlan>;

/** Length in seconds of bars at a tempo; the tempo counts the beats of the bar. */
export function bars(count: number, beatsPerMinute: number, beatsPerBar = 4): number {
  return (count * beatsPerBar * 60) / beatsPerMinute;
}

/** One sound of a session. Keywords of material, action and movement come from its source; `more` adds to them. */
export function sound(name: string, peakDbfs: number, source: SoundSource, more = ''): SoundPlan {
  const keywords = [...keywordsOf(source), ...more.split(' ').filter((word) => word !== '')];
  return { name, peakDbfs, source, keywords: [...new Set(keywords)] };
}

export const riser = (seconds: number, lateness = 2): Shape => ({ kind: 'riser', seconds, lateness });
export const swell = (seconds: number, topShare = 0.6, lateness = 1.6): Shape => ({
  kind: 'swell',
  seconds,
  topShare,
  lateness,
});
export const drone = (seconds: number, edgeSeconds = 0.5): Shape => ({ kind: 'drone', seconds, edgeSeconds });
export const fade = (seconds: number): Shape => ({ kind: 'fade', seconds });
export const pulse = (seconds: number, beatsPerMinute: number): Shape => ({ kind: 'pulse', seconds, beatsPerMinute });

export function struck(
  body: BodyName,
  tool: ToolName,
  more: Omit<StruckSource, 'kind' | 'body' | 'tool'> = {},
): StruckSource {
  return { kind: 'struck', body, tool, ...more };
}

export function swiped(
  body: BodyName,
  tool: ToolName,
  shape: Shape,
  more: Omit<SwipedSource, 'kind' | 'body' | 'tool' | 'shape'> = {},
): SwipedSource {
  return { kind: 'swiped', body, tool, shape, ...more };
}

export function bowed(
  body: BodyName,
  shape: Shape,
  more: Omit<BowedSource, 'kind' | 'body' | 'shape' | 'with'> & { with?: BowedSource['with'] } = {},
): BowedSource {
  return { kind: 'bowed', body, with: 'bow', shape, ...more };
}

/** Blows on even beats, the first of each group stronger, with the small unevenness of a hand (under 15 ms). */
export function beats(count: number, beatsPerMinute: number, pattern: readonly number[] = [1, 0.6]): Blow[] {
  return Array.from({ length: count }, (_, index) => ({
    seconds: Math.max(0, (index * 60) / beatsPerMinute + (index === 0 ? 0 : 0.014 * Math.sin(index * 2.399))),
    level: pattern[index % pattern.length] ?? 1,
  }));
}

/** Blows at given times with given levels. */
export function blowsAt(...pairs: [seconds: number, level: number][]): Blow[] {
  return pairs.map(([seconds, level]) => ({ seconds, level }));
}

/** House vocabulary from what the source is. */
export function keywordsOf(source: SoundSource): string[] {
  switch (source.kind) {
    case 'struck':
      return [BODIES[source.body].material, 'struck', blowsGesture(source.blows ?? [{ seconds: 0, level: 1 }])];
    case 'swiped':
      return [
        BODIES[source.body].material,
        'swiped',
        source.accent === undefined ? shapeGesture(source.shape) : 'riser',
      ];
    case 'bowed':
      return [BODIES[source.body].material, source.with === 'bow' ? 'bowed' : 'rubbed', shapeGesture(source.shape)];
    case 'strings':
      return ['string', 'bowed', source.technique, shapeGesture(source.shape)];
    case 'clatter':
      return [
        BODIES[source.body].material,
        'struck',
        'clatter',
        isLoose(source) ? 'phrase' : shapeGesture(source.shape),
      ];
    case 'breath':
      return ['breath', 'blown', shapeGesture(source.shape)];
    case 'water':
      return ['water', 'wet', source.what === 'drips' ? dripsGesture(source) : shapeGesture(source.shape)];
    case 'rattle':
      return [RATTLE_MATERIALS[source.things], 'shaken', shapeGesture(source.shape)];
    case 'creak':
      return [BODIES[source.body].material, 'creak', 'rough', shapeGesture(source.shape)];
    case 'wind':
      return ['air', 'wind', shapeGesture(source.shape)];
    case 'reversed':
      return [...keywordsOf(source.of).slice(0, 2), 'reversed', 'riser'];
    case 'layered':
      return [...new Set(source.layers.flatMap((layer) => keywordsOf(layer.source).slice(0, 2))), source.gesture];
  }
}

const RATTLE_MATERIALS = {
  'heavy chain': 'metal',
  'light chain': 'metal',
  cutlery: 'metal',
  shingle: 'stone',
  shells: 'shell',
  rivets: 'metal',
} as const;
