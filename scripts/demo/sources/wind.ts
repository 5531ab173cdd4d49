/** Wind: noise whose few resonances (a gap, a mast, a chimney) wander as the gusts come. */
import { type DryTake, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { filterInPlace } from '../synth/filter.ts';
import { pinkPair, wander } from '../synth/noise.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';

export interface WindSource {
  kind: 'wind';
  /** Where it howls, in Hz at full strength. */
  hz: number;
  /** 0 = broad rush, 1 = whistle. */
  whistle: number;
  shape: Shape;
}

export function playWind(source: WindSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const { shape } = source;
  const gust = wander(1.1, shape.seconds, random);
  const strength = (at: number) => shapeLevel(shape, at) * (0.8 + 0.2 * gust(at));
  const ratios = [1, random.range(1.4, 1.7), random.range(2.2, 2.9)];
  const channels = silence(studio, shape.seconds);
  const airs = pinkPair(channels.length, channels[0].length, random);
  for (const [which, channel] of channels.entries()) {
    const air = airs[which];
    const voices = ratios.map((ratio, index) =>
      filterInPlace(air.slice(), rateHz, {
        kind: 'band',
        hz: (at) => source.hz * ratio * 2 ** (0.9 * (strength(at) - 1) + 0.12 * gust(at + index)),
        quality: 1 + 30 * source.whistle ** 1.5,
      }),
    );
    filterInPlace(air, rateHz, { kind: 'low', hz: (at) => 150 + 1500 * strength(at) });
    const lift = 1 + 4 * source.whistle;
    let level = 0;
    for (let index = 0; index < channel.length; index += 1) {
      if (index % 8 === 0) level = strength(index / rateHz);
      const howl = voices[0][index] + 0.5 * voices[1][index] + 0.25 * voices[2][index];
      channel[index] = level * (0.5 * (1 - 0.7 * source.whistle) * air[index] + lift * howl);
    }
  }
  normalise(channels, 1);
  return {
    channels,
    gesture: shapeGesture(shape),
    accentSeconds: shapeAccentSeconds(shape),
    pitchHz: null,
    fallSeconds: (dropDb) => shapeFallSeconds(shape, dropDb),
  };
}
