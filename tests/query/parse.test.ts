import { describe, expect, test } from 'vitest';
import type { Chip } from '../../shared/query/chips.ts';
import { lengthSeconds, momentSeconds } from '../../shared/query/chips.ts';
import { chipToText, type ParseContext, parseQuery, sameChip } from '../../shared/query/parse.ts';

/** Chips in a short form: kind, label and detail. */
function understood(text: string, context?: ParseContext): string[] {
  return parseQuery(text, context).chips.map(
    ({ kind, label, detail }) => `${kind}: ${label}${detail && ` | ${detail}`}`,
  );
}

const only = (text: string, context?: ParseContext): Chip => {
  const { chips } = parseQuery(text, context);
  expect(chips.map(({ label }) => label)).toHaveLength(1);
  return chips[0];
};

const seconds = (text: string, context?: ParseContext) => {
  const chip = only(text, context);
  return chip.kind === 'length' ? lengthSeconds(chip.length) : null;
};

describe('lengths', () => {
  test.each([
    ['3.5s', 3.5],
    ['3,5 s', 3.5],
    ['3.5 sec', 3.5],
    ['3.5 seconds', 3.5],
    ['exactly 3.5 s', 3.5],
    ['3.5 s long', 3.5],
    ['800 ms', 0.8],
    ['800ms', 0.8],
    ['1:30', 90],
    ['2 min', 120],
    ['half a second', 0.5],
    ['two seconds', 2],
    // bars * beats a bar * 60 / tempo
    ['2 bars at 84', (2 * 4 * 60) / 84],
    ['two bars at 84', (2 * 4 * 60) / 84],
    ['Two Bars at 84 bpm', (2 * 4 * 60) / 84],
    ['2 bars at tempo 84', (2 * 4 * 60) / 84],
    ['3 beats at 120', 1.5],
    ['2 bars of 6/8 at 60', 6],
    ['2 bars at 60 in 6/8', 6],
    ['2 bars of 6/8 at dotted quarter = 60', 4],
    ['2 bars of 6/8 at ♩. 60', 4],
    ['4 beats at crotchet = 60', 4],
    ['one bar of 7/8 at 132', 35 / 22],
    ['2 bars 3 beats at 60', 11],
    ['2 bars and 3 beats at 60', 11],
    ['a bar at 60', 4],
    ['two and a half bars at 60', 10],
  ])('"%s" is %f s', (text, expected) => {
    expect(seconds(text)).toBeCloseTo(expected, 6);
  });

  test('limits and ranges', () => {
    expect(understood('under 2s')).toEqual(['length: under 2 s']);
    expect(understood('shorter than 2 s')).toEqual(['length: under 2 s']);
    expect(understood('2 s or less')).toEqual(['length: under 2 s']);
    expect(understood('max 2 s')).toEqual(['length: under 2 s']);
    expect(understood('over 10s')).toEqual(['length: over 10 s']);
    expect(understood('about 3s')).toEqual(['length: about 3 s']);
    for (const text of ['2-4s', '2s-4s', '2 to 4 s', 'between 2 and 4 seconds', 'from 2 s to 4 s']) {
      expect([text, ...understood(text)]).toEqual([text, 'length-range: between 2 s and 4 s']);
    }
    expect(understood('between 2 and 4 bars at 60')).toEqual([
      'length-range: between 2 bars at 60 and 4 bars at 60 | 8 s to 16 s',
    ]);
  });

  test('the beat counted is stated wherever it is not plainly a quarter', () => {
    expect(only('2 bars at 84').detail).toBe('5.71 s');
    expect(only('3 beats of 7/8 at 84').detail).toBe('1.07 s, quarter = 84, a beat is one eighth');
    expect(only('2 bars of 6/8 at dotted quarter 60').detail).toBe('4 s, dotted quarter = 60');
  });

  test('bars without a tempo wait for one: from a chip, from the controls, or they say so', () => {
    expect(only('2 bars').detail).toBe('needs a tempo');
    expect(seconds('2 bars', { tempoBpm: 84 })).toBeCloseTo(40 / 7, 6);
    expect(seconds('2 bars', { tempoBpm: 60, metre: { beats: 3, unit: 4 } })).toBe(6);
    const [bars] = parseQuery('2 bars, dark, at 84', { tempoBpm: 60 }).chips;
    expect(bars.label).toBe('2 bars at 84');
    // A length that names its tempo does not take the metre of its neighbour, one that names neither takes both.
    expect(parseQuery('2 bars at 84 or 3 beats at 7/8').chips.map(({ label }) => label)).toEqual([
      '2 bars at 84',
      '3 beats of 7/8 at 84',
    ]);
    expect(parseQuery('2 bars of 7/8 at 84, accent on beat 3').chips[1].label).toBe('accent on beat 3 of 7/8 at 84');
    expect(parseQuery('3 beats at 7/8', { tempoBpm: 60 }).chips[0].detail).toBe(
      '1.5 s, quarter = 60, a beat is one eighth',
    );
  });
});

