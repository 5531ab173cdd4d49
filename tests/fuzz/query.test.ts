import { expect, test } from 'vitest';
import { parseQuery } from '../../shared/query/parse.ts';
import { Random } from '../measure/random.ts';
import { CONTEXTS, fault, randomText } from './questions.ts';

test('100,000 random and mangled questions: no exception, and every chip writes back to the same chip', () => {
  const random = new Random(20);
  const faults: string[] = [];
  let chips = 0;
  for (let i = 0; i < 100_000 && faults.length < 10; i++) {
    const text = randomText(random);
    const context = random.pick(CONTEXTS);
    for (const chip of parseQuery(text, context).chips) {
      chips++;
      const found = fault(chip, text, context);
      if (found) faults.push(`${JSON.stringify(text)}: ${chip.kind}: ${found}`);
    }
  }
  expect(faults).toEqual([]);
  expect(chips).toBeGreaterThan(200_000);
}, 60_000);

test('very long questions are read in time that grows with their length', () => {
  const time = (text: string) => {
    const start = performance.now();
    parseQuery(text);
    return performance.now() - start;
  };
  for (const part of ['"', '1', 'a ', '(', '2 bars ', 'accent ', '-', 'not ', '\u0301', '1:1', '7/']) {
    time(part.repeat(500));
    expect([part, time(part.repeat(20_000)) < 3000]).toEqual([part, true]);
  }
});
