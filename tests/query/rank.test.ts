import { describe, expect, test } from 'vitest';
import { parseQuery } from '../../shared/query/parse.ts';
import { type RankOptions, rankSounds } from '../../shared/query/rank.ts';
import { NO_VOCABULARY, type Vocabulary } from '../../shared/query/vocabulary.ts';
import { buildWordIndex } from '../../shared/query/words.ts';
import type { Shelf } from '../../shared/shelf.ts';
import { PROFILE_BANDS, type Sound } from '../../shared/sound.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';
import { shelfOfNamed } from './named-sounds.ts';

function ask(shelf: Shelf, question: string, options: RankOptions = {}, vocabulary: Vocabulary = NO_VOCABULARY) {
  const ranking = rankSounds(shelf, buildWordIndex(shelf, vocabulary), parseQuery(question), options);
  const names = [...ranking.order].map((sound) => shelf.text('name', sound));
  const why = (name: string) =>
    ranking
      .reasons([...ranking.order].find((sound) => shelf.text('name', sound) === name) ?? -1)
      .map(({ text }) => text);
  return { ...ranking, names, why };
}

const names = (stated: readonly Partial<Sound>[], question: string, options?: RankOptions) =>
  ask(shelfOfNamed(stated), question, options).names;

describe('a composer asks for a metal swipe of two bars at 84, accent on the downbeat, dark', () => {
  // Two bars at 84 are 8 * 60 / 84 = 5.714 s.
  const shelf = shelfOfNamed([
    {
      name: 'metal swipe exact',
      climaxSeconds: 5.716,
      durationSeconds: 9,
      activeSeconds: 8.8,
      activeStartSeconds: 0,
      centroidHz: 300,
    },
    {
      name: 'metal swipe bright',
      climaxSeconds: 5.714,
      durationSeconds: 9,
      activeSeconds: 8.8,
      activeStartSeconds: 0,
      centroidHz: 9000,
    },
    {
      name: 'metal swipe early',
      climaxSeconds: 5.0,
      durationSeconds: 9,
      activeSeconds: 8.8,
      activeStartSeconds: 0,
      centroidHz: 250,
    },
    {
      name: 'metal swipe short',
      climaxSeconds: 1.2,
      durationSeconds: 2,
      activeSeconds: 1.9,
      activeStartSeconds: 0,
      centroidHz: 200,
    },
    {
      name: 'wood swipe',
      climaxSeconds: 5.714,
      durationSeconds: 9,
      activeSeconds: 8.8,
      activeStartSeconds: 0,
      centroidHz: 200,
    },
    {
      name: 'metal swipe with silent head',
      climaxSeconds: 6.22,
      durationSeconds: 9,
      activeSeconds: 8.4,
      activeStartSeconds: 0.5,
      centroidHz: 320,
    },
    {
      name: 'metal scrape',
      climaxSeconds: 5.714,
      durationSeconds: 6,
      activeSeconds: 5.9,
      activeStartSeconds: 0,
      centroidHz: 350,
    },
    {
      name: 'voice',
      climaxSeconds: 0.2,
      durationSeconds: 1,
      activeSeconds: 1,
      activeStartSeconds: 0,
      centroidHz: 2500,
    },
    {
      name: 'whistle',
      climaxSeconds: 0.2,
      durationSeconds: 1,
      activeSeconds: 1,
      activeStartSeconds: 0,
      centroidHz: 4000,
    },
  ]);
  const answer = ask(shelf, 'metal swipe, two bars at 84, accent landing on the next downbeat, dark');

  test('gets the takes that fit by how far they miss, whatever silence lies before them, then the one to be bent', () => {
    // Bright, short, wooden and scraped takes fail a plain condition and are not listed at all.
    expect(answer.names).toEqual(['metal swipe exact', 'metal swipe with silent head', 'metal swipe early']);
    expect(answer.weak).toBe(false);
  });

  test('is told why', () => {
    // 300 Hz lies below five of nine and half of itself: 5.5 / 9.
    expect(answer.why('metal swipe exact')).toEqual(['name: metal', 'name: swipe', 'accent +2 ms', 'darker than 61 %']);
    expect(answer.why('metal swipe with silent head')[2]).toBe('accent +6 ms');
    // 12 log2(5 / 5.714) = -2.31 semitones make 5 s last 5.714 s.
    expect(answer.why('metal swipe early')[2]).toBe('accent -714 ms (exact at -2.31 st)');
  });

  test('without the accent it is the length that must fit, and the sounding part may', () => {
    const { names: found } = ask(shelf, 'two bars at 84');
    expect(found).toEqual(['metal scrape']);
  });

  test('when nothing fits, the near ones are marked as such', () => {
    expect(ask(shelf, 'metal swipe, accent at 5.3 s').weak).toBe(true);
    expect(ask(shelf, 'metal swipe, accent at 3 s')).toMatchObject({ found: 0, weak: true });
  });
});

