/** One main accent: whoever draws it, asks for it, puts it on the beat or names it means the same moment. */
import { expect, test } from 'vitest';
import { lesserAccents, mainAccent, mainAccentColumns } from '../../shared/main-accent.ts';
import { fitMusically } from '../../shared/query/musical.ts';
import { parseQuery } from '../../shared/query/parse.ts';
import { rankSounds } from '../../shared/query/rank.ts';
import { NO_VOCABULARY } from '../../shared/query/vocabulary.ts';
import { buildWordIndex } from '../../shared/query/words.ts';
import { seconds as formatted } from '../../src/client/format.ts';
import { Shapes } from '../../src/client/shapes.ts';
import { Random } from '../measure/random.ts';
import { soundsOf } from '../query/named-sounds.ts';
import { shelfOf } from './invented-sounds.ts';

/** Accents of any strength, the climax on one of them or on none: often not on the strongest. */
const random = new Random(9);
const sounds = soundsOf(
  Array.from({ length: 120 }, () => {
    const durationSeconds = random.between(1, 6);
    const accents = Array.from({ length: random.whole(0, 9) }, (_, n) => ({
      seconds: (durationSeconds * (n + random.between(0.2, 0.8))) / 10,
      strengthDb: random.between(4, 40),
    }));
    const struck = accents.length > 0 && random.chance(0.7);
    const climaxSeconds = struck ? random.pick(accents).seconds : durationSeconds * random.between(0.92, 0.99);
    return { durationSeconds, activeStartSeconds: 0, activeSeconds: durationSeconds, climaxSeconds, accents };
  }),
);
const shelf = shelfOf(sounds);
const shapes = new Shapes(shelf);
const index = buildWordIndex(shelf, NO_VOCABULARY);

test('the largest wedge, the question, the place on the beat and the name agree', () => {
  const columns = mainAccentColumns(shelf);
  sounds.forEach((sound, at) => {
    const main = mainAccent(sound);
    const named = shapes.mainAccent(at);
    expect(main?.seconds).toBe(sound.climaxSeconds);
    const seconds = named?.seconds ?? Number.NaN;
    expect(seconds).toBeCloseTo(main?.seconds ?? Number.NaN, 4);
    expect(named?.strikes).toBe(main?.strikes);
    expect(columns.seconds(at)).toBeCloseTo(seconds, 4);
    expect(columns.strikes(at)).toBe(named?.strikes);
    expect((shapes.of(at).accents?.[0] ?? Number.NaN) * sound.durationSeconds).toBeCloseTo(seconds, 3);
    expect(shapes.spoken(at)).toContain(formatted(seconds));
    const target = { seconds, part: 'accent' as const, tempo: null, metre: null };
    expect(fitMusically({ ...sound, pitchHz: null }, target)?.missSeconds).toBeCloseTo(0, 4);
  });
});

test('a question for the main accent is answered by it, and says when it does not strike', () => {
  sounds.forEach((sound, at) => {
    const question = parseQuery(`accent at ${sound.climaxSeconds?.toFixed(4)} s`);
    const [reason] = rankSounds(shelf, index, question).reasons(at);
    expect(reason.text).toBe(mainAccent(sound)?.strikes ? 'accent +0 ms' : 'loudest moment +0 ms');
  });
});

test('lesser accents are all the others', () => {
  for (const sound of sounds) {
    const main = mainAccent(sound);
    expect(lesserAccents(sound)).toHaveLength(sound.accents.length - (main?.strikes ? 1 : 0));
  }
});

test('silence has none', () => {
  expect(mainAccent({ climaxSeconds: null, accents: [] })).toBeNull();
});
