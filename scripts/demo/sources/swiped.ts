/** A tool drawn over a body: into an accent (riser), up and away again (swell), or let go of (fade). */
import { BODIES, type BodyName } from '../synth/bodies.ts';
import { exampleOf } from '../synth/body-modes.ts';
import { type DryTake, fadeOut, mixInto, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { STROKE_HARDNESS, strokeForce } from '../synth/excitation.ts';
import { type Fall, fallThrough, tabled } from '../synth/fall.ts';
import { addModes, modesFallSeconds } from '../synth/modal-bank.ts';
import { wander } from '../synth/noise.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';
import { TOOLS, type ToolName } from '../synth/tools.ts';
import { addStrike, ringAfter } from './struck.ts';

export interface SwipedSource {
  kind: 'swiped';
  body: BodyName;
  tool: ToolName;
  /** Speed of the stroke over its time. */
  shape: Shape;
  /** What strikes the body where the stroke ends, if anything does. */
  accent?: ToolName;
  /** Level of that blow over the stroke's loudest moment. */
  accentDb?: number;
  size?: number;
  /** The recording is faded out by then at the latest. */
  maxSeconds?: number;
}

/** Fewer modes than for a blow: a stroke's grain hides them. */
const STROKE_MODES = 84;

export function playSwiped(source: SwipedSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const { shape } = source;
  const tool = TOOLS[source.tool];
  const { modes } = exampleOf(BODIES[source.body], {
    size: source.size ?? 1,
    making: studio.making.branch(`${source.body} ${source.size ?? 1}`),
    take: random.branch('touch'),
  });
  const strokeModes = thinned(modes, STROKE_MODES).map((mode) => ({ ...mode, riseSeconds: 0 }));
  // Steady rubbing fills a mode in proportion to its decay time: power = gain^2 t60.
  const filled = strokeModes.map((mode) => ({ ...mode, gain: mode.gain * Math.sqrt(mode.t60Seconds) }));
  const ring = tabled((dropDb) => modesFallSeconds(filled, dropDb));
  const strokeFall = (dropDb: number) => shapeFallSeconds(shape, dropDb / STROKE_HARDNESS);
  const fall =
    source.accent === undefined
      ? fallThrough(strokeFall, ring)
      : afterBlow(shape.seconds, ringAfter(modes, source.accent));
  const end = Math.min(source.maxSeconds ?? 30, shape.seconds + ring(66));
  const hand = wander(6, shape.seconds, random);
  const speedAt = (at: number) => shapeLevel(shape, at) * (1 + 0.16 * hand(at));

  const channels = silence(studio, end);
  const force = strokeForce(speedAt, shape.seconds, tool, rateHz, random);
  addModes(channels, strokeModes, force, rateHz);
  normalise(channels, 1);
  const grain = [force.slice()];
  normalise(grain, 0.25);
  mixInto(channels, grain, 0, 1);

  // A blow falls on the exact end of the stroke; without one, the stroke's own curve holds the accent.
  const struck = source.accent !== undefined;
  const accentDb = source.accentDb ?? 6;
  const accentSeconds = struck ? shape.seconds : shapeAccentSeconds(shape);
  if (source.accent !== undefined) {
    const strike = silence(studio, end - shape.seconds);
    addStrike(strike, modes, [{ seconds: 0, level: 1 }], source.accent, studio);
    mixInto(channels, strike, Math.round(shape.seconds * rateHz), 10 ** (accentDb / 20));
  }
  fadeOut(channels, rateHz, Math.min(0.3 * (end - shape.seconds) + 0.05, 1.5));
  return {
    channels,
    gesture: struck ? 'riser' : shapeGesture(shape),
    accentSeconds,
    pitchHz: null,
    // A stroke's force grows faster than its speed, and the blow tops it.
    fallSeconds: (dropDb) => Math.min(end, fall(dropDb)),
  };
}

function afterBlow(seconds: number, ring: Fall): Fall {
  return (dropDb) => seconds + ring(dropDb);
}

/** Every so-manieth of a list, so that the whole range of frequencies stays. */
function thinned<T>(items: readonly T[], count: number): T[] {
  const step = Math.max(1, items.length / count);
  return items.filter((_, index) => Math.floor(index / step) !== Math.floor((index - 1) / step));
}
