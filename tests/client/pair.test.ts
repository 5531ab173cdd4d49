import { expect, test } from 'vitest';
import { Pair } from '../../src/client/context/pair.ts';
import { letterOf, otherOf } from '../../src/client/context/settings.ts';
import { Store } from '../../src/client/state.ts';

test('the other take is the one before, or the one kept; a kept take is never its own other', () => {
  const store = new Store();
  const pair = new Pair(store);
  for (const sound of [4, 7]) store.set({ sound });
  expect(pair.other).toBe(4);
  expect(pair.keep()).toBe(true);
  // 7 is kept and in hand: its other is the take before, not 7 itself.
  expect(pair.other).toBe(4);
  store.set({ sound: 9 });
  expect(pair.other).toBe(7);
  pair.swap();
  expect(store.get().sound).toBe(7);
  expect(pair.other).toBe(9);
  expect(letterOf(store.get().pair, 7)).toBe('A');
  expect(letterOf(store.get().pair, 9)).toBe('B');
});

test('a take alone has no other', () => {
  expect(otherOf({ previous: -1, first: -1, kept: -1, comparing: false }, 3)).toBe(-1);
  expect(otherOf({ previous: 3, first: 3, kept: 3, comparing: false }, 3)).toBe(-1);
});
