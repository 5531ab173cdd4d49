import { describe, expect, test } from 'vitest';
import { type Metre, positionAt, semitonesToRate, type Tempo } from '../../shared/music.ts';
import {
  clicksBetween,
  clockAt,
  clockFrom,
  heardTogether,
  MOST_COUNT_IN_BARS,
  MOST_COUNT_IN_SECONDS,
  passageFrom,
  placeInTake,
  placeTake,
  type Score,
  scoreAt,
  type TakeToPlace,
} from '../../shared/placing.ts';
import { Random } from '../measure/random.ts';

const score = (bpm: number, metre: Metre | null, bar = 2, beat = 1, note: Tempo['note'] = null): Score => ({
  tempo: { bpm, note },
  metre,
  target: { bar, beat },
});
const take = (accentSeconds: number, durationSeconds = accentSeconds + 1, soundingFromSeconds = 0): TakeToPlace => ({
  accentSeconds,
  durationSeconds,
  soundingFromSeconds,
});

/** Worked out by hand: seconds of one bar = beats · 60 / bpm · (note of the metre / note the tempo counts). */
describe('where the clip begins, by hand', () => {
  // Tempo, metre, target; one bar; the target's score time; a take with its accent at 0.75 s begins there.
  test.each([
    ['120, 4/4, bar 2', score(120, { beats: 4, unit: 4 }), 2, 2, 1.25],
    ['60, 3/4, bar 3', score(60, { beats: 3, unit: 4 }, 3), 3, 6, 5.25],
    // Eighths are half a quarter: 7 · 60 / 90 / 2 = 7 / 3 s.
    ['90, 7/8, bar 2', score(90, { beats: 7, unit: 8 }), 7 / 3, 7 / 3, 7 / 3 - 0.75],
    // Beat 4 of 7/8 is its fourth eighth: three eighths after the downbeat.
    ['90, 7/8, bar 2 beat 4', score(90, { beats: 7, unit: 8 }, 2, 4), 7 / 3, 10 / 3, 10 / 3 - 0.75],
    ['150, 5/4, bar 2', score(150, { beats: 5, unit: 4 }), 2, 2, 1.25],
    // A dotted quarter at 60: two beats of 1 s in a bar of 6/8; its second beat is the bar's fourth eighth.
    [
      'dotted quarter 60, 6/8, bar 1 beat 2',
      score(60, { beats: 6, unit: 8 }, 1, 2, { unit: 4, dotted: true }),
      2,
      1,
      0.25,
    ],
    ['no metre said counts 4/4', score(84, null, 3), 240 / 84, 480 / 84, 480 / 84 - 0.75],
  ])('%s', (_, where, bar, target, clip) => {
    const placing = placeTake(take(0.75), where, 1);
    expect(placing.targetSeconds).toBeCloseTo(target, 9);
    expect(placing.clipSeconds).toBeCloseTo(clip, 9);
    expect((placing.endSeconds - placing.startSeconds) / placing.bars).toBeCloseTo(bar, 9);
    expect(placing.trimSeconds).toBe(0);
  });

  test('varispeed stretches what lies before the accent: an octave down doubles it, an octave up halves it', () => {
    const where = score(120, { beats: 4, unit: 4 }, 3);
    expect(placeTake(take(1), where, semitonesToRate(-12)).clipSeconds).toBeCloseTo(4 - 2, 9);
    expect(placeTake(take(1), where, semitonesToRate(12)).clipSeconds).toBeCloseTo(4 - 0.5, 9);
  });
});

