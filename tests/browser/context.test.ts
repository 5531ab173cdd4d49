/** Heard in place: accents, clicks and cue fall where the score says; nothing cracks, nothing is too loud. */
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { SoundMeasurer } from '../../shared/measure/measure.ts';
import { type Metre, secondsAt, semitonesToRate, type Tempo } from '../../shared/music.ts';
import { placeTake } from '../../shared/placing.ts';
import { CEILING_DB } from '../../src/client/output.ts';
import { launch } from './chromium.ts';
import { random } from './fixture-sounds.ts';
import {
  listeningPage,
  previewOf,
  type RenderedTake,
  type Rendering,
  renderCrossing,
  renderInPlace,
  type Step,
} from './rendering.ts';

const RATE_HZ = 48_000;
/** When playing begins on the clock. */
const BEGIN = 0.1;
let browser: Browser;
let page: Page;
/** From when something is due to when it leaves the limiter, which looks ahead. */
let delaySeconds = 0;
let struck: RenderedTake;
let struckElsewhere: RenderedTake;
beforeAll(async () => {
  browser = await launch();
  page = await listeningPage(browser);
  struck = await previewOf(burstsAt([1.237], 2.5, 48_000), 48_000, { accentSeconds: 1.237 }, 'struck');
  // Another rate, another place: its preview's own delay and resampling are in the test too.
  struckElsewhere = await previewOf(burstsAt([0.41], 3.1, 44_100), 44_100, { accentSeconds: 0.41 }, 'elsewhere');
  delaySeconds = await limiterDelay();
});
afterAll(() => browser.close());

/** Faint noise, and bursts as sharp as band-limited ones can be: even about their middle, which is known whatever follows. */
function burstsAt(places: readonly number[], seconds: number, rateHz: number): Float32Array {
  const next = random(3);
  const samples = Float32Array.from({ length: Math.round(seconds * rateHz) }, () => 0.0005 * (next() * 2 - 1));
  for (const place of places) {
    for (let frame = Math.round((place - 0.004) * rateHz); frame <= (place + 0.004) * rateHz; frame++) {
      const away = frame / rateHz - place;
      samples[frame] += 0.5 * Math.exp(-0.5 * (away / 0.0004) ** 2) * Math.cos(2 * Math.PI * 2500 * away);
    }
  }
  return samples;
}

async function limiterDelay(): Promise<number> {
  return page.evaluate(async () => {
    const { heard } = globalThis as unknown as {
      heard: { buildOutput: (context: BaseAudioContext) => { input: AudioNode } };
    };
    const context = new OfflineAudioContext(1, 4800, 48_000);
    const buffer = new AudioBuffer({ length: 1, sampleRate: 48_000 });
    buffer.copyToChannel(new Float32Array([0.5]), 0);
    const source = new AudioBufferSourceNode(context, { buffer });
    source.connect(heard.buildOutput(context).input);
    source.start(0);
    const out = (await context.startRendering()).getChannelData(0);
    return out.reduce((best, sample, place) => (Math.abs(sample) > Math.abs(out[best]) ? place : best), 0) / 48_000;
  });
}

/** The middle of the energy about the loudest moment within 0.2 s of `due`. */
function burstNear(samples: Float32Array, due: number): number {
  const [first, last] = [due - 0.2, due + 0.2].map((seconds) => Math.round((seconds + delaySeconds) * RATE_HZ));
  let loudest = Math.max(0, first);
  for (let frame = loudest; frame < last; frame++)
    if (Math.abs(samples[frame]) > Math.abs(samples[loudest])) loudest = frame;
  let [sum, moment] = [0, 0];
  for (let frame = loudest - 160; frame <= loudest + 160; frame++) {
    const energy = (samples[frame] ?? 0) ** 2;
    sum += energy;
    moment += energy * frame;
  }
  return moment / sum / RATE_HZ - delaySeconds;
}

/** Where something begins after 20 ms of quiet: the first sample over a tenth of the largest. */
function onsets(samples: Float32Array): number[] {
  const least = samples.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0) / 10;
  const found: number[] = [];
  let last = Number.NEGATIVE_INFINITY;
  for (let frame = 0; frame < samples.length; frame++) {
    if (Math.abs(samples[frame]) < least) continue;
    if (frame - last > 0.02 * RATE_HZ) found.push(frame / RATE_HZ - delaySeconds);
    last = frame;
  }
  return found;
}

