/** Chains, keys, cutlery, shingle: very many short blows among small hard things. */
import { type DryTake, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { addModes, type Mode } from '../synth/modal-bank.ts';
import type { Random } from '../synth/random.ts';
import { scatter } from '../synth/scatter.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';

export interface RattleSource {
  kind: 'rattle';
  things: 'heavy chain' | 'light chain' | 'cutlery' | 'shingle' | 'shells' | 'rivets';
  /** Blows a second at the curve's top. */
  perSecond: number;
  shape: Shape;
}

interface Things {
  lowHz: number;
  highHz: number;
  ringSeconds: number;
}

const THINGS: Record<RattleSource['things'], Things> = {
  'heavy chain': { lowHz: 650, highHz: 6500, ringSeconds: 0.16 },
  'light chain': { lowHz: 2200, highHz: 12000, ringSeconds: 0.12 },
  cutlery: { lowHz: 1500, highHz: 9500, ringSeconds: 0.35 },
  shingle: { lowHz: 1400, highHz: 7000, ringSeconds: 0.014 },
  shells: { lowHz: 1900, highHz: 8000, ringSeconds: 0.03 },
  rivets: { lowHz: 2800, highHz: 13000, ringSeconds: 0.06 },
};

/** Groups of modes with their own blows, so that no two clinks in a row sound alike. */
const GROUPS = 7;
/** Clinks come in flurries. */
const FLURRY = 0.7;

export function playRattle(source: RattleSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const { shape } = source;
  const things = THINGS[source.things];
  const tailSeconds = things.ringSeconds * 1.4;
  const channels = silence(studio, shape.seconds + tailSeconds);
  const making = studio.making.branch(source.things);
  const forces = Array.from({ length: GROUPS }, () => new Float32Array(Math.round(shape.seconds * rateHz)));
  for (const at of scatter(shape, source.perSecond, FLURRY, random)) {
    const force = forces[random.whole(0, GROUPS - 1)];
    const level = Math.max(0.12, shapeLevel(shape, at)) ** 0.7;
    addClick(force, Math.round(at * rateHz), level * Math.min(3, -Math.log(1 - random.unit())), random);
  }
  for (const force of forces) addModes(channels, smallModes(things, making, random), force, rateHz);
  normalise(channels, 1);
  return {
    channels,
    gesture: shapeGesture(shape),
    accentSeconds: shapeAccentSeconds(shape),
    pitchHz: null,
    fallSeconds: (dropDb) => shapeFallSeconds(shape, dropDb) + (things.ringSeconds * Math.min(60, dropDb)) / 60,
  };
}

function smallModes(things: Things, making: Random, take: Random): Mode[] {
  const place = take.range(-0.8, 0.8);
  return Array.from({ length: 7 }, () => {
    const hz = making.logRange(things.lowHz, things.highHz);
    return {
      hz,
      t60Seconds: things.ringSeconds * making.logRange(0.4, 1.3) * Math.sqrt(things.lowHz / hz),
      gain: making.logRange(0.3, 1),
      left: Math.sqrt((1 - place) / 2),
      right: Math.sqrt((1 + place) / 2),
      turn: 0,
      riseSeconds: 0,
      sharpness: 0,
    };
  });
}

function addClick(force: Float32Array, frame: number, level: number, random: Random): void {
  const frames = random.whole(3, 9);
  for (let index = 0; index < frames && frame + index < force.length; index += 1) {
    force[frame + index] += (level * (1 - Math.cos((2 * Math.PI * (index + 0.5)) / frames))) / frames;
  }
}