describe('lengths', () => {
  const lengths = (seconds: readonly number[]): Partial<Sound>[] =>
    seconds.map((durationSeconds) => ({ name: `${durationSeconds}`, durationSeconds, activeSeconds: durationSeconds }));

  test('exact lengths come by how far they miss, and nothing absurd comes at all', () => {
    expect(names(lengths([0.5, 2.9, 3, 3.05, 3.3, 4, 6]), '3 s')).toEqual(['3', '3.05', '2.9', '3.3']);
    // 3 s misses 4 s by a quarter, which is worth showing after those that fit.
    expect(names(lengths([0.5, 2, 3, 4.04]), '4 s or 2 s')).toEqual(['2', '4.04', '3']);
    expect(names(lengths([0.5, 2, 2.9, 3, 3.25, 4, 6]), 'about 3 s')).toEqual(['3', '2.9', '3.25', '2', '4']);
  });

  test('limits go by the length that is heard', () => {
    const some = lengths([0.5, 2, 2.2, 4]);
    expect(names(some, 'under 2 s')).toEqual(['0.5', '2']);
    expect(names(some, 'over 2.2 s')).toEqual(['2.2', '4']);
    expect(names(some, '2-3 s')).toEqual(['2', '2.2']);
    expect(names(some, 'not under 2.1 s')).toEqual(['2.2', '4']);
    // Stillness after it makes it no longer, and a head of room tone lets nothing last that does not sound.
    expect(names([{ name: 'in a long file', durationSeconds: 5, activeSeconds: 1 }], 'under 2 s')).toHaveLength(1);
    expect(names([{ name: 'in a long file', durationSeconds: 5, activeSeconds: 1 }], 'over 2 s')).toEqual([]);
  });

  test('what is heard has the length asked for before what reaches it by counting silence', () => {
    const shelf = shelfOfNamed([
      // Its file is 4 s long to the sample: 0.4 s of room tone, then 3.6 s of sound.
      { name: 'silence counted', durationSeconds: 4, activeStartSeconds: 0.4, activeSeconds: 3.6 },
      { name: 'heard', durationSeconds: 9, activeStartSeconds: 1.5, activeSeconds: 4.05 },
    ]);
    for (const question of ['2 bars at 120', '4 s', 'about 4 s']) {
      const answer = ask(shelf, question);
      expect(answer.names, question).toEqual(['heard', 'silence counted']);
      expect(answer.why('heard')).toEqual(['4.05 s long, +50 ms']);
    }
    expect(ask(shelf, '2 bars at 120').why('silence counted')).toEqual(['3.6 s long, -400 ms (exact at -1.82 st)']);
  });

  test('short and long go by what is heard', () => {
    const some: Partial<Sound>[] = [
      // Its file is the longest.
      { name: 'knock in a long file', durationSeconds: 20, activeSeconds: 0.3 },
      { name: 'bell', durationSeconds: 6, activeSeconds: 5 },
      { name: 'bow', durationSeconds: 9, activeSeconds: 9 },
    ];
    expect(names(some, 'short')[0]).toBe('knock in a long file');
    expect(names(some, 'long')[0]).toBe('bow');
  });
});

