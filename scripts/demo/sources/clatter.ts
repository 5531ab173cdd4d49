/** Many bodies struck unevenly together: the wood of bows thrown on strings, pebbles on a plate, fingers on a drum. */
import { BODIES, type BodyName } from '../synth/bodies.ts';
import { exampleOf } from '../synth/body-modes.ts';
import { type DryTake, fadeOut, normalise, type Studio, silence } from '../synth/dry-take.ts';
import type { Blow } from '../synth/excitation.ts';
import { type Mode, modesFallSeconds } from '../synth/modal-bank.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';
import type { ToolName } from '../synth/tools.ts';
import { addStrike } from './struck.ts';

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
  const ring = (dropDb: number) => modesFallSeconds(ringing, dropDb);
  const end = shape.seconds + ring(60);
  const channels = silence(studio, end);
  for (const [voice, modes] of voices.entries()) {
    const own = { ...studio, random: random.branch(`blows ${voice}`) };
    const blows = unevenBlows(source, own);
    if (blows.length === 0) continue;
    const place = random.range(0.3, 0.95);
    const placed = modes.map((mode) => ({ ...mode, left: mode.left * place, right: mode.right * (1.25 - place) }));
    addStrike(channels, placed, blows, source.tool, own);
  }
  normalise(channels, 1);
  fadeOut(channels, rateHz, Math.min(0.05, end / 4));
  return {
    channels,
    gesture: shapeGesture(shape),
    accentSeconds: shapeAccentSeconds(shape),
    pitchHz: null,
    fallSeconds: (dropDb) => Math.min(end, shapeFallSeconds(shape, dropDb) + ring(Math.max(0, dropDb - 12))),
  };
}

function unevenBlows(source: ClatterSource, studio: Studio): Blow[] {
  const { random } = studio;
  const { shape } = source;
  const blows: Blow[] = [];
  const perVoice = source.blowsPerSecond / source.voices;
  for (let at = random.unit() / perVoice; at < shape.seconds; ) {
    const level = shapeLevel(shape, at);
    const beat = source.beatsPerMinute === undefined ? null : 15 / source.beatsPerMinute;
    const seconds = beat === null ? at : Math.max(0, Math.round(at / beat) * beat + random.normal() * 0.012);
    if (seconds < shape.seconds && level > 0.01) blows.push({ seconds, level: level * random.logRange(0.3, 1) });
    at += -Math.log(1 - random.unit()) / (perVoice * Math.max(0.15, level));
  }
  return blows;
}
