/** Invented recordings: synthesised, measured by the project itself, multiplied with made-up names. Seeded. */
import { PreviewWriter } from '../../scripts/publish/preview.ts';
import { SoundMeasurer } from '../../shared/measure/measure.ts';
import type { MapPlace } from '../../shared/shelf.ts';
import type { FaultDetail, Gesture, Measurements, Sound, Waveform } from '../../shared/sound.ts';
import { chunk, riff, waveFormat } from '../archive/bytes.ts';

export const SAMPLE_RATE_HZ = 48_000;

/** Mulberry32: small, even, the same everywhere. */
export function random(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

export interface Recipe {
  gesture: Gesture;
  seconds: number;
  /** Lowest partial. */
  hertz: number;
  /** Share of noise, 0..1. */
  noise: number;
  /** Smoothing of the noise, 0 bright .. 0.99 dark. */
  dull: number;
  peak: number;
}

export const RECIPES: readonly Recipe[] = [
  { gesture: 'riser', seconds: 5.9, hertz: 62, noise: 0.3, dull: 0.98, peak: 0.6 },
  { gesture: 'riser', seconds: 6.3, hertz: 180, noise: 0.5, dull: 0.9, peak: 0.4 },
  { gesture: 'riser', seconds: 3.1, hertz: 700, noise: 0.6, dull: 0.5, peak: 0.7 },
  { gesture: 'hit', seconds: 1.4, hertz: 110, noise: 0.2, dull: 0.9, peak: 0.9 },
  { gesture: 'hit', seconds: 0.6, hertz: 880, noise: 0.1, dull: 0.2, peak: 0.5 },
  { gesture: 'hit', seconds: 2.6, hertz: 392, noise: 0.02, dull: 0.5, peak: 0.3 },
  { gesture: 'swell', seconds: 6.8, hertz: 240, noise: 0.4, dull: 0.8, peak: 0.3 },
  { gesture: 'swell', seconds: 4.6, hertz: 1200, noise: 0.7, dull: 0.1, peak: 0.2 },
  { gesture: 'drone', seconds: 8.2, hertz: 82, noise: 0.1, dull: 0.95, peak: 0.25 },
  { gesture: 'drone', seconds: 7.1, hertz: 523, noise: 0.8, dull: 0.3, peak: 0.15 },
  { gesture: 'pulse', seconds: 4, hertz: 160, noise: 0.3, dull: 0.85, peak: 0.6 },
  { gesture: 'fade', seconds: 3.4, hertz: 330, noise: 0.2, dull: 0.7, peak: 0.5 },
  // Long enough for its preview to come in three parts.
  { gesture: 'drone', seconds: 70, hertz: 55, noise: 0.05, dull: 0.98, peak: 0.2 },
];

const ENVELOPES: Record<Gesture, (at: number, seconds: number) => number> = {
  riser: (at) => (at < 0.93 ? 0.02 + 0.4 * (at / 0.93) ** 2.4 : Math.exp(-(at - 0.93) * 60)),
  swell: (at) => Math.sin(Math.PI * at) ** 2,
  hit: (at, seconds) => Math.min(1, at * seconds * 400) * Math.exp(-at * 6),
  drone: (at, seconds) => Math.min(1, (at * seconds) / 0.4, ((1 - at) * seconds) / 0.4),
  pulse: (at) => Math.exp(-((at * 8) % 1) * 5),
  phrase: (at) => Math.exp(-((at * 3) % 1) * 3),
  fade: (at) => (1 - at) ** 1.5,
};

export function render(recipe: Recipe, seed: number): Float32Array {
  const next = random(seed);
  const out = new Float32Array(Math.round(recipe.seconds * SAMPLE_RATE_HZ));
  const partials = [1, 2.01, 2.97, 4.1, 5.4].map((factor, order) => ({
    step: (2 * Math.PI * recipe.hertz * factor) / SAMPLE_RATE_HZ,
    level: 1 / (order + 1),
  }));
  let low = 0;
  let highest = 1e-9;
  for (let i = 0; i < out.length; i++) {
    low = recipe.dull * low + (1 - recipe.dull) * (next() * 2 - 1);
    let tone = 0;
    for (const { step, level } of partials) tone += level * Math.sin(step * i);
    const envelope = ENVELOPES[recipe.gesture](i / out.length, recipe.seconds);
    out[i] = envelope * ((1 - recipe.noise) * 0.4 * tone + (recipe.noise * low * 2) / (1 - recipe.dull + 0.2));
    highest = Math.max(highest, Math.abs(out[i]));
  }
  return out.map((sample) => (sample * recipe.peak) / highest);
}

/** A recipe, by its index, as the WAV file of 32-bit floats that its measurements were taken from. */
export function floatWav(recipe: number): Uint8Array {
  const { buffer, byteOffset, byteLength } = render(RECIPES[recipe], recipe + 1);
  return riff([
    waveFormat({ tag: 3, bits: 32, rate: SAMPLE_RATE_HZ }),
    chunk('data', new Uint8Array(buffer, byteOffset, byteLength)),
  ]);
}

export interface Master {
  audio: Float32Array;
  measurements: Measurements;
  waveform: Waveform;
  gainDb: number;
  parts: Awaited<ReturnType<PreviewWriter['finish']>>;
}

/** Every recipe rendered, measured and encoded once. */
export async function masters(): Promise<Master[]> {
  const out: Master[] = [];
  for (const [seed, recipe] of RECIPES.entries()) {
    const audio = render(recipe, seed + 1);
    const measurer = new SoundMeasurer({
      sampleRateHz: SAMPLE_RATE_HZ,
      channels: 1,
      bitDepth: 24,
      channelMask: null,
      totalFrames: audio.length,
    });
    measurer.push([audio]);
    const { measurements, waveform } = measurer.finish();
    const writer = new PreviewWriter(
      SAMPLE_RATE_HZ,
      1,
      measurements.samplePeakDbfs === null ? 1 : 10 ** (measurements.samplePeakDbfs / 20),
    );
    await writer.push([audio]);
    out.push({ audio, measurements, waveform, gainDb: writer.gainDb, parts: await writer.finish() });
  }
  return out;
}

const THINGS = [
  'Tam-tam',
  'Boiler plate',
  'Anchor plate',
  'Saw blade',
  'Gutter pipe',
  'Kettle lid',
  'Bell buoy',
  'Rope',
  'Oar',
  'Glass bowl',
  'Net float',
  'Drum skin',
  'Cymbal',
  'Chain',
  'Harbour rail',
  'Wine glass',
  'Door spring',
  'Hull',
];
const ACTS = [
  'wire brush up',
  'chain drawn to rim',
  'rubbed then struck',
  'bowed, flicked',
  'ball rolling',
  'spun down',
  'far, reversed',
  'lifted',
  'superball edge',
  'knuckle',
  'dropped',
  'scraped slowly',
];
const SESSIONS = ['Boathouse', 'Net loft', 'Slipway', 'Quay', 'Kitchen', 'Chapel'];
const MATERIALS: Record<string, string> = {
  'Tam-tam': 'metal',
  'Boiler plate': 'metal',
  'Anchor plate': 'metal',
  'Saw blade': 'metal',
  'Gutter pipe': 'metal',
  'Kettle lid': 'metal',
  'Bell buoy': 'metal',
  Rope: 'rope',
  Oar: 'wood',
  'Glass bowl': 'glass',
  'Net float': 'glass',
  'Drum skin': 'skin',
  Cymbal: 'metal',
  Chain: 'metal',
  'Harbour rail': 'metal',
  'Wine glass': 'glass',
  'Door spring': 'metal',
  Hull: 'wood',
};
const CENTRES = [
  ['low metal, long', -6, 3],
  ['rubbed glass', 5, 4],
  ['rope and wood', 1, -1],
  ['skins, short', 7, -3],
  ['breath, kettle, wind', -4, -5],
  ['small bells', 3, -6],
] as const;

/** Text as embedded metadata may really hold it. */
export const HOSTILE = '<script>window.hacked = 1</script>\u202Eesrever\nsecond line 🐚 "quoted"';

const ALPHABET = 'abcdefghijklmnopqrstuvwxyz234567';

/** `count` sounds; the first carry the masters' audio in turn, from `realAudio` on lengths and pitches are varied without audio. */
export function inventSounds(count: number, from: readonly Master[], realAudio: number): Sound[] {
  const next = random(7);
  const pick = <T>(list: readonly T[]): T => list[Math.floor(next() * list.length)];
  return Array.from({ length: count }, (_, at): Sound => {
    const master = from[at % from.length];
    const stretch = at < realAudio ? 1 : 0.4 + 1.4 * next();
    const thing = pick(THINGS);
    const session = pick(SESSIONS);
    const take = 1 + Math.floor(next() * 30);
    const [, centreX, centreY] = CENTRES[(at % from.length) % CENTRES.length];
    const spread = () => (next() + next() + next() - 1.5) * 3.2;
    const name =
      at === 3 ? HOSTILE : at % 9 === 4 ? `Audio ${String(take).padStart(3, '0')}-${at}` : `${thing}, ${pick(ACTS)}`;
    const faultDetails: FaultDetail[] =
      at % 17 === 5
        ? [
            {
              kind: 'clipping',
              severity: 'serious',
              seconds: 0.4,
              message: 'The wave is cut off at full scale in 3 places.',
            },
          ]
        : [];
    return {
      ...stretched(master.measurements, stretch),
      id: Array.from({ length: 16 }, () => pick([...ALPHABET])).join(''),
      name,
      session: `${session} ${1 + Math.floor(next() * 4)}`,
      places: [
        {
          folder: 'archive',
          file: `${session}/Take ${take}/${at}.wav`,
          startSeconds: at % 5 === 0 ? 12.5 : 0,
          ...(at === 5 ? { away: true } : {}),
        },
      ],
      tags:
        at % 11 === 7
          ? []
          : [
              MATERIALS[thing] ?? 'metal',
              master.measurements.gesture ?? 'sound',
              pick(['rub', 'strike', 'bow', 'tide', 'rust']),
            ],
      description: at === 3 ? HOSTILE : at % 3 === 0 ? 'Recorded on the ramp at low water, two metres away.' : '',
      rights: at % 7 === 2 ? null : 'own recording',
      owner: at % 7 === 2 ? null : 'the house',
      recordedOn: `2021-0${1 + (at % 9)}-14`,
      format: 'WAV',
      mapX: centreX + spread(),
      mapY: centreY + spread() * 0.7,
      previewParts: master.parts.length,
      faults: faultDetails.map(({ kind }) => kind),
      faultDetails,
    };
  });
}

/** The same sound longer or shorter: times stretch, frequencies go the other way. */
function stretched(measured: Measurements, by: number): Measurements {
  const time = (value: number | null): number | null => (value === null ? null : value * by);
  const frequency = (value: number | null): number | null => (value === null ? null : value / by);
  return {
    ...measured,
    durationSeconds: measured.durationSeconds * by,
    activeStartSeconds: time(measured.activeStartSeconds),
    activeSeconds: time(measured.activeSeconds),
    attackSeconds: time(measured.attackSeconds),
    decaySeconds: time(measured.decaySeconds),
    climaxSeconds: time(measured.climaxSeconds),
    accents: measured.accents.map((accent) => ({ ...accent, seconds: accent.seconds * by })),
    centroidHz: frequency(measured.centroidHz),
    pitchHz: by === 1 ? measured.pitchHz : frequency(measured.pitchHz),
    note: by === 1 ? measured.note : null,
    centsOff: by === 1 ? measured.centsOff : null,
  };
}

export const MAP_PLACES: MapPlace[] = CENTRES.map(([label, x, y], order) => ({
  label,
  x,
  y: y + 1.6,
  sounds: 60 - order,
}));