describe('accents', () => {
  const at = (name: string, climaxSeconds: number, more: Partial<Sound> = {}): Partial<Sound> => ({
    name,
    durationSeconds: 4,
    activeStartSeconds: 0,
    activeSeconds: 4,
    climaxSeconds,
    ...more,
  });

  test('come after what is heard, not after the silence before it', () => {
    const some = [
      at('silence counted', 1.5, { activeStartSeconds: 0.4, activeSeconds: 3.6 }),
      at('heard', 2.52, { activeStartSeconds: 1, activeSeconds: 3 }),
    ];
    expect(names(some, 'accent at 1.5 s')).toEqual(['heard', 'silence counted']);
  });

  test('by share of the sounding length', () => {
    const some = [at('start', 0.05), at('middle', 2), at('end', 3.95)];
    expect(names(some, 'accent at start')).toEqual(['start']);
    expect(names(some, 'accent in the middle')).toEqual(['middle']);
    expect(names(some, 'accent at the end')).toEqual(['end']);
  });

  test('on a beat: the main accent before a lesser one, an accent before a mere loudest moment', () => {
    const shelf = shelfOfNamed([
      at('loudest', 1, { accents: [] }),
      at('lesser', 3, {
        accents: [
          { seconds: 1, strengthDb: 6 },
          { seconds: 3, strengthDb: 20 },
        ],
      }),
      at('main', 1.001),
      at('elsewhere', 3),
    ]);
    // Beat 3 at 120 falls after two beats: 1 s.
    const answer = ask(shelf, 'accent on beat 3 at 120');
    expect(answer.names[0]).toBe('main');
    expect([...answer.names].sort()).toEqual(['lesser', 'loudest', 'main']);
    expect(answer.why('main')).toEqual(['accent +1 ms']);
    expect(answer.why('lesser')).toEqual(['lesser accent +0 ms']);
    expect(answer.why('loudest')).toEqual(['loudest moment +0 ms']);
  });

  test('on any downbeat once there is a tempo', () => {
    const shelf = shelfOfNamed([at('on bar 2', 2), at('between', 3), at('on bar 3, late', 4.03)]);
    const answer = ask(shelf, 'accent on downbeat at 120');
    expect(answer.names).toEqual(['on bar 2', 'on bar 3, late']);
    expect(answer.why('on bar 3, late')).toEqual(['accent +30 ms on the downbeat of bar 3']);
  });

  test('no accent, no place in the list', () => {
    expect(names([at('silent', 1, { climaxSeconds: null, accents: [] })], 'accent at 1 s')).toEqual([]);
  });
});

describe('words', () => {
  test('every word must match; a name weighs more than a tag, a tag more than notes', () => {
    const some: Partial<Sound>[] = [
      { name: 'a', description: 'metal gong' },
      { name: 'b metal gong' },
      { name: 'c', tags: ['metal', 'gong'] },
      { name: 'd metal' },
    ];
    expect(names(some, 'gong metal')).toEqual(['b metal gong', 'c', 'a']);
  });

  test('a slip is found and said to be one', () => {
    const answer = ask(shelfOfNamed([{ name: 'cymbal' }]), 'cymabl');
    expect(answer.why('cymbal')).toEqual(['name: cymbal, for cymabl']);
    expect(answer.weak).toBe(true);
  });

  test('synonyms say what they stand for', () => {
    const vocabulary: Vocabulary = { alike: [['swipe', 'whoosh']], kinds: { metal: ['gong'] }, tags: {} };
    const answer = ask(shelfOfNamed([{ name: 'gong whoosh' }]), 'metal swipe', {}, vocabulary);
    expect(answer.why('gong whoosh')).toEqual(['name: gong, a kind of metal', 'name: whoosh, like swipe']);
    expect(answer.weak).toBe(false);
  });

  test('not leaves out the word itself, not what merely begins with it', () => {
    const some: Partial<Sound>[] = [{ name: 'wood' }, { name: 'woodwind' }, { name: 'gong' }];
    expect(names(some, 'not wood')).toEqual(['gong', 'woodwind']);
  });

  test('sessions, tags, rights and formats answer by their own field only, several of one kind as either', () => {
    const some: Partial<Sound>[] = [
      { name: 'a', session: 'Boathouse', tags: ['metal'], rights: 'cleared', format: 'FLAC' },
      { name: 'b in boathouse', session: 'Quay', format: 'Ogg Vorbis' },
      { name: 'c', session: 'Mill', format: 'WAV' },
    ];
    expect(names(some, 'in Boathouse')).toEqual(['a']);
    expect(names(some, 'in boathouse or in quay')).toEqual(['a', 'b in boathouse']);
    expect(names(some, 'in boathouse, in quay')).toEqual(['a', 'b in boathouse']);
    expect(names(some, 'tagged metal')).toEqual(['a']);
    expect(names(some, 'untagged')).toEqual(['c', 'b in boathouse']);
    expect(names(some, 'rights cleared')).toEqual(['a']);
    expect(names(some, 'rights missing')).toEqual(['c', 'b in boathouse']);
    expect(names(some, 'flac, ogg')).toEqual(['a', 'b in boathouse']);
    expect(names(some, 'not in boathouse')).toEqual(['c', 'b in boathouse']);
  });

  test('fresh and used, where it is known', () => {
    const some: Partial<Sound>[] = [{ name: 'a' }, { name: 'b' }];
    expect(names(some, 'fresh', { used: Uint8Array.of(1, 0) })).toEqual(['b']);
    expect(names(some, 'used', { used: Uint8Array.of(1, 0) })).toEqual(['a']);
    expect(names(some, 'used')).toEqual(['a', 'b']);
  });

  test('nothing asked: all sounds by session and name, figures by value', () => {
    const some: Partial<Sound>[] = [
      { name: 'take 10', session: 'B' },
      { name: 'take 2', session: 'B' },
      { name: 'Zither', session: 'A' },
      { name: 'étude', session: 'A' },
    ];
    expect(names(some, '')).toEqual(['étude', 'Zither', 'take 2', 'take 10']);
    expect(names(some, 'at 84 in 7/8')).toEqual(['étude', 'Zither', 'take 2', 'take 10']);
  });
});

