/**
 * What the page would play in place, rendered without loudspeakers: its own graph, its own preview decoder, a clock that
 * runs as fast as it can. Takes are real previews, made by the build's own encoder.
 */
import { build } from 'esbuild';
import type { Browser, Page } from 'playwright';
import { PreviewWriter } from '../../scripts/publish/preview.ts';
import type { Metre, Tempo } from '../../shared/music.ts';
import type { CountIn, TakeToPlace } from '../../shared/placing.ts';
import { PROJECT } from './fixture-site.ts';

export interface RenderedTake extends TakeToPlace {
  id: string;
  gainDb: number;
  parts: { part: number; startSeconds: number; durationSeconds: number; gainDb: number; mp3: string }[];
}

/** From context time `at` on; goes on in the score where it is, or starts at `score`, or at the beginning of the bars. */
export interface Step {
  at: number;
  take: number | null;
  tempo: Tempo;
  metre: Metre | null;
  target: { bar: number; beat: number };
  semitones?: number;
  countIn?: CountIn;
  loop?: boolean;
  score?: number;
  /** Heard together with this other take: its bars count too. */
  other?: number;
  cue?: boolean;
}

export interface Rendering {
  sampleRateHz?: number;
  seconds: number;
  takes?: RenderedTake[];
  steps: Step[];
  /** Gains in dB; silent where left out. */
  clickDb?: number;
  takeDb?: number;
  cueDb?: number;
  /** Sample i of n at 48 kHz, as an expression, and the cue's time at bar 1. */
  cue?: { code: string; seconds: number; barOneSeconds: number };
  room?: { amount: number; seconds: number };
  /** Everything fades away from here. */
  endAt?: number;
}

export interface Rendered {
  left: Float32Array;
  right: Float32Array;
  /** The page's placing of every step. */
  placings: { startSeconds: number; targetSeconds: number; endSeconds: number; trimSeconds: number }[];
}

export async function previewOf(
  samples: Float32Array,
  sampleRateHz: number,
  place: Partial<TakeToPlace> & { accentSeconds: number },
  id: string,
): Promise<RenderedTake> {
  const peak = samples.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
  const writer = new PreviewWriter(sampleRateHz, 1, peak);
  await writer.push([samples]);
  const parts = await writer.finish();
  return {
    id,
    durationSeconds: samples.length / sampleRateHz,
    soundingFromSeconds: 0,
    ...place,
    gainDb: 0,
    parts: parts.map((part) => ({ ...part, gainDb: writer.gainDb, mp3: Buffer.from(part.mp3).toString('base64') })),
  };
}

