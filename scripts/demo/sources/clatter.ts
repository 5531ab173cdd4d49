/** Many bodies struck unevenly together: the wood of bows thrown on strings, pebbles on a plate, fingers on a drum. */
import { BODIES, type BodyName } from '../synth/bodies.ts';
import { exampleOf } from '../synth/body-modes.ts';
import { type DryTake, fadeOut, normalise, type Studio, silence } from '../synth/dry-take.ts';
import type { Blow } from '../synth/excitation.ts';
import { fallThrough } from '../synth/fall.ts';
import type { Mode } from '../synth/modal-bank.ts';
import type { Random } from '../synth/random.ts';
import { scatter } from '../synth/scatter.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';
import type { ToolName } from '../synth/tools.ts';
import { addStrike, ringAfter } from './struck.ts';

export interface ClatterSource {
  kind: 'clatter';
  body: BodyName;
  tool: ToolName;
  /** How many unlike bodies. */
  voices: number;
  /** Blows a second, all voices together, at the curve's top. */
  blowsPerSecond: number;
  /** Beats a minute that the blows lean towards; left out = no beat. */
  beatsPerMinute?: number;
  shape: Shape;
  size?: number;
}

export function playClatter(source: ClatterSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const { shape } = source;
  const body = BODIES[source.body];
  let ringing: Mode[] = [];
  const voices = Array.from({ length: source.voices }, (_, voice) => {
    const making = studio.making.branch(`${source.body} ${voice}`);
    const { modes } = exampleOf(body, { size: source.size ?? 1, making, take: random.branch(`touch ${voice}`) });
    if (voice === 0) ringing = modes;
    return modes;
  });
  const ring = ringAfter(ringing, source.tool);
  const fall = fallThrough((dropDb) => shapeFallSeconds(shape, dropDb), ring);
  const end = shape.seconds + ring(60);
  const channels = silence(studio, end);
  let loudest: Blow = { seconds: 0, level: 0 };
  for (const [voice, modes] of voices.entries()) {
    const own = { ...studio, random: random.branch(`blows ${voice}`) };
    const blows = unevenBlows(source, voice, own.random);
    if (blows.length === 0) continue;
    for (const blow of blows) if (blow.level > loudest.level) loudest = blow;
    const place = random.range(0.3, 0.95);
    const placed = modes.map((mode) => ({ ...mode, left: mode.left * place, right: mode.right * (1.25 - place) }));
    addStrike(channels, placed, blows, source.tool, own);
  }
  normalise(channels, 1);
  fadeOut(channels, rateHz, Math.min(0.05, end / 4));
  return {
    channels,
    gesture: isLoose(source) ? 'phrase' : shapeGesture(shape),
    accentSeconds: isLoose(source) ? loudest.seconds : shapeAccentSeconds(shape),
    pitchHz: null,
    fallSeconds: (dropDb) => Math.min(end, fall(dropDb)),
  };
}

/** So few blows that each is heard for itself: a phrase, whatever curve they follow. */
export function isLoose(source: ClatterSource): boolean {
  return source.blowsPerSecond < 8;
}

/** One voice's share of the blows. The first voice opens the sound. */
function unevenBlows(source: ClatterSource, voice: number, random: Random): Blow[] {
  const { shape } = source;
  const grid = source.beatsPerMinute === undefined ? null : 15 / source.beatsPerMinute;
  const times = scatter(shape, source.blowsPerSecond / source.voices, 0.2, random).slice(voice === 0 ? 0 : 1);
  const blows = times.map((at) => ({
    seconds: grid === null || at === 0 ? at : Math.max(0, Math.round(at / grid) * grid + random.normal() * 0.012),
    level: Math.max(0.15, shapeLevel(shape, at)) * random.logRange(0.35, 1),
  }));
  return blows.filter((blow) => blow.seconds < shape.seconds);
}