describe('the sound itself', () => {
  test('a gesture answers by measurement first, by name after', () => {
    const some: Partial<Sound>[] = [
      { name: 'hit in name only', gesture: 'drone' },
      { name: 'measured', gesture: 'hit' },
      { name: 'hit in both', gesture: 'hit' },
      { name: 'white', gesture: 'swell' },
    ];
    expect(names(some, 'hits')).toEqual(['hit in both', 'measured', 'hit in name only']);
    expect(names(some, 'no hits')).toEqual(['white']);
    expect(names(some, 'hits and swells')).toEqual(['hit in both', 'measured', 'white', 'hit in name only']);
  });

  test('colours go by standing in this archive, shade off at the middle, and say so', () => {
    const some = [100, 200, 400, 800, 1600, 3200].map((centroidHz) => ({ name: `${centroidHz} Hz`, centroidHz }));
    const shelf = shelfOfNamed([...some, { name: 'unmeasured' }]);
    const answer = ask(shelf, 'dark');
    expect(answer.names).toEqual(['100 Hz', '200 Hz', '400 Hz']);
    // 100 Hz lies below five and a half of six, counting half of itself.
    expect(answer.why('100 Hz')).toEqual(['darker than 92 %']);
    expect(ask(shelf, 'not dark').names).toEqual(['400 Hz', '800 Hz', '1600 Hz', '3200 Hz', 'unmeasured']);
  });

  test('pitched, mono and their opposites', () => {
    const some: Partial<Sound>[] = [
      { name: 'pitched', pitchHz: 220, stereoWidth: 0.4 },
      { name: 'hiss', channels: 1 },
      { name: 'both sides the same', stereoWidth: 0 },
    ];
    expect(names(some, 'pitched')).toEqual(['pitched']);
    expect(names(some, 'unpitched')).toEqual(['both sides the same', 'hiss']);
    expect(names(some, 'mono')).toEqual(['both sides the same', 'hiss']);
    expect(names(some, 'stereo')).toEqual(['pitched']);
  });

  test('notes by cents, in any octave where none is said; a name tells the note of what has no pitch', () => {
    const shelf = shelfOfNamed([
      { name: 'low C', pitchHz: 65.4 },
      { name: 'high C', pitchHz: 523.25 },
      { name: 'D', pitchHz: 73.42 },
      { name: 'thump C2' },
    ]);
    expect(ask(shelf, 'C2').names).toEqual(['low C', 'thump C2']);
    expect(ask(shelf, 'near C2').names).toEqual(['low C', 'thump C2', 'D']);
    expect(ask(shelf, 'note C').names).toEqual(['high C', 'low C']);
    // C2 is 65.406 Hz; 65.4 Hz lies 0.17 cents below.
    expect(ask(shelf, 'C2').why('low C')).toEqual(['C2, 65.4 Hz, +0 cents']);
    expect(ask(shelf, 'C2').why('thump C2')).toEqual(['name: c2']);
  });

  test('pulses in the tempo come first, at half and double the tempo too', () => {
    const some = [60, 84, 100, 168].map(
      (pulseBpm): Partial<Sound> => ({ name: `${pulseBpm}`, pulseBpm, gesture: 'pulse' }),
    );
    expect(names(some, 'pulses at 84').slice(0, 2).sort()).toEqual(['168', '84']);
    expect(names(some, 'pulses at 84')).toHaveLength(4);
  });
});

