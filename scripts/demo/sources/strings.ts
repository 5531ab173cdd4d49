/** A small group of bowed strings: each player a saw wave with their own drift, through the wooden body. */
import { type DryTake, mixInto, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { filterInPlace } from '../synth/filter.ts';
import { wander, whiteNoise } from '../synth/noise.ts';
import type { Random } from '../synth/random.ts';
import { type Shape, shapeAccentSeconds, shapeFallSeconds, shapeGesture, shapeLevel } from '../synth/shape.ts';

export interface StringsSource {
  kind: 'strings';
  technique: 'sustain' | 'tremolo' | 'ponticello' | 'flautando' | 'glissando';
  /** One entry a part; players are shared among them. One part at a steady pitch is a pitched sound. */
  hz: number[];
  /** Glissando: where each part's pitch ends, as a ratio. */
  glideRatio?: number;
  players: number;
  shape: Shape;
}

const FORMANTS = [
  { hz: 290, quality: 3, gain: 0.9 },
  { hz: 480, quality: 3.5, gain: 1 },
  { hz: 780, quality: 3, gain: 0.7 },
  { hz: 1300, quality: 2.5, gain: 0.6 },
  { hz: 2600, quality: 1.6, gain: 0.5 },
];

export function playStrings(source: StringsSource, studio: Studio): DryTake {
  const { rateHz, random } = studio;
  const { shape } = source;
  const saws = silence(studio, shape.seconds);
  const hair = silence(studio, shape.seconds);
  for (let player = 0; player < source.players; player += 1) {
    const own = random.branch(`player ${player}`);
    const place = source.players === 1 ? 0 : (2 * player) / (source.players - 1) - 1;
    const shares = studio.channels === 1 ? [1] : [Math.sqrt((1 - 0.7 * place) / 2), Math.sqrt((1 + 0.7 * place) / 2)];
    addPlayer(saws, hair, shares, source, source.hz[player % source.hz.length], rateHz, own);
  }
  const channels = saws.map((saw) => throughBody(saw, source.technique, rateHz));
  normalise(channels, 1);
  for (const channel of hair) filterInPlace(channel, rateHz, { kind: 'band', hz: 3200, quality: 0.6 });
  normalise(
    hair,
    { sustain: 0.05, tremolo: 0.12, ponticello: 0.22, flautando: 0.2, glissando: 0.05 }[source.technique],
  );
  mixInto(channels, hair, 0, 1);
  const steady = source.hz.length === 1 && source.technique !== 'glissando';
  return {
    channels,
    gesture: shapeGesture(shape),
    accentSeconds: shapeAccentSeconds(shape),
    pitchHz: steady ? source.hz[0] : null,
    fallSeconds: (dropDb) => shapeFallSeconds(shape, dropDb),
  };
}

/** One player's saw (band-limited by the polynomial step correction of Valimaki and Huovilainen, 2007) and bow hair. */
function addPlayer(
  saws: readonly Float32Array[],
  hair: readonly Float32Array[],
  shares: readonly number[],
  source: StringsSource,
  hz: number,
  rateHz: number,
  random: Random,
): void {
  const { technique, shape } = source;
  const drift = wander(2.5, shape.seconds, random);
  const pressure = wander(7, shape.seconds, random);
  const lateSeconds = random.range(0, 0.035);
  const detuneCents = random.normal() * 5;
  const vibratoCents = technique === 'sustain' || technique === 'glissando' ? random.range(6, 16) : 0;
  const vibratoHz = random.range(4.8, 6);
  const strokeHz = random.range(10.5, 13);
  const glide = Math.log2(source.glideRatio ?? 1);
  const noise = whiteNoise(saws[0].length, random);
  let phase = random.unit();
  let step = 0;
  let level = 0;
  let stroke = random.unit();
  for (let index = 0; index < noise.length; index += 1) {
    if (index % 32 === 0) {
      const at = index / rateHz;
      const share = at / shape.seconds;
      const vibrato = vibratoCents * Math.min(1, at / 0.6) * Math.sin(2 * Math.PI * vibratoHz * at);
      const cents = detuneCents + 6 * drift(at) + vibrato + (technique === 'ponticello' ? 14 * pressure(at) : 0);
      step = (hz * 2 ** (cents / 1200 + glide * share * share * (3 - 2 * share))) / rateHz;
      level = shapeLevel(shape, Math.max(0, at - lateSeconds)) * (1 + 0.12 * pressure(at));
      if (technique === 'tremolo') {
        stroke += (strokeHz * (1 + 0.15 * drift(at)) * 32) / rateHz;
        level *= 0.3 + 0.7 * Math.abs(Math.sin(Math.PI * stroke));
      }
    }
    phase += step;
    if (phase >= 1) phase -= 1;
    let wave = 2 * phase - 1;
    if (phase < step) {
      const near = phase / step;
      wave -= near + near - near * near - 1;
    } else if (phase > 1 - step) {
      const near = (phase - 1) / step;
      wave -= near * near + near + near + 1;
    }
    const rough = noise[index] * level * (0.4 + 0.6 * phase);
    for (let channel = 0; channel < saws.length; channel += 1) {
      saws[channel][index] += shares[channel] * wave * level;
      hair[channel][index] += shares[channel] * rough;
    }
  }
}

function throughBody(saw: Float32Array, technique: StringsSource['technique'], rateHz: number): Float32Array {
  const sum = filterInPlace(saw.slice(), rateHz, { kind: 'low', hz: technique === 'flautando' ? 700 : 1800 });
  for (let index = 0; index < sum.length; index += 1) sum[index] *= 0.35;
  for (const formant of FORMANTS) {
    const resonance = filterInPlace(saw.slice(), rateHz, { kind: 'band', hz: formant.hz, quality: formant.quality });
    const gain = technique === 'flautando' && formant.hz > 1000 ? 0.25 * formant.gain : formant.gain;
    for (let index = 0; index < sum.length; index += 1) sum[index] += gain * resonance[index];
  }
  if (technique !== 'ponticello') return sum;
  // Near the bridge the fundamental is nearly gone and the upper partials glare.
  const glare = filterInPlace(saw.slice(), rateHz, { kind: 'band', hz: 4200, quality: 1.2 });
  filterInPlace(sum, rateHz, { kind: 'high', hz: 1500 });
  for (let index = 0; index < sum.length; index += 1) sum[index] += 1.6 * glare[index];
  return sum;
}
