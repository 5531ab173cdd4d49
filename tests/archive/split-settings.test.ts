/** Settings of a folder and of parts of it; takes set by hand. All expected values follow from the rules stated there. */
import { expect, test } from 'vitest';
import { splitTakes } from '../../scripts/archive/split.ts';
import { type Correction, correctedRegions, correctionProblem } from '../../scripts/archive/split-corrections.ts';
import { folderSplitSchema } from '../../scripts/archive/split-schema.ts';
import { splitSettingsFor, USUAL_SPLIT, unusedForms } from '../../scripts/archive/split-settings.ts';
import { Random } from '../measure/random.ts';
import { struck } from '../measure/sources.ts';
import { recordSession } from './session-recording.ts';

const RATE = 48_000;

test.each([
  ['Loops/a.wav', { by: 'whole' }],
  ['Loops/slow (wed)/a.wav', { by: 'whole' }],
  ['Day 2/Loops/a.wav', {}],
  ['Day 2/spoken.wav', { slates: 'none' }],
  ['Loops.wav', {}],
  ['Day 1/b.mp3', { by: 'silence', longestPauseSeconds: 2, leastPauseSeconds: 1 }],
  ['b.mp3', { by: 'silence' }],
  ['slipway (wed)/[raw]/x.wav', { leastTakeSeconds: 0.5 }],
])('%s is cut as the last form that names it says', (file, expected) => {
  const split = folderSplitSchema.parse({
    within: [
      { files: 'Loops/', by: 'whole' },
      { files: 'Day */*', longestPauseSeconds: 2 },
      { files: '*.mp3', by: 'silence' },
      { files: 'Day 1/b.*', leastPauseSeconds: 1 },
      { files: 'slipway (wed)/[raw]', leastTakeSeconds: 0.5 },
      { files: 'Day 2/spoken.wav', slates: 'none' },
      { files: 'nowhere', by: 'markers' },
    ],
  });
  const daily = file.startsWith('Day') ? { longestPauseSeconds: 2 } : {};
  expect(splitSettingsFor(file, split)).toEqual({ ...USUAL_SPLIT, ...daily, ...expected });
  expect(unusedForms([file], split)).toContain('nowhere');
});

test('a rule that raises one pause or lowers the other keeps them in order', () => {
  const raised = splitSettingsFor('a.wav', folderSplitSchema.parse({ leastPauseSeconds: 3 }));
  expect(raised).toMatchObject({ leastPauseSeconds: 3, longestPauseSeconds: 3 });
  const lowered = splitSettingsFor('a.wav', folderSplitSchema.parse({ longestPauseSeconds: 0.2 }));
  expect(lowered).toMatchObject({ leastPauseSeconds: 0.2, longestPauseSeconds: 0.2 });
});

test('each way of cutting, on one recording of five blows with a marker at the third', () => {
  const random = new Random(5);
  const lengths = [1, 0.1, 1, 1, 1];
  const { envelope, takes, totalFrames } = recordSession(
    random,
    lengths.map((seconds, i) => ({ name: `${i}`, samples: struck(random, 'white noise', RATE, 0.002, seconds) })),
    { rate: RATE, roomDbfs: -75, pauseSeconds: [2, 2.5] },
  );
  const markers = [{ startFrame: takes[2].laidFrame - 100, lengthFrames: null, label: 'third', note: null }];
  const reasons = (options: Parameters<typeof splitTakes>[3]): string =>
    splitTakes(envelope, markers, totalFrames, options)
      .map(({ reason }) => reason[0])
      .join('');
  expect(reasons({})).toBe('ssmss');
  expect(reasons({ by: 'silence' })).toBe('sssss');
  expect(reasons({ by: 'markers' })).toBe('m');
  expect(reasons({ by: 'whole' })).toBe('w');
  expect(reasons({ by: 'silence', leastPauseSeconds: 5, longestPauseSeconds: 5 })).toBe('w');
  expect(reasons({ leastTakeSeconds: 0.5 })).toBe('smss');
  expect(reasons({ by: 'silence', leastTakeSeconds: 60 })).toBe('w');
});

const correction = (...takes: [start: number, end: number | null, name?: string][]): Correction => ({
  takes: takes.map(([start, end, name = null]) => ({ start, end, name })),
  places: takes.map((_, i) => `by hand.yaml, line ${i + 1}`),
});

test('takes set by hand: an end left out is where the next begins, or the end of the file', () => {
  const regions = correctedRegions(correction([0, null], [1.5, 2, 'bell'], [3, null]), 4 * RATE, RATE);
  expect(regions?.map(({ startFrame, endFrame, label }) => [startFrame / RATE, endFrame / RATE, label])).toEqual([
    [0, 1.5, null],
    [1.5, 2, 'bell'],
    [3, 4, null],
  ]);
});

test.each([
  [correction([-1, 2]), /line 1: .*-1 s, before the file/],
  [correction([0, 1], [4, null]), /line 2: .*starts at 4 s, but the file ends at 4 s/],
  [correction([0, 4.06]), /line 1: .*ends at 4\.06 s, but the file ends at 4 s/],
  [correction([2, 2]), /line 1: .*ends at 2 s, not after its start at 2 s/],
  [correction([0, 2.5], [2, 3]), /line 1: .*overlaps .* starts at 2 s .*line 2/],
  [correction([2, null], [2, null]), /line 1: .*overlaps/],
])('times that make no sense: %#', (wrong, says) => {
  expect(correctionProblem(wrong, 4)).toMatch(says);
  expect(correctedRegions(wrong, 4 * RATE, RATE)).toBeNull();
});

test('an end written with two digits may lie a little past the file', () => {
  expect(correctedRegions(correction([3, 4.01]), 4 * RATE, RATE)?.[0].endFrame).toBe(4 * RATE);
});