describe('varispeed', () => {
  const shelf = shelfOfNamed([
    { name: 'small bell', durationSeconds: 1, activeSeconds: 1, pitchHz: 880, centroidHz: 4000 },
    { name: 'big bell', durationSeconds: 4.01, activeSeconds: 4.01, pitchHz: 220, centroidHz: 1000 },
  ]);

  test('two octaves down a small bright bell is a big dark one', () => {
    const answer = ask(shelf, 'two octaves down, 4 s, near A3');
    expect(answer.names).toEqual(['small bell']);
    expect(answer.semitones).toBe(-24);
    expect(answer.why('small bell')).toEqual(['at -24 st', '4 s long, +0 ms', 'A3, 220 Hz, +0 cents']);
  });

  test('further shifts answer where nothing fits as recorded, and after what does', () => {
    const answer = ask(shelf, '4 s', { alsoAtSemitones: [-12, -24] });
    expect(answer.names).toEqual(['big bell', 'small bell']);
    expect([...answer.order].map(answer.semitonesOf)).toEqual([0, -24]);
    expect(ask(shelf, 'bell', { alsoAtSemitones: [-12, -24] }).semitonesOf(0)).toBe(0);
  });

  const OCTAVES = { alsoAtSemitones: [-24, -12, 12] };
  /** A spectrum of one band, and the centroid that goes with it; band 0 is 27.5 Hz. */
  const coloured = (name: string, band: number, more: Partial<Sound> = {}): Partial<Sound> => ({
    name,
    centroidHz: 27.5 * 2 ** (band / 12),
    profile: Array.from({ length: PROFILE_BANDS }, (_, at) => (at === band ? 0 : -80)),
    ...more,
  });

  test('a small bright bell is a big dark one, and the list says at which speed', () => {
    const shelf = shelfOfNamed([
      coloured('small bell', 84, { durationSeconds: 2, activeSeconds: 2, decaySeconds: 1 }),
      coloured('big bell', 50, { durationSeconds: 8, activeSeconds: 8, decaySeconds: 4 }),
      coloured('bell in a box', 80, { durationSeconds: 1, activeSeconds: 1, decaySeconds: 0.1 }),
      coloured('gong', 48, { durationSeconds: 8, activeSeconds: 8 }),
      ...[90, 92, 94, 96].map((band) => coloured(`whistle ${band}`, band)),
    ]);
    const answer = ask(shelf, 'bell, dark, 8 s', OCTAVES);
    // Both last 8 s: the one as it is, the other played at a quarter of its speed. A second becomes no more than four.
    expect(answer.names).toEqual(['big bell', 'small bell']);
    // Band 84 becomes band 60: two of eight lie below it.
    expect(answer.why('small bell')).toEqual(['at -24 st', 'name: bell', 'darker than 75 %', '8 s long, +0 ms']);
    expect(answer.why('big bell')[0]).toBe('name: bell');
    expect([...answer.order].map(answer.semitonesOf)).toEqual([0, -24]);
  });

  test('every question about time, note and colour is answered as it would sound', () => {
    const shelf = shelfOfNamed([
      {
        name: 'clang',
        durationSeconds: 2,
        activeStartSeconds: 0,
        activeSeconds: 2,
        climaxSeconds: 1.5,
        accents: [{ seconds: 1.5, strengthDb: 20 }],
        pitchHz: 440,
        pulseBpm: 120,
        tremoloHz: 5,
        gesture: 'pulse',
      },
    ]);
    const at = (question: string) => {
      const { order, semitonesOf } = ask(shelf, question, OCTAVES);
      return order.length === 0 ? null : semitonesOf(order[0]);
    };
    expect(at('8 s')).toBe(-24);
    expect(at('3-5 s')).toBe(-12);
    expect(at('under 1.5 s')).toBe(12);
    expect(at('over 5 s')).toBe(-24);
    // Two bars at 80 are 6 s: the accent of 1.5 s, at a quarter of the speed.
    expect(at('2 bars at 80, accent at end')).toBe(-24);
    expect(at('accent at 3 s')).toBe(-12);
    // A quarter of the speed makes 8 s, 7.2 s need 12 log2 (8 / 7.2) = 1.82 semitones less slowing.
    expect(ask(shelf, '7.2 s', OCTAVES).why('clang')).toEqual(['at -24 st', '8 s long, +800 ms (exact at -22.18 st)']);
    expect(at('A5')).toBe(12);
    expect(at('A2')).toBe(-24);
    expect(at('around 219 Hz')).toBe(-12);
    // Octaves of a tempo go with it, so that no octave of the sound brings another one.
    expect(at('pulses at 120')).toBe(0);
    expect(
      ask(shelf, 'pulses at 160', { alsoAtSemitones: [5] })
        .why('clang')
        .slice(0, 1),
    ).toEqual(['at +5 st']);
    // No speed makes a swell of a pulse.
    expect(at('swells')).toBe(null);
    expect(at('clang')).toBe(0);
  });

  test('dry and ringing go by the decay at that speed; what cannot be told goes by the recording and says so', () => {
    const shelf = shelfOfNamed(
      [0.1, 0.2, 0.3, 0.4, 0.5, 0.6].map((decaySeconds) => ({
        name: `${decaySeconds}`,
        decaySeconds,
        roughness: decaySeconds,
      })),
    );
    const ringing = ask(shelf, 'ringing', { alsoAtSemitones: [-12] });
    // As recorded the upper half answers; at half speed 0.2 s becomes 0.4 and so on, and 0.1 s is still among the shortest.
    expect(ringing.names).toEqual(['0.6', '0.5', '0.4', '0.3', '0.2']);
    expect(ringing.why('0.2')).toEqual(['at -12 st', 'longer ringing than 58 %']);
    const rough = ask(shelf, '12 st down, rough');
    expect(rough.why('0.6')).toEqual(['at -12 st', 'rougher than 92 % as recorded']);
  });

  test('a name tells of the recording, not of what varispeed makes of it', () => {
    const shelf = shelfOfNamed([
      coloured('bright pipe', 90),
      ...[70, 72, 74, 76, 78].map((band) => coloured(`log ${band}`, band)),
    ]);
    expect(ask(shelf, 'bright').names[0]).toBe('bright pipe');
    expect(ask(shelf, 'two octaves down, bright').names).not.toContain('bright pipe');
    const named = shelfOfNamed([{ name: 'thump C3' }]);
    expect(ask(named, 'C2, one octave down').names).toEqual(['thump C3']);
    expect(ask(named, 'C2, 11.5 st down').names).toEqual([]);
  });

  test('asking at several speeds finds what asking at each of them finds, as recorded first', () => {
    const sounds = inventSounds(300, 8);
    const shelf = shelfOf(sounds);
    const index = buildWordIndex(shelf, NO_VOCABULARY);
    const alsoAtSemitones = [-24, -12, -7, 12];
    for (const text of [
      'dark 4 s',
      'near A3',
      'struck, 2 bars at 90, accent at end',
      'hits under 2 s, ringing',
      'not dark, 1 s',
    ]) {
      const query = parseQuery(text);
      const together = rankSounds(shelf, index, query, { alsoAtSemitones });
      const alone = [0, ...alsoAtSemitones].map((semitones) => rankSounds(shelf, index, query, { semitones }));
      const foundBy = new Map(alone.map((ranking) => [ranking.semitones, new Set(ranking.order)]));
      expect([...together.order].sort()).toEqual([...new Set(alone.flatMap(({ order }) => [...order]))].sort());
      const fits = (sound: number) => alone[0].reasons(sound).every((reason) => reason.fits);
      for (const sound of together.order) {
        const semitones = together.semitonesOf(sound);
        expect(foundBy.get(semitones)?.has(sound)).toBe(true);
        if (foundBy.get(0)?.has(sound) && fits(sound)) expect(semitones).toBe(0);
      }
      const places = [...together.order].map((sound) => together.semitonesOf(sound) === 0 && fits(sound));
      // What fits as recorded comes in one row before everything else.
      expect(places.lastIndexOf(true)).toBe(places.filter(Boolean).length - 1);
    }
  });
});

