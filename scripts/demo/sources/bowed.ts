/** A body bowed, or rubbed with a wet finger or a rubber ball: friction feeds its modes. */
import { BODIES, type Body, type BodyName } from '../synth/bodies.ts';
import { exampleOf } from '../synth/body-modes.ts';
import { type DryTake, fadeOut, mixInto, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { tabled } from '../synth/fall.ts';
import { filterInPlace } from '../synth/filter.ts';
import { addBowed } from '../synth/friction.ts';
import { type Mode, modesFallSeconds } from '../synth/modal-bank.ts';
import { wander } from '../synth/noise.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';

export interface BowedSource {
  kind: 'bowed';
  body: BodyName;
  /** What rubs: a ball on a stick moans with its own low springiness; a finger is smooth; rust and rosin are rough. */
  with: 'bow' | 'finger' | 'ball' | 'dry';
  shape: Shape;
  /** 0.2 a slow pure tone, 1 usual, 4 broken. */
  pressure?: number;
  size?: number;
  maxSeconds?: number;
}

const GRIT = { bow: 0.25, finger: 0.05, ball: 0.2, dry: 0.8 };
const BOWED_MODES = 16;
/** By the time the bow leaves, the curve has taken this much off; the free ring starts from there. */
const LIFT_DB = 21;

export function playBowed(source: BowedSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const { shape } = source;
  const body: Body = BODIES[source.body];
  const example = exampleOf(body, {
    size: source.size ?? 1,
    making: studio.making.branch(`${source.body} ${source.size ?? 1}`),
    take: random.branch('touch'),
  });
  const modes = bowable(example.modes, body, example.lowestHz);
  if (source.with === 'ball') modes.unshift(ballMode(random.range(90, 210)));
  const ring = tabled((dropDb) => modesFallSeconds(modes, dropDb));
  const end = Math.min(source.maxSeconds ?? 30, shape.seconds + ring(60));
  const hand = wander(3, shape.seconds, random);
  const channels = silence(studio, end);
  const force = addBowed(channels, modes, {
    effortAt: (at) => shapeLevel(shape, at) ** 0.6 * (1 + 0.12 * hand(at)),
    pressure: pressureOn(body, example.lowestHz, source.pressure ?? 1),
    grit: GRIT[source.with],
    seconds: shape.seconds,
    rateHz,
    random,
  });
  normalise(channels, 1);
  followShape(channels, shape, rateHz);
  normalise(channels, 1);
  const rosin = [filterInPlace(force, rateHz, { kind: 'high', hz: 1800 })];
  normalise(rosin, GRIT[source.with] * 0.16);
  mixInto(channels, rosin, 0, 1);
  fadeOut(channels, rateHz, Math.min(0.3 * (end - shape.seconds) + 0.03, 1.5));
  return {
    channels,
    gesture: shapeGesture(shape),
    accentSeconds: shapeAccentSeconds(shape),
    pitchHz: source.with === 'ball' ? null : example.pitchHz,
    fallSeconds: (dropDb) =>
      Math.min(end, Math.max(shapeFallSeconds(shape, dropDb), shape.seconds + ring(Math.max(0, dropDb - LIFT_DB)))),
  };
}

/**
 * A bow holds few modes at once. On a pitched body the note is favoured, on a string its harmonics with it; elsewhere the
 * take's chance has picked among modes.
 */
function bowable(modes: readonly Mode[], body: Body, lowestHz: number): Mode[] {
  const chosen = modes
    .filter((mode) => mode.t60Seconds > 0.03 && mode.hz > 0.8 * lowestHz)
    .sort((first, second) => second.gain * Math.sqrt(second.t60Seconds) - first.gain * Math.sqrt(first.t60Seconds))
    .slice(0, BOWED_MODES);
  if (!body.pitched) return chosen;
  return chosen
    .filter(
      (mode) => body.material !== 'string' || Math.abs(mode.hz / lowestHz - Math.round(mode.hz / lowestHz)) < 0.03,
    )
    .map((mode) => {
      const favour = mode.hz < lowestHz * 1.2 ? 4 : body.material === 'string' ? 0.5 : 0.12;
      return { ...mode, gain: mode.gain * favour };
    });
}

/**
 * On a pitched body what counts is the push within one period: more than a little of the swing and the note sags and breaks
 * up. Elsewhere broken is wanted.
 */
function pressureOn(body: Body, lowestHz: number, pressure: number): number {
  return body.pitched ? 0.12 * pressure * (lowestHz / 500) : pressure;
}

function ballMode(hz: number): Mode {
  return { hz, t60Seconds: 0.12, gain: 3, left: 0.7, right: 0.7, turn: 0, riseSeconds: 0, sharpness: 0 };
}

/** Friction saturates: the level hardly follows the hand. The microphone's distance does the rest. */
function followShape(channels: readonly Float32Array[], shape: Shape, rateHz: number): void {
  const bowed = Math.round(shape.seconds * rateHz);
  let release = 1;
  for (const channel of channels) {
    for (let index = 0; index < bowed && index < channel.length; index += 1) {
      if (index % 16 === 0) release = Math.max(10 ** (-LIFT_DB / 14), shapeLevel(shape, index / rateHz)) ** 0.7;
      channel[index] *= release;
    }
    for (let index = bowed; index < channel.length; index += 1) channel[index] *= release;
  }
}
