import { afterAll, describe, expect, it } from 'vitest';
import { damage, readWhole, SEEDS } from '../fuzz/damaged-files.ts';
import { scratchFolder, seeded } from './bytes.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

const ROUNDS = 60;

describe('damaged files', () => {
  it.each(SEEDS)(
    `%s: ${ROUNDS} times cut or with flipped bits, only UnreadableAudio is thrown`,
    async (name, original) => {
      const random = seeded(name.length * 31 + original.length);
      let opened = 0;
      for (let round = 0; round < ROUNDS; round++) {
        const damaged = damage(original, random, round);
        const path = scratch.write('damaged', damaged);
        const outcome = await readWhole(path);
        expect(outcome === 'read' || outcome === 'refused', `round ${round}: ${outcome}`).toBe(true);
        if (outcome === 'read') opened++;
      }
      // Were every file refused, nothing behind the first header would have been tried.
      expect(opened).toBeGreaterThan(0);
    },
  );
});