describe('bars and count-in, by hand', () => {
  const common = { beats: 4, unit: 4 };
  test('a take that begins in bar 1 is heard from bar 1 to the bar it ends in', () => {
    // At 120 a bar lasts 2 s. Accent 1.5 s in, on bar 2: begins at 0.5 s, ends at 4.7 s, within bar 3.
    const placing = placeTake(take(1.5, 4.2), score(120, common), 1);
    expect(placing).toMatchObject({ firstBar: 1, bars: 3, startSeconds: 0, endSeconds: 6, trimSeconds: 0 });
  });

  test('one that must begin before bar 1 has one bar counted in; more where it needs more; a head longer than that is cut', () => {
    expect(placeTake(take(2.5), score(120, common), 1)).toMatchObject({
      firstBar: 0,
      startSeconds: -2,
      trimSeconds: 0,
    });
    // 5.2 s before bar 2 beat 1 is 3.2 s before bar 1: two bars of 2 s.
    expect(placeTake(take(5.2), score(120, common), 1)).toMatchObject({
      firstBar: -1,
      startSeconds: -4,
      trimSeconds: 0,
    });
    const long = placeTake(take(40), score(120, common), 1);
    // Begins 38 s before bar 1, heard from 12 s = 6 bars before it: 26 s are cut.
    expect(long.firstBar).toBe(1 - MOST_COUNT_IN_SECONDS / 2);
    expect(long.trimSeconds).toBeCloseTo(26, 9);
    expect(long.soundingTrimSeconds).toBeCloseTo(26, 9);
    // In bars of 6 s four of them are heard.
    expect(placeTake(take(40), score(40, common), 1)).toMatchObject({
      firstBar: 1 - MOST_COUNT_IN_BARS,
      trimSeconds: 10,
    });
    expect(placeInTake(long, long.targetSeconds)).toBeCloseTo(40, 9);
  });

  test('a silent head needs no count-in and is cut; twice as much of it where it plays twice as fast', () => {
    const placing = placeTake(take(3, 5, 1.5), score(120, common), 1);
    // The whole head but for a hundredth of a second, so that the onset is not cut into.
    expect(placing).toMatchObject({ firstBar: 1, trimSeconds: 1.49, soundingTrimSeconds: 0 });
    const fast = placeTake(take(6, 8, 3), score(120, common), 2);
    expect(fast).toMatchObject({ firstBar: 1, trimSeconds: 2.99, soundingTrimSeconds: 0 });
    // The bar line lies within the head: all of it is cut, not up to the line.
    expect(placeTake(take(2.4, 5, 1), score(120, common), 1).enterSeconds).toBeCloseTo(2 - 2.4 + 0.99, 9);
  });

  test('count-in always, and none', () => {
    expect(placeTake(take(1.5), score(120, common), 1, 'always')).toMatchObject({ firstBar: 0 });
    expect(placeTake(take(2.5), score(120, common), 1, 'always')).toMatchObject({ firstBar: -1 });
    const none = placeTake(take(2.5), score(120, common), 1, 'none');
    expect(none).toMatchObject({ firstBar: 1, trimSeconds: 0.5, soundingTrimSeconds: 0.5 });
  });

  test('a strike at the very head has the bar before it heard; on bar 1 only where a count-in is always wanted', () => {
    expect(placeTake(take(0, 1), score(120, common), 1)).toMatchObject({ firstBar: 1, bars: 2, clipSeconds: 2 });
    expect(placeTake(take(0, 1), score(120, common, 5), 1)).toMatchObject({ firstBar: 4 });
    expect(placeTake(take(0, 1), score(120, common, 1), 1)).toMatchObject({ firstBar: 1, bars: 1 });
    expect(placeTake(take(0, 1), score(120, common, 1), 1, 'always')).toMatchObject({ firstBar: 0, bars: 2 });
  });

  test('far into the score only the bars that it takes are heard', () => {
    expect(placeTake(take(0.1, 1), score(120, common, 33), 1)).toMatchObject({ firstBar: 32, bars: 2 });
  });
});

describe('clicks', () => {
  const times = (clicks: { scoreSeconds: number }[]) =>
    clicks.map(({ scoreSeconds }) => Number(scoreSeconds.toFixed(6)));

  test('stand on every beat as the tempo counts them, the first of a bar marked', () => {
    // 7/8 at a quarter of 120: eighths of 0.25 s, bars of 1.75 s.
    const seven = clicksBetween(score(120, { beats: 7, unit: 8 }), 0, 3.5);
    expect(times(seven)).toEqual([0, 0.25, 0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.25, 2.5, 2.75, 3, 3.25]);
    expect(seven.filter(({ downbeat }) => downbeat).map(({ scoreSeconds }) => scoreSeconds)).toEqual([0, 1.75]);
    // 6/8 counted in dotted quarters of 60: two beats a bar.
    expect(times(clicksBetween(score(60, { beats: 6, unit: 8 }, 1, 1, { unit: 4, dotted: true }), 0, 4))).toEqual([
      0, 1, 2, 3,
    ]);
    // 5/8 counted in quarters: two and a half beats; the next bar begins anew.
    expect(times(clicksBetween(score(60, { beats: 5, unit: 8 }, 1, 1, { unit: 4, dotted: false }), 0, 5))).toEqual([
      0, 1, 2, 2.5, 3.5, 4.5,
    ]);
    expect(times(clicksBetween(score(60, { beats: 4, unit: 4 }), -4, -1))).toEqual([-4, -3, -2]);
  });

  test('from within a bar only what is still to come; nothing from nothing', () => {
    expect(times(clicksBetween(score(60, null), 1.5, 5.5))).toEqual([2, 3, 4, 5]);
    expect(clicksBetween(score(60, null), 3, 3)).toEqual([]);
  });
});

