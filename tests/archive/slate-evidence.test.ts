/**
 * What makes a slate of what sounds like one: it recurs in one voice. Expected values follow from the rules stated there;
 * that voices and cries differ in the ways named is common practice, no source.
 */
import { expect, test } from 'vitest';
import { type SlateCandidate, slatesAmong } from '../../scripts/archive/slate-evidence.ts';

const CLEAR_SPEECH: SlateCandidate['traits'] = {
  voicedShare: 0.5,
  longestVoicedSeconds: 0.4,
  voicedRunSeconds: 0.15,
  glideShare: 0.8,
  medianPitchHz: 120,
  pitchRangeSemitones: 6,
  syllablesASecond: 3.5,
  risingShare: 0.45,
  shapeSpreadDb: 9,
  shapeMotionDb: 5,
  richness: 0.3,
};

/** A quiet slate of 1.5 s that is a region by itself; its take the next one. */
function before(region: number, other: Partial<SlateCandidate> = {}): SlateCandidate {
  return {
    region,
    owner: region + 1,
    traits: CLEAR_SPEECH,
    voice: { loudestDb: -20, pitchHz: 120 },
    seconds: 1.5,
    louderDb: -6,
    longerBy: 2,
    ...other,
  };
}

const found = (candidates: readonly SlateCandidate[], regions: number): number[] =>
  slatesAmong(candidates, regions)?.slates.map(({ region }) => region) ?? [];
const every = (count: number, other: Partial<SlateCandidate> = {}): SlateCandidate[] =>
  Array.from({ length: count }, (_, i) => before(2 * i, other));

test('slates that recur in one voice are slates; what a few takes are like is none', () => {
  expect(found(every(10), 20)).toHaveLength(10);
  expect(found([before(3), before(9), before(17)], 25)).toEqual([]);
  expect(found([before(0)], 4)).toEqual([]);
  expect(found([before(0), before(2)], 4)).toEqual([0, 2]);
});

test('a cry among slates is none of them, neither by its pitch nor by its level', () => {
  const squeal = before(6, { voice: { loudestDb: -20, pitchHz: 300 } });
  const shout = before(6, { voice: { loudestDb: -6, pitchHz: 120 } });
  for (const cry of [squeal, shout]) {
    expect(found([before(0), before(2), before(4), cry, before(8)], 11)).toEqual([0, 2, 4, 8]);
  }
});

test('many voices that do not agree are takes', () => {
  const voices = [80, 130, 210, 330].map((pitchHz, i) => before(2 * i, { voice: { loudestDb: -20, pitchHz } }));
  expect(found(voices, 12)).toEqual([]);
});

test('what is as loud and as long as the sound after it must recur twice as often', () => {
  const rivals = { louderDb: 3, longerBy: 1.5 };
  expect(found(every(3), 6)).toHaveLength(3);
  expect(found(every(3, rivals), 6)).toEqual([]);
  expect(found(every(4, rivals), 8)).toHaveLength(4);
  expect(found(every(6, rivals), 24)).toEqual([]);
});

test.each([
  ['clear speech, quieter than what follows', {}, [0]],
  ['as loud and as long as what follows', { louderDb: 1, longerBy: 1.2 }, []],
  ['a short word', { seconds: 0.6 }, []],
  ['pitch over more than an octave', { traits: { ...CLEAR_SPEECH, pitchRangeSemitones: 13 } }, []],
  ['a mouth that hardly moves', { traits: { ...CLEAR_SPEECH, shapeSpreadDb: 5 } }, []],
])('before the only take of a file: %s', (_, other, slates) => {
  expect(found([before(0, other)], 2)).toEqual(slates);
});

test('a candidate within the take of another slate is part of that take', () => {
  expect(found([before(0), before(1), before(2), before(4)], 6)).toEqual([0, 2, 4]);
});