describe('tempo, metre, accents', () => {
  test('tempo and metre alone', () => {
    expect(understood('at 84')).toEqual(['tempo: at 84 | quarter = 84']);
    expect(understood('84 bpm')).toEqual(['tempo: at 84 | quarter = 84']);
    expect(understood('7/8')).toEqual(['metre: in 7/8']);
    expect(parseQuery('at 84 in 7/8')).toMatchObject({ tempo: { bpm: 84 }, metre: { beats: 7, unit: 8 } });
    // No such metre: 8/7 stays a word.
    expect(understood('8/7')).toEqual(['word: 8/7']);
  });

  test.each([
    ['accent at end', 'accent at end'],
    ['accent at the very end', 'accent at end'],
    ['Accent landing at the end', 'accent at end'],
    ['late accent', 'accent at end'],
    ['accent in the middle', 'accent at middle'],
    ['climax at 60%', 'accent at 60 %'],
    ['accent at 1.5s', 'accent at 1.5 s'],
    ['accent landing on the next downbeat', 'accent on downbeat'],
    ['accent on beat three', 'accent on beat 3'],
    ['accent on bar 3', 'accent on bar 3'],
    ['accent on bar 3 beat 2.5', 'accent on bar 3 beat 2.5'],
    ['accent after 2 bars', 'accent on bar 3'],
    ['accent on the third beat of bar 2', 'accent on bar 2 beat 3'],
    ['accent on the 2nd bar', 'accent on bar 2'],
    ['accent on the downbeat of bar 3', 'accent on bar 3'],
    ['landing on the downbeat', 'accent on downbeat'],
    ['run-up', 'accent at end'],
  ])('"%s" is "%s"', (text, label) => {
    expect(only(text).label).toBe(label);
  });

  test('places in bars become seconds', () => {
    const chip = only('accent on bar 3 beat 2', { tempoBpm: 60 });
    expect(chip.kind === 'accent' && momentSeconds(chip.at)).toBe(9);
  });
});

describe('sound and notes', () => {
  test.each([
    ['C2', 'pitch: C2 | 65.4 Hz'],
    ['f#3', 'pitch: F#3 | 185 Hz'],
    ['Bb1', 'pitch: A#1 | 58.3 Hz'],
    ['B flat 1', 'pitch: A#1 | 58.3 Hz'],
    ['near C2', 'pitch: near C2 | 65.4 Hz'],
    ['around 110 Hz', 'pitch: near 110 Hz'],
    ['1.2 kHz', 'pitch: 1200 Hz'],
    ['note A', 'pitch: note A | in any octave'],
    ['A flat', 'pitch: note G# | in any octave'],
    ['an octave down', 'varispeed: at -12 st | slower, longer and lower'],
    ['at -24 st', 'varispeed: at -24 st | slower, longer and lower'],
    ['down two octaves', 'varispeed: at -24 st | slower, longer and lower'],
    ['half speed', 'varispeed: at -12 st | slower, longer and lower'],
    ['hits', 'gesture: hit'],
    ['Swells', 'gesture: swell'],
    ['darker', 'colour: dark | lowest third by spectral centroid'],
    ['no pitch', 'colour: unpitched | has no pitch'],
    ['a sharp attack', 'colour: sharp attack | lowest third by length of attack'],
  ])('"%s" is "%s"', (text, chip) => {
    expect(understood(text)).toEqual([chip]);
  });

  test('an article is no note, and a flat gong no A flat', () => {
    expect(understood('a')).toEqual([]);
    expect(understood('a gong')).toEqual(['word: gong']);
    expect(understood('a flat gong')).toEqual(['word: flat', 'word: gong']);
  });
});