const largestStep = (samples: Float32Array): number =>
  samples.reduce((most, sample, frame) => Math.max(most, Math.abs(sample - (samples[frame - 1] ?? 0))), 0);

/** When the target is due, by hand: its place in the score, counted from the first bar heard. */
const due = ({ target, tempo, metre }: Step, startSeconds: number): number =>
  BEGIN + secondsAt(target, tempo, metre) - startSeconds;

const render = (rendering: Rendering) => renderInPlace(page, rendering);
const IN_FOUR: Pick<Step, 'tempo' | 'metre' | 'target'> = {
  tempo: { bpm: 120, note: null },
  metre: { beats: 4, unit: 4 },
  target: { bar: 2, beat: 1 },
};
const DOTTED: Tempo = { bpm: 60, note: { unit: 4, dotted: true } };
const SETTINGS: [name: string, tempo: Tempo, metre: Metre | null, bar: number, beat: number][] = [
  ['120, 4/4', { bpm: 120, note: null }, { beats: 4, unit: 4 }, 2, 1],
  ['84, no metre said', { bpm: 84, note: null }, null, 3, 2],
  ['97.3, 7/8', { bpm: 97.3, note: null }, { beats: 7, unit: 8 }, 2, 1],
  ['151, 5/4', { bpm: 151, note: null }, { beats: 5, unit: 4 }, 2, 4],
  ['dotted quarter 60, 6/8', DOTTED, { beats: 6, unit: 8 }, 2, 2],
];

describe('the accent', () => {
  it.each(SETTINGS)(
    'lands on its beat at %s, as recorded, an octave down, five semitones up',
    async (_, tempo, metre, bar, beat) => {
      for (const semitones of [0, -12, 5]) {
        const step: Step = { at: BEGIN, take: 0, tempo, metre, target: { bar, beat }, semitones };
        const placed = placeTake(struck, { tempo, metre, target: step.target }, semitonesToRate(semitones));
        const seconds = due(step, placed.startSeconds) + 0.4;
        const { left, placings } = await render({ seconds, takes: [struck], steps: [step], takeDb: 0 });
        const wanted = due(step, placings[0].startSeconds);
        const missed = Math.abs(burstNear(left, wanted) - wanted);
        expect(missed, `${semitones} st`).toBeLessThan(0.002);
        expect(missed * RATE_HZ, `${semitones} st, in samples`).toBeLessThan(1);
      }
    },
  );

  it('of a preview of 44.1 kHz lands as exactly, in a browser that plays at 44.1 or 48 kHz', async () => {
    for (const sampleRateHz of [44_100, 48_000]) {
      const step: Step = { ...IN_FOUR, at: BEGIN, take: 0 };
      const { left } = await render({ seconds: 2.6, sampleRateHz, takes: [struckElsewhere], steps: [step], takeDb: 0 });
      const found = left.reduce((best, sample, frame) => (Math.abs(sample) > Math.abs(left[best]) ? frame : best), 0);
      // Bar 2 at 120 is 2 s after bar 1, where playing begins.
      expect(Math.abs(found / sampleRateHz - delaySeconds - (BEGIN + 2))).toBeLessThan(0.001);
    }
  });

  it('as the project itself measures it lands within 2 ms: a strike out of a quiet room', async () => {
    const next = random(9);
    const samples = Float32Array.from({ length: 96_000 }, (_, frame) => {
      const since = frame / RATE_HZ - 0.7;
      const strike = since < 0 ? 0 : Math.exp(-since / 0.2) * Math.cos(2 * Math.PI * 900 * since);
      return 0.001 * (next() * 2 - 1) + 0.6 * strike;
    });
    const measurer = new SoundMeasurer({
      sampleRateHz: RATE_HZ,
      channels: 1,
      bitDepth: 24,
      channelMask: null,
      totalFrames: samples.length,
    });
    measurer.push([samples]);
    const { climaxSeconds, activeStartSeconds } = measurer.finish().measurements;
    const take = await previewOf(
      samples,
      RATE_HZ,
      { accentSeconds: climaxSeconds ?? Number.NaN, soundingFromSeconds: activeStartSeconds ?? 0 },
      'measured',
    );
    const step: Step = { ...IN_FOUR, at: BEGIN, take: 0 };
    const { left, placings } = await render({ seconds: 2.6, takes: [take], steps: [step], takeDb: 0 });
    const wanted = due(step, placings[0].startSeconds);
    const first = onsets(left).find((onset) => onset > wanted - 0.1) ?? Number.NaN;
    expect(Math.abs(first - wanted)).toBeLessThan(0.002);
  });

  it('of a long sound lands too, across the parts of its preview, its head cut where it would take minutes of count-in', async () => {
    const samples = burstsAt([41.3], 50, RATE_HZ).map(
      (sample, frame) => sample + 0.1 * Math.sin((2 * Math.PI * 110 * frame) / RATE_HZ),
    );
    const long = await previewOf(samples, RATE_HZ, { accentSeconds: 41.3 }, 'long');
    expect(long.parts.length).toBe(2);
    // At 60 a bar is 4 s: 4 bars before bar 1 are 20 s before bar 2, so it is heard from its 21.3 s on, over the seam at 30 s.
    const step: Step = { ...IN_FOUR, tempo: { bpm: 60, note: null }, at: BEGIN, take: 0 };
    const { left, placings } = await render({ seconds: 21, takes: [long], steps: [step], takeDb: 0 });
    expect(placings[0].trimSeconds).toBeCloseTo(21.3, 6);
    const wanted = due(step, placings[0].startSeconds);
    expect(wanted).toBeCloseTo(BEGIN + 20, 9);
    expect(Math.abs(burstNear(left, wanted) - wanted)).toBeLessThan(0.002);
    // A sine of 110 Hz and amplitude 0.1 steps by at most 0.1 · 2 π · 110 / 48000; up to the burst nothing steps twice as far.
    expect(largestStep(left.subarray(0, 19.9 * RATE_HZ))).toBeLessThan((2 * 0.1 * 2 * Math.PI * 110) / RATE_HZ);
  });
});

