import { expect, test } from 'vitest';
import { readLink, Store, writeLink } from '../../src/client/state.ts';

test('the store tells those who listen to what changed, and nobody else', () => {
  const store = new Store();
  const told: string[] = [];
  store.on(['sound'], ({ sound }, before) => told.push(`sound ${before.sound} to ${sound}`));
  store.on(['typed', 'pieces'], ({ typed }) => told.push(`typed ${typed}`));
  store.set({ sound: 3 });
  store.set({ typed: 'gong', sound: 3 });
  store.set({ speed: 2 });
  store.set({ sound: 3, typed: 'gong' });
  expect(told).toEqual(['sound -1 to 3', 'typed gong']);
});

test.each([
  ['#map=0.5_0.25_0', null],
  ['#map=0.5_0.25_-3', null],
  ['#map=0.5_0.25_NaN', null],
  ['#map=0.5_0.25', null],
  ['#map=0.5_0.25_80', { x: 0.5, y: 0.25, scale: 80 }],
])('%s: a view of the map that cannot be shown is left out', (hash, view) => {
  expect(readLink(hash).mapView).toEqual(view);
});

test('a link carries the page and comes back as it was', () => {
  const link = readLink(
    '#q=gong%2C+dark&sound=abc&alike=a_b&speed=-12&also=-24_12&pane=sound&map=0.500_0.250_80.00&at=2.5',
  );
  expect(readLink(writeLink(link))).toEqual(link);
  expect(link).toMatchObject({ question: 'gong, dark', soundId: 'abc', speed: -12, pane: 'sound', atSeconds: 2.5 });
});