describe('names', () => {
  test('sessions, tags, formats, rights, owner, use', () => {
    expect(understood('in Boathouse')).toEqual(['session: in Boathouse']);
    expect(understood('session "Old Mill"')).toEqual(['session: in Old Mill']);
    expect(understood('tagged metal')).toEqual(['tag: tagged metal']);
    expect(understood('flac')).toEqual(['format: flac']);
    expect(understood('rights cleared, owned by anna')).toEqual(['rights: rights cleared', 'owner: owner anna']);
    expect(understood('rights missing, untagged')).toEqual(['missing: rights missing', 'missing: untagged']);
    expect(understood('fresh')).toEqual(['use: fresh']);
    expect(understood('never used')).toEqual(['use: fresh']);
  });

  test('a known session takes all its words; what follows an article is only a session when known', () => {
    const sessions = ['Old Mill', 'Old Mill Night', 'The Quay'];
    expect(understood('gong in old mill night dark', { sessions })).toEqual([
      'word: gong',
      'session: in old mill night',
      'colour: dark | lowest third by spectral centroid',
    ]);
    expect(understood('in the quay', { sessions })).toEqual(['session: in the quay']);
    expect(understood('in the dark cave', { sessions })).toEqual([
      'colour: dark | lowest third by spectral centroid',
      'word: cave',
    ]);
    expect(understood('in 7/8', { sessions })).toEqual(['metre: in 7/8']);
  });

  test('not, no and without leave out what they stand before', () => {
    expect(understood('not wet')).toEqual(['colour: not ringing | highest third by length of decay']);
    expect(understood('without reverb')).toEqual(['word: not reverb']);
    expect(understood('no hits')).toEqual(['gesture: not hit']);
    expect(understood('not in Boathouse')).toEqual(['session: not in Boathouse']);
    expect(understood('not too bright')).toEqual(['colour: not bright | highest third by spectral centroid']);
  });

  test('quotation marks make words of anything', () => {
    expect(understood('"hit" “under 2s”')).toEqual(['word: hit', 'word: under 2s']);
  });

  test('what is not understood stays a word, and file names stay whole', () => {
    expect(understood('Audio 017-03.wav')).toEqual(['word: Audio', 'word: 017-03.wav']);
    expect(understood('Größe hit-ish 2s.wav')).toEqual(['word: Größe', 'word: hit-ish', 'word: 2s.wav']);
  });
});

test('a whole sentence, in any order and case, with its places in the text', () => {
  const text = 'A metal swipe, two bars at 84, accent landing on the next downbeat, dark';
  const query = parseQuery(text);
  expect(query.chips.map((chip) => [chip.kind, text.slice(...chip.span)])).toEqual([
    ['word', 'metal'],
    ['word', 'swipe'],
    ['length', 'two bars at 84'],
    ['accent', 'accent landing on the next downbeat'],
    ['colour', 'dark'],
  ]);
  const turned = parseQuery('DARK accent landing on the next downbeat; Swipe METAL two bars at 84');
  const labels = (chips: readonly Chip[]) => chips.map(({ label }) => label.toLowerCase()).sort();
  expect(labels(turned.chips)).toEqual(labels(query.chips));
});

test('while typing, a word that waits for its number is not yet looked for', () => {
  expect(understood('metal under')).toEqual(['word: metal']);
  expect(understood('metal not')).toEqual(['word: metal']);
  expect(understood('under')).toEqual(['word: under']);
  expect(understood('under bridge')).toEqual(['word: under', 'word: bridge']);
});

test('accents over letters do not matter, and places still count in the text as typed', () => {
  const text = 'Über “Äther” dàrk ﬁlm 2 bàrs at 84';
  const { chips } = parseQuery(text);
  expect(chips.map((chip) => text.slice(...chip.span))).toEqual(['Über', '“Äther”', 'dàrk', 'ﬁlm', '2 bàrs at 84']);
  expect(chips.map(({ kind }) => kind)).toEqual(['word', 'word', 'colour', 'word', 'length']);
});

test('chips that could be read otherwise are written in quotation marks', () => {
  expect(chipToText(only('"hit"'))).toBe('"hit"');
  expect(chipToText(only('in "2 bars"'))).toBe('in "2 bars"');
  expect(chipToText(only('in Boathouse'))).toBe('in Boathouse');
  const bars = parseQuery('2 bars', { tempoBpm: 84, metre: { beats: 7, unit: 8 } }).chips[0];
  expect(chipToText(bars)).toBe('2 bars of 7/8 at 84');
  expect(sameChip(only(chipToText(bars)), bars)).toBe(true);
});