describe('the click', () => {
  it.each(SETTINGS)('stands on every beat within 1 ms at %s, higher on the downbeat', async (_, tempo, metre) => {
    // A silent take, two bars and more.
    const step: Step = { at: BEGIN, take: 0, tempo, metre, target: { bar: 2, beat: 1 } };
    const { left, placings } = await render({ seconds: 12, takes: [struck], steps: [step], clickDb: -12 });
    const { startSeconds, endSeconds } = placings[0];
    // Worked out beat by beat: how many, how long, from the names in the table above.
    const beat = tempo.note ? 60 / tempo.bpm : (60 / tempo.bpm) * (4 / (metre?.unit ?? 4));
    const inBar = tempo.note ? 2 : (metre?.beats ?? 4);
    const count = Math.round((endSeconds - startSeconds) / beat);
    expect(count).toBeGreaterThanOrEqual(2 * inBar);
    const found = onsets(left);
    expect(found).toHaveLength(count);
    for (const [order, onset] of found.entries()) {
      expect(Math.abs(onset - (BEGIN + order * beat)), `beat ${order + 1}`).toBeLessThan(0.001);
      const high = pitchAt(left, onset) > 1300;
      expect(high, `beat ${order + 1}`).toBe(order % inBar === 0);
    }
  });

  it('counts in where the take begins before bar 1, and a loop turns over without drift: take, click and cue', async () => {
    // Bar 1 at 150 lasts 1.6 s; slowed by an octave the take begins 2.474 s before bar 2.
    const step: Step = { ...IN_FOUR, tempo: { bpm: 150, note: null }, at: BEGIN, take: 0, semitones: -12, loop: true };
    const cue = { code: 'i % 48000 === 24000 ? 0.5 : 0', seconds: 30, barOneSeconds: 7.5 };
    const { left, placings } = await render({ seconds: 21, takes: [struck], steps: [step], takeDb: 0, cue });
    const { startSeconds, endSeconds } = placings[0];
    expect(startSeconds).toBeCloseTo(-1.6, 9);
    const cycle = endSeconds - startSeconds;
    expect(cycle).toBeCloseTo(4 * 1.6, 9);
    for (let turn = 0; turn < 3; turn++) {
      const wanted = due(step, startSeconds) + turn * cycle;
      expect(Math.abs(burstNear(left, wanted) - wanted) * RATE_HZ, `turn ${turn + 1}`).toBeLessThan(3);
    }
    const { left: counted } = await render({ seconds: 14, steps: [step], takes: [struck], clickDb: -12 });
    const clicks = onsets(counted);
    expect(pitchAt(counted, clicks[0])).toBeGreaterThan(1300);
    for (const [order, click] of clicks.entries())
      expect(Math.abs(click - (BEGIN + order * 0.4)), `click ${order + 1}`).toBeLessThan(0.001);
  });
});

