/** Moments scattered by chance under a curve: drops, clinks, pebbles. */
import { wander } from './noise.ts';
import type { Random } from './random.ts';
import { type Shape, shapeLevel } from './shape.ts';

/**
 * Times from 0 on, at most `perSecond` where the curve is full and fewer, by its square root, where it is low (a
 * Poisson process thinned by the curve). `flurry` 0..1 gathers them: at 1, hurried and idle moments alternate. The first
 * moment is always 0, so that the sound begins where its truth says.
 */
export function scatter(shape: Shape, perSecond: number, flurry: number, random: Random): number[] {
  const hurry = wander(7, shape.seconds, random);
  const times = [0];
  for (let at = 0; at < shape.seconds; ) {
    at += -Math.log(1 - random.unit()) / (perSecond * (1 + flurry));
    const chance = Math.sqrt(shapeLevel(shape, at)) * (1 + flurry * hurry(at));
    if (at < shape.seconds && random.unit() * (1 + flurry) < chance) times.push(at);
  }
  return times;
}
