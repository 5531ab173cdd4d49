/** Breath over bottles, pipes and lips: a tone that noise keeps alive, and the noise itself. */
import { type DryTake, mixInto, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { filterInPlace } from '../synth/filter.ts';
import { pinkPair, wander, whiteNoise } from '../synth/noise.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';

export interface BreathSource {
  kind: 'breath';
  /** A bottle has one resonance, a pipe a row, a whistle a nearly pure tone, a reed a buzz; `air` is breath alone. */
  vessel: 'bottle' | 'pipe' | 'whistle' | 'reed' | 'air';
  hz: number;
  shape: Shape;
  /** Flutter of the tongue, in Hz; 0 = none. */
  flutterHz?: number;
}

interface Vessel {
  /** Levels of the partials of the tone, from the first. */
  partials: number[];
  /** Level of the breath noise against the tone. */
  noise: number;
  /** Quality of the resonances that colour the noise. */
  quality: number;
  /** Wander of the pitch, in cents. */
  driftCents: number;
}

const VESSELS: Record<BreathSource['vessel'], Vessel> = {
  bottle: { partials: [1, 0.05, 0.03], noise: 0.5, quality: 12, driftCents: 9 },
  pipe: { partials: [1, 0.35, 0.42, 0.12, 0.15, 0.05], noise: 0.35, quality: 18, driftCents: 6 },
  whistle: { partials: [1, 0.02], noise: 0.12, quality: 20, driftCents: 14 },
  reed: {
    partials: [1, 0.7, 0.75, 0.5, 0.55, 0.4, 0.35, 0.3, 0.22, 0.2, 0.15, 0.1],
    noise: 0.06,
    quality: 5,
    driftCents: 5,
  },
  air: { partials: [], noise: 1, quality: 2.2, driftCents: 0 },
};

/** Exponent from breath to tone. */
const STRENGTH = 1.3;

export function playBreath(source: BreathSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const { shape } = source;
  const vessel = VESSELS[source.vessel];
  const channels = silence(studio, shape.seconds);
  const frames = channels[0].length;
  const unsteady = wander(9, shape.seconds, random);
  const drift = wander(1.5, shape.seconds, random);
  const flutter = source.flutterHz ?? 0;
  const blow = new Float32Array(frames);
  for (let index = 0; index < frames; index += 1) {
    const at = index / rateHz;
    const tongue = flutter > 0 ? 0.45 + 0.55 * Math.max(0, Math.sin(2 * Math.PI * flutter * at)) ** 0.5 : 1;
    blow[index] = shapeLevel(shape, at) * (1 + 0.1 * unsteady(at)) * tongue;
  }

  const tone = new Float32Array(frames);
  // The tone's level trembles with the breath's own noise below 30 Hz; without it the ear hears a machine.
  const tremble = filterInPlace(whiteNoise(frames, random), rateHz, { kind: 'low', hz: 30 });
  normalise([tremble], 0.35);
  let phase = 0;
  for (let index = 0; index < frames; index += 1) {
    const at = index / rateHz;
    // The pitch sags a little where the breath is weak, as in every blown edge.
    const cents = vessel.driftCents * (drift(at) + 1.5 * (Math.min(1, blow[index]) - 1));
    phase += (source.hz * 2 ** (cents / 1200)) / rateHz;
    const strength = blow[index] ** STRENGTH * (1 + tremble[index]);
    let value = 0;
    for (let partial = 0; partial < vessel.partials.length; partial += 1) {
      value +=
        vessel.partials[partial] * blow[index] ** (0.5 * partial) * Math.sin(2 * Math.PI * phase * (partial + 1));
    }
    tone[index] = value * strength;
  }
  mixInto(channels, [tone], 0, 1);

  const airs = pinkPair(channels.length, frames, random);
  for (const [which, channel] of channels.entries()) {
    const air = airs[which];
    const coloured = [1, 2.05, 3.1].map((ratio) =>
      filterInPlace(air.slice(), rateHz, { kind: 'band', hz: source.hz * ratio, quality: vessel.quality }),
    );
    filterInPlace(air, rateHz, { kind: 'high', hz: 900 });
    for (let index = 0; index < frames; index += 1) {
      const hiss = coloured[0][index] + 0.5 * coloured[1][index] + 0.3 * coloured[2][index] + 0.35 * air[index];
      channel[index] += vessel.noise * hiss * blow[index];
    }
  }
  normalise(channels, 1);
  return {
    channels,
    gesture: shapeGesture(shape),
    accentSeconds: shapeAccentSeconds(shape),
    pitchHz: source.vessel === 'air' ? null : source.hz,
    fallSeconds: (dropDb) => shapeFallSeconds(shape, dropDb / STRENGTH),
  };
}