/** A page with the client's own modules under `heard`. */
export async function listeningPage(browser: Browser): Promise<Page> {
  const page = await browser.newPage();
  const { outputFiles } = await build({
    stdin: {
      contents: `
        export { Audition } from './audition.ts';
        export { buildBus } from './context/bus.ts';
        export { makeClicks } from './context/click.ts';
        export { Tracks } from './context/tracks.ts';
        export { buildOutput, toGain } from './output.ts';
        export { Previews } from './previews.ts';
        export { clockFrom, heardTogether, placeTake } from '../../shared/placing.ts';
      `,
      resolveDir: `${PROJECT}src/client`,
      loader: 'ts',
    },
    bundle: true,
    format: 'iife',
    globalName: 'heard',
    write: false,
  });
  await page.evaluate(outputFiles[0].text.replace(/^(["']use strict["'];\s*)?var heard/, '$1globalThis.heard'));
  return page;
}

export async function renderInPlace(page: Page, rendering: Rendering): Promise<Rendered> {
  const { channels, placings } = await page.evaluate(renderThere, rendering);
  const [left, right] = channels.map(samplesOf);
  return { left, right, placings };
}

/** Two takes by themselves: the first from its beginning, then crossed over to the second at `at`, `shift` further on. */
export async function renderCrossing(
  page: Page,
  takes: readonly [RenderedTake, RenderedTake],
  at: number,
  shift: number,
  seconds: number,
): Promise<Float32Array> {
  const text = await page.evaluate(crossThere, [takes, at, shift, seconds] as const);
  return samplesOf(text);
}

function samplesOf(text: string): Float32Array {
  const bytes = Buffer.from(text, 'base64');
  return new Float32Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length));
}

/** The page's modules as `listeningPage` has them. */
interface Heard {
  Audition: typeof import('../../src/client/audition.ts').Audition;
  buildBus: typeof import('../../src/client/context/bus.ts').buildBus;
  makeClicks: typeof import('../../src/client/context/click.ts').makeClicks;
  Tracks: typeof import('../../src/client/context/tracks.ts').Tracks;
  buildOutput: typeof import('../../src/client/output.ts').buildOutput;
  toGain: typeof import('../../src/client/output.ts').toGain;
  Previews: typeof import('../../src/client/previews.ts').Previews;
  clockFrom: typeof import('../../shared/placing.ts').clockFrom;
  heardTogether: typeof import('../../shared/placing.ts').heardTogether;
  placeTake: typeof import('../../shared/placing.ts').placeTake;
}

/** Runs in the page: its own audition, on a clock stopped at the moment of crossing. */
async function crossThere([takes, at, shift, seconds]: readonly [readonly RenderedTake[], number, number, number]) {
  const { heard } = globalThis as unknown as { heard: Heard };
  const context = new OfflineAudioContext(1, Math.ceil(seconds * 48_000), 48_000);
  const { input, analyser } = heard.buildOutput(context);
  const bus = heard.buildBus(context, input);
  const previews = new heard.Previews(async (id, part) => {
    const found = takes.find((take) => take.id === id)?.parts[part];
    if (!found) throw new Error(`no part ${part} of ${id}`);
    return { id, ...found };
  });
  for (const { id } of takes) await previews.part(id, 0);
  const open = { context, bus, analyser };
  const speakers = { open: () => open, present: open, awake: true, onOpen: () => {}, checkLater: () => {} };
  const audition = new heard.Audition(speakers as never, previews, {
    changed: () => {},
    failed: (sentence) => {
      throw new Error(sentence);
    },
  });
  const [first, second] = takes.map(({ id, durationSeconds, parts }) => ({
    id,
    parts: parts.length,
    durationSeconds,
    loopStartSeconds: 0,
    loopEndSeconds: durationSeconds,
    gainDb: 0,
  }));
  await audition.play(first);
  void context.suspend(at).then(async () => {
    await audition.crossTo(second, (place) => place + shift);
    await context.resume();
  });
  const out = await context.startRendering();
  const bytes = new Uint8Array(out.getChannelData(0).buffer);
  let text = '';
  for (let from = 0; from < bytes.length; from += 32_768)
    text += String.fromCharCode(...bytes.subarray(from, from + 32_768));
  return btoa(text);
}

/** Runs in the page. */
async function renderThere(rendering: Rendering) {
  const { heard } = globalThis as unknown as { heard: Heard };
  const { seconds, sampleRateHz = 48_000, takes = [], steps, cue, room } = rendering;
  const context = new OfflineAudioContext(2, Math.ceil(seconds * sampleRateHz), sampleRateHz);
  const bus = heard.buildBus(context, heard.buildOutput(context).input);
  const gain = (decibels: number | undefined) => (decibels === undefined ? 0 : heard.toGain(decibels));
  bus.click.gain.value = gain(rendering.clickDb);
  bus.cue.gain.value = gain(rendering.cueDb);
  bus.setRoom(room ?? null);
  const previews = new heard.Previews(async (id, part) => {
    const found = takes.find((take) => take.id === id)?.parts[part];
    if (!found) throw new Error(`no part ${part} of ${id}`);
    return { id, ...found };
  });
  for (const { id, parts } of takes) for (const { part } of parts) await previews.part(id, part);
  let cueSound = null;
  if (cue) {
    const length = Math.ceil(cue.seconds * 48_000);
    const sample = new Function('i', 'n', `return ${cue.code}`) as (i: number, n: number) => number;
    const buffer = new AudioBuffer({ length, sampleRate: 48_000 });
    buffer.copyToChannel(
      Float32Array.from({ length }, (_, i) => sample(i, length)),
      0,
    );
    cueSound = { buffer, durationSeconds: cue.seconds, barOneSeconds: cue.barOneSeconds };
  }
  const tracks = new heard.Tracks({
    bus,
    clicks: heard.makeClicks(context),
    parts: previews,
    failed: (problem) => {
      throw problem;
    },
    moved: () => undefined,
  });
  const placings = [];
  for (const step of steps) {
    const rate = 2 ** ((step.semitones ?? 0) / 12);
    const score = { tempo: step.tempo, metre: step.metre, target: step.target };
    const silent = { durationSeconds: 0, soundingFromSeconds: 0, accentSeconds: 0 };
    const place = (index: number | null) =>
      heard.placeTake(index === null ? silent : takes[index], score, rate, step.countIn);
    const placing = heard.heardTogether(place(step.take), step.other === undefined ? null : place(step.other));
    const from = step.score ?? tracks.scoreAt(step.at) ?? placing.startSeconds;
    const found = step.take === null ? null : takes[step.take];
    const playable = found && {
      id: found.id,
      parts: found.parts.length,
      durationSeconds: found.durationSeconds,
      loopStartSeconds: 0,
      loopEndSeconds: found.durationSeconds,
      gainDb: rendering.takeDb ?? -300,
    };
    // As live: laid more than a second ahead, then changed.
    tracks.lay(step.at + 1.2);
    tracks.change(
      { placing, score, take: playable, cue: step.cue === false ? null : cueSound },
      heard.clockFrom(placing, step.loop ?? false, step.at, from),
      step.at,
    );
    placings.push(placing);
  }
  tracks.lay(rendering.endAt === undefined ? seconds : rendering.endAt + 1.2);
  if (rendering.endAt !== undefined) tracks.end(rendering.endAt);
  const out = await context.startRendering();
  const channels = [0, 1].map((channel) => {
    const bytes = new Uint8Array(out.getChannelData(channel).buffer);
    let text = '';
    for (let at = 0; at < bytes.length; at += 32_768) text += String.fromCharCode(...bytes.subarray(at, at + 32_768));
    return btoa(text);
  });
  return { channels, placings };
}
