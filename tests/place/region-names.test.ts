import { expect, test } from 'vitest';
import { seededRandom } from '../../scripts/place/layout.ts';
import { type NamedSound, namePlaces } from '../../scripts/place/region-names.ts';

test('a region is named by the words that set it apart, not by those found everywhere', () => {
  const random = seededRandom(5);
  const around = (x: number, y: number): { x: number; y: number } => ({ x: x + random() * 0.2, y: y + random() * 0.2 });
  const group = (x: number, y: number, tags: string[], words: string[]): NamedSound[] =>
    Array.from({ length: 20 }, () => ({
      position: around(x, y),
      tags: [...tags, 'recorded'],
      name: `${words.join(' ')}, the take 4`,
      session: 'Quay',
    }));
  const places = namePlaces([
    ...group(-1, -1, ['metal'], ['swipe']),
    ...group(1, -1, ['glass'], ['rubbed']),
    ...group(0, 1, ['water'], ['drip']),
  ]);
  const labels = places.map(({ label }) => label);
  for (const tag of ['metal', 'glass', 'water']) expect(labels.some((label) => label.startsWith(tag))).toBe(true);
  expect(labels.join(' ')).not.toMatch(/recorded|the|take/);
  const metal = places.find(({ label }) => label.startsWith('metal'));
  expect(metal?.x).toBeLessThan(-0.7);
  expect(metal?.y).toBeLessThan(-0.7);
});

test('few sounds have no places', () => {
  expect(namePlaces([])).toEqual([]);
  expect(namePlaces([{ position: { x: 0, y: 0 }, tags: ['metal'], name: 'gong', session: 'Quay' }])).toEqual([]);
});

test('a word names a region only where a quarter of its sounds carry it', () => {
  const random = seededRandom(6);
  const region = (x: number, carriers: number): NamedSound[] =>
    Array.from({ length: 20 }, (_, at) => ({
      position: { x: x + random() * 0.2, y: random() * 0.2 },
      tags: at < carriers ? ['creaking'] : [],
      name: `Audio ${at}`,
      session: 'Quay',
    }));
  expect(namePlaces([...region(-1, 5), ...region(1, 0)]).map(({ label }) => label)).toEqual(['creaking']);
  expect(namePlaces([...region(-1, 4), ...region(1, 0)]).map(({ label }) => label)).toEqual([]);
});
