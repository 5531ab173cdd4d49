/** Wood or iron that lets go in jerks: hinges, ropes round a bollard, a chair pushed over boards. */
import { BODIES, type BodyName } from '../synth/bodies.ts';
import { exampleOf } from '../synth/body-modes.ts';
import { type DryTake, fadeOut, mixInto, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { fallThrough, tabled } from '../synth/fall.ts';
import { filterInPlace } from '../synth/filter.ts';
import { addModes, modesFallSeconds } from '../synth/modal-bank.ts';
import { wander, whiteNoise } from '../synth/noise.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';

export interface CreakSource {
  kind: 'creak';
  body: BodyName;
  shape: Shape;
  /** Jerks a second at the beginning and at the end. */
  fromHz: number;
  toHz: number;
  /** Unevenness of the jerks, 0 a squeal .. 1 a stutter. */
  uneven: number;
  /** Level of the scraping under the jerks, 0..1. */
  scrape: number;
  size?: number;
}

export function playCreak(source: CreakSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const { shape } = source;
  const { modes } = exampleOf(BODIES[source.body], {
    size: source.size ?? 1,
    making: studio.making.branch(`${source.body} ${source.size ?? 1}`),
    take: random.branch('touch'),
  });
  const ring = tabled((dropDb) => modesFallSeconds(modes, dropDb));
  const fall = fallThrough((dropDb) => shapeFallSeconds(shape, dropDb), ring);
  const end = shape.seconds + Math.min(3, ring(60));
  const channels = silence(studio, end);
  const stubborn = wander(4, shape.seconds, random);
  const force = new Float32Array(Math.round(shape.seconds * rateHz));
  for (let at = 0; at < shape.seconds; ) {
    const share = at / shape.seconds;
    const jerksHz = source.fromHz * (source.toHz / source.fromHz) ** share * 2 ** (1.2 * source.uneven * stubborn(at));
    const level = Math.max(at === 0 ? 0.1 : 0, shapeLevel(shape, at)) * (1 - 0.6 * source.uneven * random.unit());
    const frame = Math.round(at * rateHz);
    // A slip: the load builds, then drops within a millisecond.
    const frames = Math.round(rateHz * random.range(0.0004, 0.0011));
    for (let index = 0; index < frames && frame + index < force.length; index += 1) {
      force[frame + index] += level * (1 - index / frames) * (index < 2 ? 0.5 : 1);
    }
    at += Math.max(0.0008, (1 + 0.5 * source.uneven * random.normal()) / jerksHz);
  }
  addModes(channels, modes, force, rateHz);
  normalise(channels, 1);
  const scrape = whiteNoise(force.length, random);
  filterInPlace(scrape, rateHz, { kind: 'band', hz: 1700, quality: 0.5 });
  for (let index = 0; index < scrape.length; index += 1) {
    const at = index / rateHz;
    scrape[index] *= shapeLevel(shape, at) * (0.6 + 0.4 * stubborn(at));
  }
  normalise([scrape], 0.5 * source.scrape);
  mixInto(channels, [scrape], 0, 1);
  fadeOut(channels, rateHz, Math.min(0.05, 0.3 * (end - shape.seconds)));
  return {
    channels,
    gesture: shapeGesture(shape),
    accentSeconds: shapeAccentSeconds(shape),
    pitchHz: null,
    fallSeconds: (dropDb) => Math.min(end, fall(dropDb)),
  };
}
