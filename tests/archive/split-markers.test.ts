/** Markers before silence: regions as they are, points to the end of their sound, and markers that mark no take. */
import { describe, expect, it } from 'vitest';
import type { Marker } from '../../scripts/archive/audio-stream.ts';
import { type Region, splitTakes } from '../../scripts/archive/split.ts';
import { Random } from '../measure/random.ts';
import { struck } from '../measure/sources.ts';
import { recordSession } from './session-recording.ts';

const RATE = 48000;
const random = new Random(17);
const session = recordSession(
  random,
  Array.from({ length: 5 }, (_, i) => ({ name: `${i}`, samples: struck(random, 'white noise', RATE, 0.002, 0.6) })),
  { rate: RATE, roomDbfs: -75, pauseSeconds: [2, 2.5] },
);
const { takes, totalFrames } = session;

function at(startFrame: number, label: string | null = null, lengthFrames: number | null = null): Marker {
  return { startFrame, lengthFrames, label, note: null };
}

function split(markers: readonly Marker[], loops: { startFrame: number; endFrame: number }[] = []): Region[] {
  return splitTakes(session.envelope, markers, totalFrames, { loops });
}

/** Which take each region holds, and its label. */
function held(regions: readonly Region[]): string[] {
  return regions.map((region) => {
    const own = takes.findIndex((take) => region.startFrame < take.endFrame && region.endFrame > take.audibleFrame);
    return `${region.label ?? ''}:${own}:${region.reason}`;
  });
}

describe('regions', () => {
  it('are taken as they are, and the sounds they leave are cut by silence', () => {
    const wide = at(takes[1].laidFrame - RATE, 'low bell', takes[1].endFrame - takes[1].laidFrame + 2 * RATE);
    const regions = split([wide]);
    expect(held(regions)).toEqual([':0:silence', 'low bell:1:marker', ':2:silence', ':3:silence', ':4:silence']);
    expect(regions[1].startFrame).toBe(wide.startFrame);
    expect(regions[1].endFrame).toBe(wide.startFrame + (wide.lengthFrames ?? 0));
  });

  it('may overlap, are cut to the file, and count once', () => {
    const a = at(takes[0].laidFrame, 'a', 3 * RATE);
    const b = at(takes[0].laidFrame + RATE, 'b', totalFrames);
    const regions = split([a, b, { ...a }]);
    expect(regions.map(({ label }) => label)).toEqual(['a', 'b']);
    expect(regions[1].endFrame).toBe(totalFrames);
  });
});

describe('points', () => {
  it('before their sounds: from the point to where the sound ends', () => {
    const markers = takes.map((take, i) => at(take.laidFrame - Math.round(0.3 * RATE), `take ${i}`));
    const regions = split(markers);
    expect(held(regions)).toEqual(takes.map((_, i) => `take ${i}:${i}:marker`));
    regions.forEach((region, i) => {
      expect(region.startFrame).toBe(markers[i].startFrame);
      expect(Math.abs(region.endFrame - takes[i].endFrame) / RATE).toBeLessThan(0.3);
    });
  });

  it('pressed late: from where the sound begins', () => {
    const regions = split(takes.map((take, i) => at(take.laidFrame + Math.round(0.25 * RATE), `take ${i}`)));
    expect(held(regions)).toEqual(takes.map((_, i) => `take ${i}:${i}:marker`));
    regions.forEach((region, i) => {
      expect(Math.abs(region.startFrame - takes[i].laidFrame) / RATE).toBeLessThan(0.05);
    });
  });

  it('at some of the sounds only: the rest is cut by silence', () => {
    const regions = split([at(takes[3].laidFrame, 'the good one')]);
    expect(held(regions)).toEqual([':0:silence', ':1:silence', ':2:silence', 'the good one:3:marker', ':4:silence']);
  });

  it('within one long sound cut it from each to the next', () => {
    const roll = recordSession(random, [{ name: 'roll', samples: struck(random, 'white noise', RATE, 0.01, 9) }], {
      rate: RATE,
      roomDbfs: -80,
      pauseSeconds: [1, 1],
    });
    const [take] = roll.takes;
    const markers = [0, 1.5, 3].map((seconds, i) => at(take.laidFrame + Math.round(seconds * RATE), `part ${i}`));
    const regions = splitTakes(roll.envelope, markers, roll.totalFrames);
    expect(regions.map(({ label }) => label)).toEqual(['part 0', 'part 1', 'part 2']);
    expect(regions.map(({ startFrame }) => startFrame)).toEqual(markers.map(({ startFrame }) => startFrame));
    expect(regions[0].endFrame).toBe(regions[1].startFrame);
    expect(regions[1].endFrame).toBe(regions[2].startFrame);
  });
});

describe('markers that mark no take', () => {
  it('outside the file, on the ends of a loop, or called loop', () => {
    const loop = { startFrame: takes[2].laidFrame + 1000, endFrame: takes[2].laidFrame + 9000 };
    const regions = split(
      [
        at(totalFrames + 10, 'beyond'),
        at(-5, 'before'),
        at(loop.startFrame, 'x', loop.endFrame - loop.startFrame),
        at(loop.endFrame, 'y'),
        at(takes[1].laidFrame + 500, 'Loop start'),
      ],
      [loop],
    );
    expect(held(regions)).toEqual(takes.map((_, i) => `:${i}:silence`));
  });

  it('a lone sync point within a single sound', () => {
    const one = recordSession(random, [{ name: 'one', samples: struck(random, 'tone', RATE, 0.002, 4) }], {
      rate: RATE,
      roomDbfs: -80,
      pauseSeconds: [0.5, 0.5],
    });
    const regions = splitTakes(one.envelope, [at(one.takes[0].laidFrame + RATE, 'sync')], one.totalFrames);
    expect(regions).toEqual([{ startFrame: 0, endFrame: one.totalFrames, label: null, note: null, reason: 'whole' }]);
  });
});