/** Frequency by crossings of zero in the 15 ms after an onset. */
function pitchAt(samples: Float32Array, onset: number): number {
  const from = Math.round((onset + delaySeconds + 0.001) * RATE_HZ);
  let crossings = 0;
  for (let frame = from; frame < from + 720; frame++) if (samples[frame] < 0 !== samples[frame + 1] < 0) crossings++;
  return (crossings / 2) * (RATE_HZ / 720);
}

describe('the cue', () => {
  it('stands with its own time at bar 1, at its own speed whatever the take is played at', async () => {
    // A click of one sample every second, half a second after each whole one.
    const code = 'i % 48000 === 24000 ? 0.5 : 0';
    for (const [barOneSeconds, first] of [
      [7.5, 0],
      [7.25, 0.25],
      // The recording begins 1.2 s after bar 1, its first click half a second later.
      [-1.2, 1.7],
    ]) {
      // A silent take.
      const step: Step = { ...IN_FOUR, at: BEGIN, take: 0, semitones: 5 };
      const { left } = await render({
        seconds: 4,
        takes: [struck],
        steps: [step],
        cueDb: 0,
        cue: { code, seconds: 30, barOneSeconds },
      });
      const wanted = [first, first + 1, first + 2]
        .filter((seconds) => seconds > 0.01 && seconds < 3.9)
        .map((seconds) => BEGIN + seconds);
      const found = onsets(left).filter((onset) => onset > BEGIN + 0.01);
      for (const seconds of wanted)
        expect(Math.min(...found.map((onset) => Math.abs(onset - seconds))), `${barOneSeconds}`).toBeLessThan(
          1 / RATE_HZ + 1e-9,
        );
    }
  });

  it('turns over in a loop without a gap or a bump: what it has at the turn crosses', async () => {
    // Bars of 1 s and a sine of 100 Hz: it meets itself in phase at every turn.
    const step: Step = {
      at: BEGIN,
      take: null,
      tempo: { bpm: 240, note: null },
      metre: null,
      target: { bar: 1, beat: 2 },
      loop: true,
    };
    const cue = { code: '0.3 * Math.sin(2 * Math.PI * 100 * i / 48000)', seconds: 30, barOneSeconds: 5 };
    const { left } = await render({ seconds: 4, steps: [step], cueDb: 0, cue });
    for (let from = BEGIN + delaySeconds + 0.05; from < 3.9; from += 0.01) {
      const start = Math.round(from * RATE_HZ);
      const peak = left.subarray(start, start + 480).reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
      expect(Math.abs(peak - 0.3)).toBeLessThan(0.01);
    }
  });
});

