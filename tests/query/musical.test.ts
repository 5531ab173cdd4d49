import { describe, expect, test } from 'vitest';
import { beatSeconds, secondsAt, semitonesToRate, type Tempo } from '../../shared/music.ts';
import { risingOrder, standingOf } from '../../shared/query/facts.ts';
import { exactReach, FITS, LEFT_OUT, scoreMiss } from '../../shared/query/fit.ts';
import { fitMusically, type MusicalTarget, type TakeTimes } from '../../shared/query/musical.ts';
import { FRAME_RATE_NAMES, framesPerSecond, timecodeToSeconds } from '../../shared/timecode.ts';
import { Random } from '../measure/random.ts';

const take = (given: Partial<TakeTimes>): TakeTimes => ({
  durationSeconds: 8,
  activeStartSeconds: 0,
  activeSeconds: 7.5,
  climaxSeconds: 5,
  pitchHz: 110,
  ...given,
});
const at84: Tempo = { bpm: 84, note: null };
const twoBars: MusicalTarget = { seconds: (8 * 60) / 84, part: 'accent', tempo: at84, metre: null };

describe('a take whose accent should fall after two bars at 84', () => {
  test('says by how much it misses, what bends it there, and where to start it', () => {
    const fit = fitMusically(take({}), twoBars);
    expect(fit).not.toBeNull();
    if (!fit) return;
    expect(fit.missMilliseconds).toBeCloseTo(5000 - 480_000 / 84, 6);
    // One beat at 84 is 60 / 84 = 0.714 s: exactly the 0.714 s that are missing.
    expect(fit.missBeats).toBeCloseTo(-1, 9);
    expect(fit.fits).toBe(false);
    // rate = length / wanted length = 5 / 5.714 = 7 / 8.
    expect(fit.varispeedSemitones).toBeCloseTo(12 * Math.log2(7 / 8), 9);
    expect(fit.bentDurationSeconds).toBeCloseTo((8 * 8) / 7, 9);
    expect(fit.bentPitchHz).toBeCloseTo((110 * 7) / 8, 9);
    // Started one beat late, its accent lands.
    expect(fit.start.position).toBe('1:2');
    expect(fit.start.seconds).toBeCloseTo(60 / 84, 9);
  });

  test('is started before bar 1 where its accent comes late', () => {
    const fit = fitMusically(take({ climaxSeconds: 7 }), { ...twoBars, tempo: { bpm: 60, note: null }, seconds: 4 });
    expect(fit?.start.position).toBe('0:2');
    expect(fit?.start.seconds).toBe(-3);
    expect(fit?.start.timecodes['25']).toBe('-00:00:03:00');
  });

  test('has its silent head cut whole, as if it had none: no bend, no miss, no later start', () => {
    const plain = fitMusically(take({ climaxSeconds: 5.5 }), twoBars);
    const headed = fitMusically(
      take({ climaxSeconds: 6.25, activeStartSeconds: 0.75, durationSeconds: 8.75 }),
      twoBars,
    );
    expect(headed).toEqual({ ...plain, trimSeconds: 0.75 });
    // Silence before it does not help a take whose accent comes too soon.
    const counted = fitMusically(take({ climaxSeconds: 6, activeStartSeconds: 0.5 }), { ...twoBars, seconds: 6 });
    expect(counted).toMatchObject({ missSeconds: -0.5, fits: false, trimSeconds: 0.5 });
  });

  test('without an accent has no place; without a tempo no beats', () => {
    expect(fitMusically(take({ climaxSeconds: null }), twoBars)).toBeNull();
    expect(fitMusically(take({}), { ...twoBars, tempo: null })).toMatchObject({
      missBeats: null,
      start: { position: null },
    });
    expect(fitMusically(take({ pitchHz: null }), twoBars)?.bentPitchHz).toBeNull();
  });
});

