import { expect, test } from 'vitest';
import { parseQuery } from '../../shared/query/parse.ts';
import { pickUpOf } from '../../src/client/pick-up-of.ts';

const written = (question: string) =>
  pickUpOf({ query: parseQuery(question), shape: null, target: null, weak: true, nearest: null }, new Date(2026, 2, 4));

test('a wish keeps its words, its day, its tempo and what its length comes to', () => {
  const wish = written('dark swipe, 2 bars of 3/4 at 84');
  expect(wish).toMatchObject({
    wish: 'dark, swipe, 2 bars of 3/4 at 84',
    askedOn: '2026-03-04',
    tempoBpm: 84,
    metre: '3/4',
  });
  // Six beats of 60 / 84 s.
  expect(wish.lengthSeconds).toBeCloseTo((6 * 60) / 84, 9);
});

test.each([
  ['3 s', 3],
  ['about 3 s', 3],
  ['not 3 s', null],
  ['under 3 s', null],
  ['gong', null],
])('the length wanted by "%s"', (question, seconds) => expect(written(question).lengthSeconds).toBe(seconds));
