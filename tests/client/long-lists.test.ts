/** Long links and long lists: read in time that grows with them, up to a limit that is said, and nothing half taken in. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { LONGEST_QUESTION, MOST_PIECES, parseQuery } from '../../shared/query/parse.ts';
import { KeptLists } from '../../src/client/kept-lists.ts';
import { mergePickUps, type PickUp } from '../../src/client/pick-up-list.ts';
import { MOST_SELECTS, merge, type Select } from '../../src/client/select-list.ts';
import { readLink } from '../../src/client/state.ts';

describe('a link of many kilobytes', () => {
  it.each(['metal ', 'x,', '2 bars, ', 'not dark ', '"a b" '])(
    'of %j is read up to its limit, and says where',
    (part) => {
      const text = part.repeat(3000);
      const { question } = readLink(`#${new URLSearchParams({ q: text })}`);
      const { chips, leftOffAt } = parseQuery(question);
      expect(chips).toHaveLength(MOST_PIECES);
      expect(leftOffAt).toBe(part.length * MOST_PIECES);
    },
  );

  it('holds up nothing where it is one long piece or none', () => {
    expect(parseQuery(' '.repeat(50_000)).chips).toEqual([]);
    expect(parseQuery('the '.repeat(5000)).leftOffAt).toBeLessThanOrEqual(LONGEST_QUESTION);
    expect(parseQuery('metal, under 2 s, dark').leftOffAt).toBeNull();
  });

  it('that names a sound and no id names none', () => {
    expect(readLink('#q=a&sound=').soundId).toBeNull();
  });

  it('asks alike from 24 sounds at most, each once', () => {
    const ids = Array.from({ length: 400 }, (_, i) => `id${i % 200}`);
    expect(readLink(`#alike=${ids.join('_')}`).alikeIds).toEqual(ids.slice(0, 24));
  });
});

const select = (id: string, over: Partial<Select> = {}): Select => ({
  id,
  name: 'Rope',
  session: 'Quay',
  file: 'Quay/1.wav',
  folder: 'archive',
  startSeconds: 0,
  durationSeconds: 2.5,
  heardSeconds: 2.5,
  semitones: 0,
  note: '',
  rights: null,
  ...over,
});

describe('long lists of selects', () => {
  it('join without each being compared with all', () => {
    let reads = 0;
    const incoming = Array.from({ length: 2000 }, (_, i) => ({
      ...select(''),
      get id() {
        reads++;
        return `s${i}`;
      },
    }));
    expect(merge([select('s5', { note: 'mine' })], incoming)).toHaveLength(2000);
    expect(reads).toBeLessThan(10 * incoming.length);
    const wishes = Array.from(
      { length: 2000 },
      (_, i) => ({ id: `p${i}`, wish: `wish ${i % 1500}`, shape: '', note: '' }) as PickUp,
    );
    expect(mergePickUps([], wishes)).toHaveLength(1500);
  });

  const kept = new Map<string, string>();
  let room = Number.POSITIVE_INFINITY;
  beforeEach(() => {
    kept.clear();
    room = Number.POSITIVE_INFINITY;
    vi.stubGlobal('window', { addEventListener: () => undefined });
    vi.stubGlobal('localStorage', {
      getItem: (key: string) => kept.get(key) ?? null,
      setItem(key: string, value: string) {
        if (value.length > room) throw new DOMException('full', 'QuotaExceededError');
        kept.set(key, value);
      },
    });
  });
  afterEach(() => vi.unstubAllGlobals());

  it('are taken in whole up to the limit, and beyond it not at all, which is said', () => {
    const lists = new KeptLists();
    lists.change({ selects: [select('own')] });
    const many = (count: number) => Array.from({ length: count }, (_, i) => select(`s${i}`));
    expect(() => lists.add({ selects: many(MOST_SELECTS), pickUps: [] })).toThrow(
      `Nothing was brought in: there would be ${MOST_SELECTS + 1} selects, and this page keeps ${MOST_SELECTS} at most.`,
    );
    expect(lists.get().selects).toHaveLength(1);
    lists.add({ selects: many(MOST_SELECTS - 1), pickUps: [] });
    expect(new KeptLists().get().selects).toHaveLength(MOST_SELECTS);
  });

  it('change nothing where the browser has no room, and say so', () => {
    const lists = new KeptLists();
    lists.change({ selects: [select('own')] });
    const before = [...kept];
    room = 1000;
    expect(() => lists.add({ selects: Array.from({ length: 50 }, (_, i) => select(`s${i}`)), pickUps: [] })).toThrow(
      /no room to keep it/,
    );
    expect(lists.get().selects).toHaveLength(1);
    expect([...kept]).toEqual(before);
    expect(lists.kept).toBe(true);
  });
});