describe('the figures of one take, worked out by hand', () => {
  // In 6/8 at dotted quarter = 60 a bar lasts 2 s and the beat named by the tempo 1 s: two bars are 4 s.
  const target: MusicalTarget = {
    seconds: 4,
    part: 'accent',
    tempo: { bpm: 60, note: { unit: 4, dotted: true } },
    metre: { beats: 6, unit: 8 },
    from: { bar: 3, beat: 1 },
    barOne: { timecode: '01:00:00:00', rate: '25' },
  };

  test('an accent at 4.5 s behind a silent head of half a second: trimmed, it lands', () => {
    const fit = fitMusically(
      take({ climaxSeconds: 4.5, activeStartSeconds: 0.5, activeSeconds: 6, durationSeconds: 7 }),
      target,
    );
    expect(fit).toMatchObject({
      trimSeconds: 0.5,
      missSeconds: 0,
      fits: true,
      varispeedSemitones: 0,
      // It sounds up to 6.5 s, two seconds and two beats past its accent.
      ringsOnSeconds: 2,
      ringsOnBeats: 2,
    });
    // The accent stands at bar 5, 8 s after bar 1; the clip, its head cut, starts 4 s before: at 4 s, bar 3.
    expect(fit?.start).toMatchObject({ seconds: 4, position: '3:1' });
    // 3604 s on the clock. At 24000/1001 frames a second they are frame 86 409.6, and 86 410 = 3600 * 24 + 10; at 30000/1001
    // frame 108 011.99, 120 after the hour of 107 892 (drop-frame).
    expect(fit?.start.timecodes).toMatchObject({
      '23.976': '01:00:00:10',
      '24': '01:00:04:00',
      '25': '01:00:04:00',
      '29.97df': '01:00:04;00',
      '30': '01:00:04:00',
    });
  });

  test('an accent at 3.2 s that has to be slowed to four fifths: 3.86 semitones less, A2 becomes F2', () => {
    const fit = fitMusically(take({ climaxSeconds: 3.2, activeSeconds: 4, durationSeconds: 5, pitchHz: 110 }), target);
    // 12 log2 (4 / 5) = -3.863; 110 Hz * 0.8 = 88 Hz, F2 is 87.31 Hz.
    expect(fit?.varispeedSemitones).toBeCloseTo(-3.863, 3);
    expect(fit).toMatchObject({ bentNote: 'F2', trimSeconds: 0, fits: false });
    expect(fit?.bentPitchHz).toBeCloseTo(88, 9);
    expect(fit?.bentDurationSeconds).toBeCloseTo(6.25, 9);
    expect(fit?.ringsOnSeconds).toBeCloseTo(0.8, 9);
    expect(fit?.missBeats).toBeCloseTo(-0.8, 9);
  });

  test('a take that has ended by its target rings on for nothing; one without a sounding part to its end', () => {
    const short = { ...target, part: 'length' as const };
    expect(fitMusically(take({ durationSeconds: 3.9, activeSeconds: 3.9 }), short)?.ringsOnSeconds).toBeCloseTo(0, 9);
    const drone = take({ climaxSeconds: 4, activeStartSeconds: null, activeSeconds: null, durationSeconds: 9 });
    expect(fitMusically(drone, target)).toMatchObject({ ringsOnSeconds: 5, bentNote: 'A2' });
    expect(fitMusically(drone, { ...target, tempo: null })).toMatchObject({
      ringsOnBeats: null,
      missBeats: null,
    });
  });
});

test('whatever the take: started where it says, the accent lands; bent as it says, it lands from the bar line', () => {
  const random = new Random(11);
  for (let i = 0; i < 1000; i++) {
    const durationSeconds = random.logBetween(0.1, 60);
    const activeStartSeconds = random.between(0, durationSeconds / 4);
    const climaxSeconds = random.between(activeStartSeconds, durationSeconds);
    const tempo: Tempo = { bpm: random.between(40, 200), note: null };
    const from = { bar: random.whole(1, 50), beat: random.whole(1, 4) };
    const rate = random.pick(FRAME_RATE_NAMES);
    const barOne = { timecode: '01:00:00:00', rate };
    const seconds = beatSeconds(tempo, null) * random.whole(1, 32);
    const fit = fitMusically(
      { durationSeconds, activeStartSeconds, activeSeconds: durationSeconds, climaxSeconds, pitchHz: null },
      { seconds, part: 'accent', tempo, metre: null, from, barOne },
    );
    if (!fit) throw new Error('a take with an accent has a place');
    const target = secondsAt(from, tempo, null) + seconds;
    expect(fit.start.seconds + climaxSeconds - fit.trimSeconds).toBeCloseTo(target, 9);
    const shown = timecodeToSeconds(fit.start.timecodes[rate], rate) ?? Number.NaN;
    const wanted = (timecodeToSeconds(barOne.timecode, rate) ?? 0) + fit.start.seconds;
    expect(Math.abs(shown - wanted)).toBeLessThanOrEqual(0.5 / framesPerSecond(rate) + 1e-9);
    if (fit.varispeedSemitones !== null) {
      const bent = (climaxSeconds - fit.trimSeconds) / semitonesToRate(fit.varispeedSemitones);
      expect(bent / seconds).toBeCloseTo(1, 9);
    }
  }
});

