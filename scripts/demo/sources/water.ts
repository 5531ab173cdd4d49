/**
 * Water. Drops and pours are bubbles: a bubble of radius r sings at about 3/r Hz (Minnaert) and dies with
 * 0.13/r + 0.0072 r^-1.5 a second, rising in pitch as it nears the surface (van den Doel, "Physically based models
 * for liquid sounds", 2005). Waves are noise that breaks and draws back.
 */
import { type DryTake, mixInto, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { filterInPlace } from '../synth/filter.ts';
import { pinkNoise, pinkPair, whiteNoise } from '../synth/noise.ts';
import type { Random } from '../synth/random.ts';
import { scatter } from '../synth/scatter.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';

export interface WaterSource {
  kind: 'water';
  what: 'drips' | 'pour' | 'wave' | 'bubbles';
  shape: Shape;
  /** Bubbles a second at the curve's top; waves have none. */
  perSecond?: number;
  /** Drips: true for one drop alone. */
  single?: boolean;
  /** 1 = drops of a tap; larger = deeper plops. */
  size?: number;
}

const USUAL_PER_SECOND = { drips: 3, pour: 140, wave: 0, bubbles: 24 };

export function playWater(source: WaterSource, studio: Studio): DryTake {
  const { shape } = source;
  const channels = silence(studio, shape.seconds + 0.25);
  let loudestSeconds = 0;
  if (source.what === 'wave') addWave(channels, shape, studio);
  else loudestSeconds = addBubbles(channels, source, studio);
  if (source.what === 'pour') addStream(channels, shape, studio);
  normalise(channels, 1);
  return {
    channels,
    // Drops are events, each for itself; pours, waves and bubbles move as their curve does.
    gesture: source.what === 'drips' ? dripsGesture(source) : shapeGesture(shape),
    accentSeconds: source.what === 'drips' ? loudestSeconds : shapeAccentSeconds(shape),
    pitchHz: null,
    fallSeconds: (dropDb) => shapeFallSeconds(shape, dropDb) + 0.1,
  };
}

/** One drop is a hit, several are a phrase. */
export function dripsGesture(source: WaterSource): 'hit' | 'phrase' {
  return source.single === true ? 'hit' : 'phrase';
}

/** Returns when the strongest of them falls. */
function addBubbles(channels: readonly Float32Array[], source: WaterSource, studio: Studio): number {
  const { rateHz, random } = studio;
  const { shape } = source;
  const perSecond = source.perSecond ?? USUAL_PER_SECOND[source.what === 'wave' ? 'drips' : source.what];
  const times = source.single === true ? [0] : scatter(shape, perSecond, 0.2, random);
  let loudest = { seconds: 0, level: 0 };
  for (const seconds of times) {
    const level = Math.max(0.25, shapeLevel(shape, seconds)) * random.logRange(0.15, 1);
    const size = (source.size ?? 1) * random.logRange(0.5, 2);
    addBubble(channels, Math.round(seconds * rateHz), size, level, rateHz, random);
    if (level > loudest.level) loudest = { seconds, level };
  }
  return loudest.seconds;
}

function addBubble(
  channels: readonly Float32Array[],
  start: number,
  size: number,
  level: number,
  rateHz: number,
  random: Random,
): void {
  const radius = 0.0028 * size;
  const hz = 3 / radius;
  if (hz > 0.4 * rateHz) return;
  const damping = 0.13 / radius + 0.0072 * radius ** -1.5;
  const rising = random.unit() < 0.7 ? random.range(0.05, 0.25) * damping : 0;
  const place = random.range(-0.8, 0.8);
  const shares = channels.length === 1 ? [1] : [Math.sqrt((1 - place) / 2), Math.sqrt((1 + place) / 2)];
  const frames = Math.min(channels[0].length - start, Math.round((7 / damping) * rateHz));
  let phase = 0;
  for (let index = 0; index < frames; index += 1) {
    const at = index / rateHz;
    phase += (2 * Math.PI * hz * Math.min(3, 1 + rising * at)) / rateHz;
    const value = level * Math.min(1, at * 900) * Math.exp(-damping * at) * Math.sin(phase);
    for (let channel = 0; channel < channels.length; channel += 1)
      channels[channel][start + index] += shares[channel] * value;
  }
}

/** The hiss of a stream, and the vessel's note that rises as it fills. */
function addStream(channels: readonly Float32Array[], shape: Shape, studio: Studio): void {
  const { rateHz, random } = studio;
  const fromHz = random.range(280, 520);
  for (const channel of channels) {
    const stream = pinkNoise(channel.length, random);
    const hollow = filterInPlace(stream.slice(), rateHz, {
      kind: 'band',
      hz: (at) => fromHz * (1 + 1.6 * (at / shape.seconds) ** 2),
      quality: 7,
    });
    filterInPlace(stream, rateHz, { kind: 'band', hz: 3500, quality: 0.5 });
    for (let index = 0; index < channel.length; index += 1) {
      stream[index] = shapeLevel(shape, index / rateHz) * (0.25 * stream[index] + 0.7 * hollow[index]);
    }
    normalise([stream], 0.35);
    mixInto([channel], [stream], 0, 1);
  }
}

/** A wave: the body of it opens as it breaks; foam fizzes after the top while the shingle drags. */
function addWave(channels: readonly Float32Array[], shape: Shape, studio: Studio): void {
  const { rateHz, random } = studio;
  const bodies = pinkPair(channels.length, channels[0].length, random);
  for (const [which, channel] of channels.entries()) {
    const body = bodies[which];
    filterInPlace(body, rateHz, { kind: 'high', hz: 90, quality: 0.5 });
    filterInPlace(body, rateHz, { kind: 'low', hz: (at) => 180 + 4200 * shapeLevel(shape, at) ** 1.5 });
    const foam = filterInPlace(whiteNoise(channel.length, random), rateHz, { kind: 'high', hz: 3500 });
    for (let index = 0; index < channel.length; index += 1) {
      const at = index / rateHz;
      const fizz =
        0.25 * shapeLevel(shape, at - 0.12 * shape.seconds) ** 1.5 * (0.6 + 0.4 * (random.unit() < 0.05 ? 3 : 1));
      channel[index] = body[index] * shapeLevel(shape, at) + 0.2 * foam[index] * fizz * shapeLevel(shape, at);
    }
  }
}
