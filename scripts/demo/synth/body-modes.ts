/** One example of a body: its modes, with the chance of its making and of the place where it is touched. */
import type { Body } from './bodies.ts';
import type { Mode } from './modal-bank.ts';
import type { Random } from './random.ts';

export interface BodyExample {
  modes: Mode[];
  /** The frequency of ratio 1. */
  lowestHz: number;
  /** The same where it is heard as a note, else null. */
  pitchHz: number | null;
}

export interface ExampleOptions {
  /** 2 = twice as big: everything an octave lower. */
  size: number;
  /** Chance of the object itself: the same for all takes on it. */
  making: Random;
  /** Chance of the take: where the object is touched, how the microphones stand. */
  take: Random;
}

/** Every doublet up to this many modes; above, beating is lost in the crowd. */
const DOUBLETS = 24;

export function exampleOf(body: Body, options: ExampleOptions): BodyExample {
  const { making, take } = options;
  const lowestHz = making.logRange(body.lowestHz[0], body.lowestHz[1]) / options.size;
  // The ring of a bigger thing of the same make lasts longer in proportion.
  const ring = body.ringSeconds * Math.sqrt(options.size);
  const modes: Mode[] = [];
  for (const ratio of body.ratios(making)) {
    const hz = lowestHz * ratio;
    const t60Seconds = (ring / (1 + (hz / body.dampedAboveHz) ** 1.2)) * making.range(0.65, 1.3);
    // What lies under the named mode (a bell's hum) is weaker than what carries the name.
    const made = (ratio < 0.9 ? 0.3 : ratio ** -body.tilt) * making.logRange(0.5, 1.25);
    const touched = ratio === 1 ? 1 : take.logRange(0.4, 1.2);
    const blooms = body.bloomSeconds > 0 && hz > 220;
    const riseSeconds = blooms ? body.bloomSeconds * Math.sqrt(hz / 3000) * making.range(0.7, 1.3) : 0;
    const mode = {
      hz,
      t60Seconds,
      gain: made * touched,
      riseSeconds,
      sharpness: body.sharpness,
      ...stereoShares(hz, take),
    };
    if (body.split > 0 && modes.length < 2 * DOUBLETS) {
      const apart = body.split * making.range(0.3, 1.5);
      modes.push({ ...mode, hz: hz * (1 - apart / 2), gain: 0.62 * mode.gain });
      modes.push({
        ...mode,
        hz: hz * (1 + apart / 2),
        gain: 0.38 * mode.gain,
        left: mode.right,
        right: mode.left,
        turn: -mode.turn,
      });
    } else {
      modes.push(mode);
    }
  }
  return { modes, lowestHz, pitchHz: body.pitched ? lowestHz : null };
}

/** Low modes reach both microphones alike; higher ones more and more unlike, in level and in time. */
function stereoShares(hz: number, random: Random): { left: number; right: number; turn: number } {
  const apart = Math.min(1, hz / 1500);
  const middle = random.range(-0.7, 0.7) * (0.3 + 0.7 * apart);
  const turn = random.range(-0.65, 0.65) * Math.PI * apart;
  return { left: Math.sqrt((1 - middle) / 2), right: Math.sqrt((1 + middle) / 2), turn };
}