test('a length is met by what is heard, not by the silence around it', () => {
  const target: MusicalTarget = { seconds: 4, part: 'length', tempo: null, metre: null };
  const counted = fitMusically(take({ durationSeconds: 4, activeStartSeconds: 0.4, activeSeconds: 3.6 }), target);
  expect(counted).toMatchObject({ fits: false, trimSeconds: 0.4 });
  expect(counted?.missSeconds).toBeCloseTo(-0.4, 9);
  const hit = fitMusically(take({ durationSeconds: 9, activeStartSeconds: 0.2, activeSeconds: 4.02 }), target);
  expect(hit?.missSeconds).toBeCloseTo(0.02, 9);
  expect(hit?.trimSeconds).toBe(0.2);
  const unknown = fitMusically(take({ durationSeconds: 3, activeStartSeconds: null, activeSeconds: null }), target);
  expect(unknown?.missSeconds).toBe(-1);
});

describe('the score of a miss', () => {
  test('falls as the miss grows, and FITS parts what fits from what must be bent', () => {
    const random = new Random(12);
    for (let i = 0; i < 500; i++) {
      const wanted = random.logBetween(0.01, 100);
      const reach = exactReach(wanted);
      const [near, far] = [random.between(0, wanted), random.between(0, wanted)].sort((a, b) => a - b);
      expect(scoreMiss(near, reach)).toBeGreaterThanOrEqual(scoreMiss(far, reach));
      expect(scoreMiss(-near, reach)).toBe(scoreMiss(near, reach));
      const score = scoreMiss(near, reach);
      expect(score >= FITS).toBe(near <= reach.fits);
      expect(score === LEFT_OUT).toBe(near > reach.shown);
    }
  });

  test('2.5 % of a length fits, and at least 6 ms', () => {
    expect(exactReach(4).fits).toBeCloseTo(0.1, 12);
    expect(exactReach(0.1).fits).toBe(0.006);
  });
});

describe('standing in the archive', () => {
  test('is the share of values below, as counted one by one, also times a factor', () => {
    const random = new Random(13);
    for (let round = 0; round < 30; round++) {
      const values = Float32Array.from({ length: random.whole(1, 60) }, () =>
        random.chance(0.2) ? Number.NaN : random.pick([random.normal(), Math.round(random.normal() * 3), 0, -0]),
      );
      const present = values.filter((value) => !Number.isNaN(value));
      const factor = random.pick([1, 0.5, 4]);
      const standing = standingOf(values, risingOrder(values), factor);
      values.forEach((value, at) => {
        if (Number.isNaN(value)) {
          expect(standing[at]).toBeNaN();
          return;
        }
        const below = present.filter((other) => other < value * factor).length;
        const same = present.filter((other) => other === value * factor).length;
        expect(standing[at]).toBeCloseTo((below + same / 2) / present.length, 6);
      });
    }
  });

  test('puts values in rising order', () => {
    const values = Float32Array.of(3, -1, Number.NaN, 0, -2.5, 1e-30, -1e30, 1e30, 3);
    expect([...risingOrder(values)].map((at) => values[at])).toEqual(
      [...values].filter((value) => !Number.isNaN(value)).sort((a, b) => a - b),
    );
  });
});
