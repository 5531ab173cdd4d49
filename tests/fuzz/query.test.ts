import { expect, test, vi } from 'vitest';
import { LONGEST_QUESTION, parseQuery } from '../../shared/query/parse.ts';
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

test('of a question without end only its limit is read: ten times the text is no more work', () => {
  // Patterns tried, which is what reading costs.
  const tried = (text: string): number => {
    const exec = vi.spyOn(RegExp.prototype, 'exec');
    parseQuery(text);
    const { length } = exec.mock.calls;
    exec.mockRestore();
    return length;
  };
  for (const part of ['"', '1', 'a ', '(', '2 bars ', 'accent ', '-', 'not ', '1:1', '7/']) {
    const text = part.repeat(LONGEST_QUESTION);
    expect([part, tried(text.repeat(10)) <= 1.5 * tried(text) + 1000]).toEqual([part, true]);
  }
});