describe('every list', () => {
  const sounds = inventSounds(400, 3);
  const shelf = shelfOf(sounds);
  const index = buildWordIndex(shelf, NO_VOCABULARY);
  const QUESTIONS = [
    'struck',
    'chain 2 s',
    'dark rough',
    'accent at 1 s',
    'glass not dark',
    'hits under 3 s',
    'near A3 drone',
    'accent at end, 2 bars at 90',
  ];

  test('holds no sound twice, gives each at least one reason, and is the same every time', () => {
    for (const question of QUESTIONS) {
      const first = rankSounds(shelf, index, parseQuery(question));
      expect(new Set(first.order).size).toBe(first.found);
      for (const sound of first.order) expect(first.reasons(sound).length).toBeGreaterThan(0);
      expect([...rankSounds(shelf, index, parseQuery(question)).order]).toEqual([...first.order]);
      for (const { text } of [...first.order].flatMap(first.reasons))
        expect(text).not.toMatch(/NaN|Infinity|undefined|null/);
    }
  });

  test('does not depend on the order of words in the question', () => {
    const [a, b] = ['dark chain struck 2 s', '2 s struck dark chain'].map((text) =>
      rankSounds(shelf, index, parseQuery(text)),
    );
    expect([...a.order]).toEqual([...b.order]);
  });

  test('asking for more finds no more', () => {
    for (const question of QUESTIONS) {
      const { order } = rankSounds(shelf, index, parseQuery(question));
      const within = new Set(order);
      for (const sound of rankSounds(shelf, index, parseQuery(`${question} bowed`)).order)
        expect(within).toContain(sound);
    }
  });

  test('of lengths and accents holds exactly those within reach, by how far they miss', () => {
    // 2 bars at 90 are 8 * 60 / 90 s; a fifth of that is the reach.
    const wanted = (8 * 60) / 90;
    const nearest = (...lengths: (number | null)[]) =>
      Math.min(...lengths.map((length) => (length === null ? Number.POSITIVE_INFINITY : Math.abs(length - wanted))));
    const missOf: Record<string, (sound: Sound) => number> = {
      '2 bars at 90': ({ activeSeconds }) => nearest(activeSeconds),
      // No invented sound has a silent head.
      '2 bars at 90, accent at end': ({ climaxSeconds }) => nearest(climaxSeconds),
    };
    for (const [question, miss] of Object.entries(missOf)) {
      const { order } = rankSounds(shelf, index, parseQuery(question));
      const expected = sounds.map((_, at) => at).filter((at) => miss(sounds[at]) <= wanted / 5);
      expect([...order].sort((a, b) => a - b)).toEqual(expected);
      const misses = [...order].map((at) => miss(sounds[at]));
      for (let at = 1; at < misses.length; at++) expect(misses[at]).toBeGreaterThan(misses[at - 1] - 1e-5);
      expect(expected.length).toBeGreaterThan(5);
    }
  });

  test('of what is asked and of what is not asked share the archive out between them', () => {
    for (const asked of ['struck', 'in Boathouse', 'tagged oar', 'under 3 s', 'pitched', 'rights missing']) {
      const all = [asked, `not ${asked}`].flatMap((text) => [...rankSounds(shelf, index, parseQuery(text)).order]);
      expect([asked, all.sort((a, b) => a - b)]).toEqual([asked, sounds.map((_, at) => at)]);
    }
  });
});

