/** What the time axis spans and how it counts; which reasons a row repeats and which it does not. */
import { describe, expect, it } from 'vitest';
import { type Axis, axisLines, fittingSpan } from '../../src/client/axis.ts';
import { shortReasons } from '../../src/client/reason-words.ts';

const axis = (seconds: number, width = 400): Axis => ({
  left: 0,
  width,
  seconds,
  counting: { tempo: null, metre: null },
  targetSeconds: null,
});

describe('the axis', () => {
  it('spans all sounds, but lets a few much longer ones run off rather than shrink the rest to nothing', () => {
    expect(fittingSpan(Float32Array.of(1, 2, 3, 3.5), null)).toBeGreaterThan(3.5);
    const withOneLong = Float32Array.of(0.02, 0.02, 0.5, 1, 1.2, 2, 2.5, 3, 1800);
    expect(fittingSpan(withOneLong, null)).toBeLessThan(4);
    expect(fittingSpan(Float32Array.of(1800), null)).toBeGreaterThan(1800);
    expect(fittingSpan(new Float32Array(0), null)).toBeGreaterThan(0);
  });

  it.each([0.02, 0.3, 1, 4, 11, 59, 130, 1800, 7200, 360_000])(
    'of %d s has some lines, none nearer to another than words need, at whole steps',
    (seconds) => {
      const lines = axisLines(axis(seconds));
      expect(lines.length).toBeGreaterThan(1);
      expect(lines.length).toBeLessThanOrEqual(7);
      const [first, second] = lines;
      expect(first.seconds).toBe(0);
      for (const [at, line] of lines.entries()) expect(line.seconds).toBeCloseTo(at * second.seconds, 6);
    },
  );

  it('counts long sounds in minutes', () => {
    expect(axisLines(axis(1800)).map(({ label }) => label)).toEqual(['0 min', '10 min', '20 min', '30 min']);
    expect(axisLines(axis(4)).every(({ label }) => !label.includes('min'))).toBe(true);
  });
});

describe('short reasons', () => {
  it('leave out what name and figures of the row say', () => {
    expect(shortReasons(['name: metal', 'accent +0 ms, head trimmed by 2.7 ms'], true)).toBe('');
    expect(shortReasons(['5.58 s long, -132 ms', 'tag: metal'], true)).toBe('tag: metal');
    expect(shortReasons(['sounds for 5.75 s, +38 ms', '951 ms long'], true)).toBe('');
  });

  it('keep what is news, and put words of one field together', () => {
    expect(shortReasons(['tag: metal', 'tag: swiped', 'darker than 58 %'], true)).toBe(
      'tag: metal, swiped · darker than 58 %',
    );
    expect(shortReasons(['name: bell, a kind of metal'], true)).toBe('name: bell, a kind of metal');
    expect(shortReasons(['loudest moment +0 ms, head trimmed by 196 ms'], true)).toBe('loudest moment');
    expect(shortReasons(['accent at 54 % of its length'], false)).toBe('accent at 54 % of its length');
    expect(shortReasons(['G2, 98 Hz, -200 cents from 110 Hz'], false)).toBe('G2, 98 Hz, −200 cents from 110 Hz');
  });
});
