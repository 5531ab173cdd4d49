/** A body struck once or several times. */
import { BODIES, type BodyName, modesOf } from '../synth/bodies.ts';
import { type DryTake, fadeOut, mixInto, normalise, type Studio } from '../synth/dry-take.ts';
import { type Blow, blowForce, tapNoise } from '../synth/excitation.ts';
import { addModes, modesFallSeconds } from '../synth/modal-bank.ts';
import { TOOLS, type ToolName } from '../synth/tools.ts';

export interface StruckSource {
  kind: 'struck';
  body: BodyName;
  tool: ToolName;
  /** One blow at 0 when left out. */
  blows?: Blow[];
  /** `pulse` for a row of like blows, `phrase` for unlike ones; one blow is always a `hit`. */
  several?: 'pulse' | 'phrase';
  /** A hand damps the body so long after the last blow. */
  dampSeconds?: number;
  /** Multiplies the body's size: 2 = an octave lower. */
  size?: number;
  /** The recording is faded out by then at the latest. */
  maxSeconds?: number;
}

export function playStruck(source: StruckSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const tool = TOOLS[source.tool];
  const blows = source.blows ?? [{ seconds: 0, level: 1 }];
  const { modes, lowestHz, pitched } = modesOf(BODIES[source.body], random, source.size ?? 1);
  const lastBlow = Math.max(...blows.map((blow) => blow.seconds));
  const damp = source.dampSeconds;
  const ring = (dropDb: number) =>
    damp === undefined
      ? modesFallSeconds(modes, dropDb)
      : Math.min(modesFallSeconds(modes, dropDb), damp + (DAMP_T60_SECONDS * dropDb) / 60);
  const end = Math.min(source.maxSeconds ?? 30, lastBlow + ring(75) + 0.05);
  const channels = Array.from({ length: studio.channels }, () => new Float32Array(Math.round(end * rateHz)));
  addModes(channels, modes, blowForce(blows, tool, rateHz, random), rateHz);
  if (damp !== undefined) dampFrom(channels, rateHz, lastBlow + damp);
  normalise(channels, 1);
  const tap = tapNoise(blows, tool, rateHz, random);
  mixInto(channels, [tap], 0, tool.tap * 0.5);
  fadeOut(channels, rateHz, Math.min(0.25 * end, 1.2));
  const loudest = blows.reduce((best, blow) => (blow.level > best.level ? blow : best));
  return {
    channels,
    gesture: blows.length === 1 ? 'hit' : (source.several ?? 'pulse'),
    accentSeconds: loudest.seconds,
    pitchHz: pitched ? lowestHz : null,
    fallSeconds: (dropDb) => Math.min(end, lastBlow + ring(dropDb)),
  };
}

/** A hand laid on the body takes the ring away at this rate. */
const DAMP_T60_SECONDS = 0.22;

function dampFrom(channels: readonly Float32Array[], rateHz: number, seconds: number): void {
  const start = Math.round(seconds * rateHz);
  const perFrame = 10 ** (-3 / (DAMP_T60_SECONDS * rateHz));
  for (const channel of channels) {
    let gain = 1;
    for (let index = start; index < channel.length; index += 1) {
      gain *= perFrame;
      channel[index] *= gain;
    }
  }
}