test('a take that is named by the note asked for fits as it is: it goes before one that would have to be bent', () => {
  const lasting = (seconds: number) => ({ durationSeconds: seconds, activeSeconds: seconds, activeStartSeconds: 0 });
  const takes = [
    // The note is right to the cent and the sound is the darkest, but 2.6 % are heard as too long: by points alone it would
    // stand before the bell.
    { name: 'measured, too long', pitchHz: 65.41, centroidHz: 150, ...lasting(3 * 1.026) },
    { name: 'bell C2', pitchHz: null, centroidHz: 700, ...lasting(3 * 1.024) },
    ...[500, 600, 800, 900, 1500, 3000].map((centroidHz) => ({
      name: 'hiss',
      pitchHz: null,
      centroidHz,
      ...lasting(9),
    })),
  ];
  expect(names(takes, 'C2, 3 s, dark')).toEqual(['bell C2', 'measured, too long']);
});

test('an accent that is there only after silence stands behind one that is heard there, and says so', () => {
  const takes = [
    { name: 'after silence', climaxSeconds: 1.8, activeStartSeconds: 0.6, activeSeconds: 2, durationSeconds: 3 },
    { name: 'at once', climaxSeconds: 1.8, activeStartSeconds: 0, activeSeconds: 2.4, durationSeconds: 2.4 },
  ];
  const { names: found, why } = ask(shelfOfNamed(takes), 'accent at 1.8 s');
  expect(found).toEqual(['at once', 'after silence']);
  expect(why('after silence')).toEqual(['accent there only after silence']);
});
