/** A tool drawn over a body: into an accent (riser) or up and away again (swell). */
import { BODIES, type BodyName, modesOf } from '../synth/bodies.ts';
import { type DryTake, fadeOut, mixInto, normalise, type Studio } from '../synth/dry-take.ts';
import { blowForce, strokeForce, tapNoise } from '../synth/excitation.ts';
import { addModes, modesFallSeconds } from '../synth/modal-bank.ts';
import { wander } from '../synth/noise.ts';
import { TOOLS, type ToolName } from '../synth/tools.ts';

export interface SwipedSource {
  kind: 'swiped';
  body: BodyName;
  tool: ToolName;
  /** From the first contact to the accent (riser) or to the top (swell). */
  toAccentSeconds: number;
  /** What strikes at the accent, or null for a swell that runs out over as long again times `away`. */
  accent: ToolName | null;
  /** Level of the accent over the stroke's loudest moment. */
  accentDb?: number;
  away?: number;
  /** How late the stroke grows: 1 evenly, 3 mostly at the end. */
  lateness?: number;
  size?: number;
  maxSeconds?: number;
}

/** Fewer modes than for a blow: a stroke's grain hides them. */
const STROKE_MODES = 90;

export function playSwiped(source: SwipedSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const tool = TOOLS[source.tool];
  const { modes, lowestHz, pitched } = modesOf(BODIES[source.body], random, source.size ?? 1);
  const strokeModes = modes.slice(0, STROKE_MODES).map((mode) => ({ ...mode, riseSeconds: 0 }));
  const top = source.toAccentSeconds;
  const strokeSeconds = source.accent === null ? top * (1 + (source.away ?? 0.8)) : top;
  const lateness = source.lateness ?? 1.8;
  const hand = wander(5, strokeSeconds, random);
  const speedAt = (at: number) => {
    if (at >= strokeSeconds) return 0;
    const rising = at <= top ? at / top : 1 - (at - top) / (strokeSeconds - top);
    return (
      (0.06 + 0.94 * rising ** lateness) * (1 + 0.18 * hand(at)) * Math.min(1, at / 0.03, (strokeSeconds - at) / 0.004)
    );
  };
  const end = Math.min(source.maxSeconds ?? 40, strokeSeconds + modesFallSeconds(strokeModes, 70));
  const channels = Array.from({ length: studio.channels }, () => new Float32Array(Math.round(end * rateHz)));
  const force = strokeForce(speedAt, strokeSeconds, tool, rateHz, random);
  addModes(channels, strokeModes, force, rateHz);
  normalise(channels, 1);
  mixInto(channels, [force], 0, 0.12);
  if (source.accent !== null) {
    const accentTool = TOOLS[source.accent];
    const blow = [{ seconds: 0, level: 1 }];
    const strike = Array.from({ length: studio.channels }, () => new Float32Array(Math.round((end - top) * rateHz)));
    addModes(strike, modes, blowForce(blow, accentTool, rateHz, random), rateHz);
    normalise(strike, 1);
    mixInto(strike, [tapNoise(blow, accentTool, rateHz, random)], 0, accentTool.tap * 0.5);
    mixInto(channels, strike, Math.round(top * rateHz), 10 ** ((source.accentDb ?? 7) / 20));
  }
  fadeOut(channels, rateHz, Math.min(0.3 * (end - top), 1));
  return {
    channels,
    gesture: source.accent === null ? 'swell' : 'riser',
    accentSeconds: top,
    pitchHz: pitched ? lowestHz : null,
    fallSeconds: (dropDb) => Math.min(end, strokeSeconds + modesFallSeconds(modes, dropDb)),
  };
}