describe('going to another take', () => {
  it('in place keeps the score: both accents land, clicks go on, none is doubled', async () => {
    const other = { other: 1 } as const;
    const first: Step = { ...IN_FOUR, target: { bar: 3, beat: 1 }, at: BEGIN, take: 0, ...other, loop: true };
    const second: Step = { ...first, at: 3.0417, take: 1, other: 0 };
    const back: Step = { ...first, at: 5.0203 };
    const { left, placings } = await render({
      seconds: 10,
      takes: [struck, struckElsewhere],
      steps: [first, second, back],
      takeDb: 0,
    });
    const { startSeconds, endSeconds } = placings[0];
    expect(placings.map((placing) => [placing.startSeconds, placing.endSeconds])).toEqual(
      Array(3).fill([startSeconds, endSeconds]),
    );
    // The first passage meets its target under the second take, the next one under the first.
    for (const wanted of [due(first, startSeconds), due(first, startSeconds) + endSeconds - startSeconds])
      expect(Math.abs(burstNear(left, wanted) - wanted)).toBeLessThan(0.002);
    const { left: counted } = await render({
      seconds: 8,
      takes: [struck, struckElsewhere],
      steps: [first, second, back],
      clickDb: -12,
    });
    for (const [order, click] of onsets(counted).entries())
      expect(Math.abs(click - (BEGIN + order * 0.5)), `click ${order + 1}`).toBeLessThan(0.001);
  });

  it('by itself keeps the place, counted from where each begins to sound', async () => {
    // Strikes every 100 ms; the second take has the same 137 ms later in its recording, and others at its head.
    const row = (from: number) => Array.from({ length: 18 }, (_, order) => from + order * 0.1);
    const takes = [
      await previewOf(burstsAt(row(0.05), 2, RATE_HZ), RATE_HZ, { accentSeconds: 0.05 }, 'row'),
      await previewOf(burstsAt(row(0.187), 2.2, RATE_HZ), RATE_HZ, { accentSeconds: 0.187 }, 'later row'),
    ] as const;
    const samples = await renderCrossing(page, takes, 0.6, 0.137, 1.6);
    const found = onsets(samples);
    // Every strike 100 ms after the one before, also over the crossing.
    expect(found.length).toBeGreaterThan(13);
    for (let order = 1; order < found.length; order++)
      expect(Math.abs(found[order] - found[order - 1] - 0.1), `strike ${order + 1}`).toBeLessThan(0.002);
  });

  it('and changing, cutting and ending never crack: no step larger than the sound and a fade of 5 ms make', async () => {
    const [low, high] = await Promise.all(
      [80, 130].map((hertz) =>
        previewOf(
          Float32Array.from(
            { length: 4 * RATE_HZ },
            (_, frame) => 0.5 * Math.sin((2 * Math.PI * hertz * frame) / RATE_HZ),
          ),
          RATE_HZ,
          { accentSeconds: 2 },
          `sine ${hertz}`,
        ),
      ),
    );
    const step: Step = { ...IN_FOUR, at: BEGIN, take: 0, other: 1, countIn: 'none', loop: true };
    const { left } = await render({
      seconds: 7,
      takes: [low, high],
      steps: [
        step,
        { ...step, at: 1.2345, take: 1 },
        { ...step, at: 1.5, take: 0 },
        { ...step, at: 1.503, take: 1 },
        { ...step, at: 3, semitones: -5 },
      ],
      takeDb: 0,
      cue: { code: '0.2 * Math.sin(2 * Math.PI * 60 * i / 48000)', seconds: 30, barOneSeconds: 5 },
      cueDb: 0,
      endAt: 6.1,
    });
    // Two sines of 0.5 crossing, a cue of 0.2, and their fades: slope of a sine 2 π f a, of a fade a / 5 ms.
    const bound =
      (2 * Math.PI * 130 * 0.5 + 2 * Math.PI * 80 * 0.5 + 2 * Math.PI * 60 * 0.2 + (0.5 + 0.5 + 0.2) / 0.005) / RATE_HZ;
    expect(largestStep(left)).toBeLessThan(bound);
    expect(left.subarray(Math.ceil((6.12 + delaySeconds) * RATE_HZ)).every((sample) => Math.abs(sample) < 1e-4)).toBe(
      true,
    );
  });
});

describe('the level', () => {
  it('never passes −1 dBFS, however loud take, click, cue and room together', async () => {
    const { left, right } = await render({
      seconds: 5,
      takes: [struck],
      steps: [{ ...IN_FOUR, at: BEGIN, take: 0, loop: true }],
      takeDb: 30,
      clickDb: 20,
      cueDb: 20,
      cue: { code: '((Math.imul(i + 1, 2654435761) >>> 0) / 2147483648 - 1)', seconds: 30, barOneSeconds: 2 },
      room: { amount: 0.5, seconds: 2 },
    });
    for (const samples of [left, right]) {
      const peak = samples.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
      expect(20 * Math.log10(peak)).toBeLessThanOrEqual(CEILING_DB);
    }
  });

  it('rings on in the room after the take, and not without it', async () => {
    const step: Step = { ...IN_FOUR, at: BEGIN, take: 0 };
    const rendering: Rendering = { seconds: 4.5, takes: [struck], steps: [step], takeDb: 0 };
    const energyAfter = (samples: Float32Array) => {
      // The take ends 1.263 s after its burst at 2.1 s.
      const from = Math.round((BEGIN + 2 + 1.3 + delaySeconds) * RATE_HZ);
      return samples.subarray(from, from + RATE_HZ / 2).reduce((sum, sample) => sum + sample * sample, 0);
    };
    const dry = await render(rendering);
    const wet = await render({ ...rendering, room: { amount: 0.6, seconds: 4 } });
    expect(energyAfter(dry.left)).toBeLessThan(1e-9);
    expect(energyAfter(wet.left)).toBeGreaterThan(1e-5);
    expect(energyAfter(wet.right)).toBeGreaterThan(1e-5);
  });
});
