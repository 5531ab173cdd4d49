import { expect, test } from 'vitest';
import { nextThatWay } from '../../src/client/map-travel.ts';

const everyPoint = (): boolean => true;

test.each([
  ['right', 0],
  ['left', 1],
  ['down', 2],
  ['up', 3],
] as const)('%s goes to the point that lies there', (direction, point) => {
  expect(nextThatWay(direction, 0, 0, [1, -1, 0, 0], [0, 0, 1, -1], everyPoint)).toBe(point);
});

test('what lies off the line counts twice: a point straight ahead goes before a nearer one aside', () => {
  // 1.4 straight ahead against 1 ahead and 0.3 aside (1.04 away as the crow flies, counted as 1.6).
  expect(nextThatWay('right', 0, 0, [1.4, 1], [0, 0.3], everyPoint)).toBe(0);
  expect(nextThatWay('right', 0, 0, [1.7, 1], [0, 0.3], everyPoint)).toBe(1);
});

test('only what is asked for, ahead, and within 45 degrees', () => {
  expect(nextThatWay('right', 0, 0, [1, 2], [0, 0], (point) => point === 1)).toBe(1);
  expect(nextThatWay('right', 0, 0, [-1, 0, 1], [0, 0, 1.01], everyPoint)).toBe(-1);
});
