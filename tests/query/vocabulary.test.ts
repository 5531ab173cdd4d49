import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { tokenise } from '../../shared/query/tokens.ts';
import { readVocabulary, synonymsOf } from '../../shared/query/vocabulary.ts';

const house = readVocabulary(
  parse(readFileSync(new URL('../../catalogue/vocabulary.yaml', import.meta.url), 'utf8')) as unknown,
);

const answersTo = (asked: string) =>
  (synonymsOf(house).get(tokenise(asked).join(' ')) ?? []).map(({ tokens }) => tokens.join(' '));

describe('the house vocabulary', () => {
  test('has all three sections, and no word stands twice in one group', () => {
    expect(house.alike.length).toBeGreaterThan(20);
    expect(Object.keys(house.kinds)).toContain('metal');
    expect(Object.keys(house.tags)).toContain('material');
    for (const group of [...house.alike, ...Object.values(house.kinds), ...Object.values(house.tags)]) {
      const folded = group.map((word) => tokenise(word).join(' '));
      expect(folded.filter((word, at) => folded.indexOf(word) !== at)).toEqual([]);
    }
  });

  test('a general word takes in the particular ones and what they are also called, never the reverse', () => {
    expect(answersTo('metal')).toContain('gong');
    // "tamtam" means the same as "tam-tam", which is a kind of metal.
    expect(answersTo('metal')).toContain('tamtam');
    expect(answersTo('gong')).not.toContain('metal');
    // A kind of a kind: percussion takes in drums, drums take in timpani, and timpani are also kettledrums.
    expect(answersTo('percussion')).toContain('kettledrum');
  });

  test.each([
    [[], 'must be a list of sections'],
    [{ synonyms: [] }, 'section "synonyms"'],
    [{ alike: 'gong' }, '"alike" must be a list'],
    [{ alike: [['gong', null]] }, 'group 1 of "alike"'],
    [{ kinds: ['metal'] }, '"kinds" must hold names'],
    [{ tags: { material: 'metal' } }, '"material" of "tags"'],
  ])('says what is wrong with %j', (data, words) => {
    expect(() => readVocabulary(data)).toThrow(words);
  });

  test('an empty file is an empty vocabulary', () => {
    expect(readVocabulary(null)).toEqual({ alike: [], kinds: {}, tags: {} });
  });
});