describe('a passage', () => {
  const placing = placeTake(take(1.5, 4.2), score(120, null), 1);

  test('has take and cue at their places: the cue by its own time at bar 1', () => {
    const cue = { durationSeconds: 100, barOneSeconds: 12.5 };
    const { take: inTake, cue: inCue } = passageFrom(placing, score(120, null), cue, placing.startSeconds);
    expect(inTake).toEqual({ scoreSeconds: 0.5, fromSeconds: 0 });
    expect(inCue).toEqual({ scoreSeconds: 0, fromSeconds: 12.5, lengthSeconds: 6 });
  });

  test('begun in the middle takes up everything in the middle', () => {
    const from = passageFrom(placing, score(120, null), { durationSeconds: 14, barOneSeconds: 12.5 }, 1);
    expect(from.take).toEqual({ scoreSeconds: 1, fromSeconds: 0.5 });
    expect(from.cue).toEqual({ scoreSeconds: 1, fromSeconds: 13.5, lengthSeconds: 0.5 });
    expect(passageFrom(placing, score(120, null), { durationSeconds: 14, barOneSeconds: 12.5 }, 1.5).cue).toBeNull();
  });

  test('a cue that begins after bar 1 comes in there; without take or cue there is none', () => {
    const late = passageFrom(placing, score(120, null), { durationSeconds: 14, barOneSeconds: -3 }, 0);
    expect(late.cue).toEqual({ scoreSeconds: 3, fromSeconds: 0, lengthSeconds: 3 });
    expect(passageFrom(placing, score(120, null), null, 5).take).toBeNull();
  });
});

describe('two takes in turn', () => {
  test('share bars, and each keeps its accent on the target', () => {
    const where = score(120, null);
    const [early, late] = [placeTake(take(3.5, 4), where, 1), placeTake(take(0.2, 6), where, 1)];
    const both = [heardTogether(early, late), heardTogether(late, early)];
    for (const placing of both) {
      expect(placing).toMatchObject({ firstBar: 0, startSeconds: -2, endSeconds: 8, bars: 5 });
    }
    expect(placeInTake(both[0], 2)).toBeCloseTo(3.5, 9);
    expect(placeInTake(both[1], 2)).toBeCloseTo(0.2, 9);
    expect(heardTogether(early, null)).toBe(early);
  });
});

describe('the clock', () => {
  test('runs in loops without drift, or ends', () => {
    const placing = placeTake(take(1.5, 4.2), score(120, null), 1);
    const looped = clockFrom(placing, true, 100, 2);
    expect(scoreAt(looped, 100)).toBe(2);
    expect(scoreAt(looped, 103.5)).toBe(5.5);
    expect(scoreAt(looped, 104)).toBe(0);
    expect(scoreAt(looped, 98 + 6 * 1000 + 2)).toBe(2);
    expect(clockAt(looped, 2, 1000)).toBe(6100);
    const once = clockFrom(placing, false, 100, 0);
    expect(scoreAt(once, 99)).toBe(0);
    expect(scoreAt(once, 106)).toBeNull();
  });
});

test('whatever tempo, metre, target, take and varispeed: the accent stands on the target, nothing is not finite', () => {
  const random = new Random(20);
  for (let turn = 0; turn < 2000; turn++) {
    const where = score(
      20 + 380 * random.next(),
      { beats: 1 + Math.floor(random.next() * 15), unit: [2, 4, 8, 16][Math.floor(random.next() * 4)] },
      1 + Math.floor(random.next() * 40),
      1 + Math.floor(random.next() * 4),
      random.next() < 0.5 ? null : { unit: [2, 4, 8][Math.floor(random.next() * 3)], dotted: random.next() < 0.5 },
    );
    const duration = 0.05 + 80 * random.next() ** 3;
    const accent = duration * random.next();
    const countIn = (['needed', 'always', 'none'] as const)[turn % 3];
    const rate = semitonesToRate(-24 + 48 * random.next());
    const placing = placeTake(take(accent, duration, accent * random.next()), where, rate, countIn);
    for (const value of Object.values(placing)) expect(Number.isFinite(value)).toBe(true);
    // The take is heard at its accent, at the target, whose bar and beat are those asked for, as music.ts counts them.
    if (accent < duration) expect(placeInTake(placing, placing.targetSeconds)).toBeCloseTo(accent, 6);
    expect(positionAt(placing.targetSeconds, where.tempo, where.metre)).toEqual(
      positionAt(placing.clipSeconds + accent / rate, where.tempo, where.metre),
    );
    expect(placing.startSeconds).toBeLessThanOrEqual(placing.enterSeconds + 1e-9);
    expect(placing.leaveSeconds).toBeLessThanOrEqual(placing.endSeconds + 1e-5);
    expect(placing.trimSeconds).toBeGreaterThanOrEqual(0);
    expect(positionAt(placing.startSeconds, where.tempo, where.metre)).toEqual({ bar: placing.firstBar, beat: 1 });
    // One downbeat a bar.
    const { clicks, take: inTake } = passageFrom(placing, where, null, placing.startSeconds);
    expect(clicks.filter(({ downbeat }) => downbeat)).toHaveLength(placing.bars);
    expect(inTake?.scoreSeconds).toBe(placing.enterSeconds);
  }
});
