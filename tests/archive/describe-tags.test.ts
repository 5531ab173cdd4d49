import { readFileSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import { describeAudio } from '../../scripts/archive/describe/describe.ts';
import {
  bigChunk,
  bytes,
  chunk,
  common,
  form,
  lena,
  type Part,
  riff,
  scratchFolder,
  sound,
  u16,
  u16be,
  u32,
  u32be,
  waveFormat,
} from './bytes.ts';
import { streamInfo } from './flac-writer.ts';
import { stream as oggStream } from './ogg-writer.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

describe('one recording whose files carry the same tags (package audio-lena)', () => {
  it('gives the same title and comment from INFO, ID3, Vorbis comments and AIFF text', async () => {
    const reference = await describeAudio(lena('lena.wav'));
    expect(reference.title).toMatch(/^\w+( \w+)+$/);
    expect(reference.comment).toBeTruthy();
    for (const name of [
      'lena.flac',
      'lena.mp3',
      'lena.ogg',
      'lena-24.aiff',
      'audacity/lena-32.wav',
      'audacity/lena-64.aiff',
    ]) {
      const { title, comment } = await describeAudio(lena(name));
      expect({ title, comment }, name).toEqual({ title: reference.title, comment: reference.comment });
    }
  });
});

describe('ID3v2 (id3.org informal standards 2.2.0, 2.3.0, 2.4.0)', () => {
  const synchsafe = (size: number): number[] => [21, 14, 7, 0].map((shift) => (size >> shift) & 127);
  const frame = (id: string, content: Part, version: number, flags = 0): Uint8Array => {
    const body = bytes(content);
    if (version === 2) return bytes(id, u32be(body.length).slice(1), body);
    return bytes(id, version === 4 ? synchsafe(body.length) : u32be(body.length), [0, flags], body);
  };
  const tag = (version: number, frames: Part[], flags = 0): Uint8Array => {
    const body = bytes(...frames);
    return bytes('ID3', [version, 0, flags], synchsafe(body.length), body);
  };
  /** In a WAV file's own chunk, so that a few bytes of audio suffice. */
  const described = (content: Part) =>
    describeAudio(scratch.write('tagged.wav', riff([waveFormat(), chunk('data', [0, 0]), chunk('id3 ', content)])));
  const wide = (text: string): number[] => [...text].flatMap((character) => u16(character.charCodeAt(0)));
  const wideBig = (text: string): number[] => [...text].flatMap((character) => u16be(character.charCodeAt(0)));

  it('reads all four encodings', async () => {
    const texts: [encoding: Part, expected: string][] = [
      [bytes([0], 'Becken ', [0xe9]), 'Becken é'],
      [bytes([1, 0xff, 0xfe], wide('Becken ♯')), 'Becken ♯'],
      [bytes([1, 0xfe, 0xff], wideBig('Becken ♯')), 'Becken ♯'],
      [bytes([2], wideBig('Becken ♯')), 'Becken ♯'],
      [bytes([3], new TextEncoder().encode('Becken ♯')), 'Becken ♯'],
    ];
    for (const [content, expected] of texts) {
      for (const version of [3, 4]) {
        expect((await described(tag(version, [frame('TIT2', content, version)]))).title).toBe(expected);
      }
    }
  });

  it('reads titles, comments, keywords, keys and dates in every version', async () => {
    const comm = bytes([0], 'eng', 'short\0', 'said in full');
    const txxx = bytes([0], 'Keywords\0', 'bell; bright');
    const expected = {
      title: 'Bell',
      artist: 'A player',
      comment: 'said in full',
      keywords: ['bell', 'bright', 'Field', 'key Am'],
      date: '2021-03-04',
    };
    const latin = (text: string): Uint8Array => bytes([0], text);
    expect(
      await described(
        tag(2, [
          frame('TT2', latin('Bell'), 2),
          frame('TP1', latin('A player'), 2),
          frame('TCO', latin('(12)Field'), 2),
          frame('TKE', latin('Am'), 2),
          frame('TYE', latin('2021'), 2),
          frame('TDA', latin('0403'), 2),
          frame('TIM', latin('1715'), 2),
          frame('COM', comm, 2),
          frame('TXX', txxx, 2),
        ]),
      ),
    ).toMatchObject({ ...expected, time: '17:15:00' });
    for (const version of [3, 4]) {
      const dates =
        version === 3
          ? [frame('TYER', latin('2021'), 3), frame('TDAT', latin('0403'), 3)]
          : [frame('TDRC', latin('2021-03-04T17:15:01'), 4)];
      const texts = { TIT2: 'Bell', TPE1: 'A player', TCON: 'Field', TKEY: 'Am' };
      const frames = Object.entries(texts).map(([id, text]) => frame(id, latin(text), version));
      const found = await described(
        tag(version, [...frames, ...dates, frame('COMM', comm, version), frame('TXXX', txxx, version)]),
      );
      expect(found).toMatchObject({ ...expected, time: version === 4 ? '17:15:01' : null });
    }
  });

  it('undoes unsynchronisation of the whole tag (2.3) and of one frame (2.4)', async () => {
    // UTF-16 with its mark FF FE becomes FF 00 FE, and a character U+00FF becomes FF 00 00.
    const plain = bytes([1, 0xff, 0xfe], wide('aÿb'));
    const stuffed = bytes([1, 0xff, 0, 0xfe], u16(97), [0xff, 0, 0], u16(98));
    const old = frame('TIT2', plain, 3);
    expect((await described(tag(3, [bytes(old.subarray(0, 10), stuffed)], 0x80))).title).toBe('aÿb');
    expect((await described(tag(4, [frame('TIT2', stuffed, 4, 2)], 0x80))).title).toBe('aÿb');
  });

  it('skips extended headers, pictures, compressed frames and bookkeeping comments', async () => {
    const title = frame('TIT2', bytes([0], 'kept'), 4);
    const picture = frame('APIC', new Uint8Array(3000), 4);
    const packed = frame('TPE1', bytes(u32be(10), 'zzzz'), 4, 8);
    const bookkeeping = frame('COMM', bytes([0], 'eng', 'iTunNORM\0', '0000 0000'), 4);
    const extended = bytes(synchsafe(6), [1, 0]);
    const found = await described(tag(4, [extended, picture, packed, bookkeeping, title], 0x40));
    expect(found).toMatchObject({ title: 'kept', artist: null, comment: null });
  });

  it('falls back on ID3v1 behind an MP3 file', async () => {
    const field = (text: string, length: number): Uint8Array => bytes(text, new Uint8Array(length - text.length));
    const old = bytes(
      'TAG',
      field('Old title', 30),
      field('Old player', 30),
      field('', 30),
      '1999',
      field('Old comment', 30),
      [255],
    );
    const mp3 = readFileSync(lena('lena.mp3'));
    const start = 10 + mp3.subarray(6, 10).reduce((sum, byte) => sum * 128 + byte, 0);
    const found = await describeAudio(scratch.write('old.mp3', bytes(mp3.subarray(start, start + 20_000), old)));
    expect(found).toMatchObject({ title: 'Old title', artist: 'Old player', comment: 'Old comment', date: null });
  });
});

describe('Vorbis comments (Vorbis I specification, section 5)', () => {
  const utf8 = (text: string): Uint8Array => new TextEncoder().encode(text);
  const entry = (text: string): Uint8Array => bytes(u32(utf8(text).length), utf8(text));
  const comments = (...texts: string[]): Uint8Array =>
    bytes(entry('a library'), u32(texts.length), ...texts.map(entry));
  const spoken = comments(
    'Title=Tür zu',
    'ARTIST=A player',
    'description=door, near',
    'COMMENT=one',
    'comment=two',
    'KEYWORDS=door, slam',
    'GENRE=Foley',
    'DATE=2020-05-06',
    'no equals sign',
    '=no name',
  );
  const expected = {
    title: 'Tür zu',
    artist: 'A player',
    description: 'door, near',
    comment: 'one\ntwo',
    keywords: ['door', 'slam', 'Foley'],
    date: '2020-05-06',
  };
  const block = (type: number, content: Uint8Array, last = false): Uint8Array =>
    bytes([type + (last ? 128 : 0)], u32be(content.length).slice(1), content);
  const info = streamInfo(4096, 48_000, 1, 16, 0);

  it('are found in FLAC, Ogg Vorbis, Opus and FLAC in Ogg', async () => {
    const files = {
      flac: bytes('fLaC', block(0, info), block(4, spoken, true)),
      vorbis: oggStream([bytes('\x01vorbis', new Uint8Array(23)), bytes('\x03vorbis', spoken, [1])], [0, 0]),
      opus: oggStream([bytes('OpusHead', new Uint8Array(11)), bytes('OpusTags', spoken)], [0, 0]),
      'flac in ogg': oggStream(
        [bytes('\x7fFLAC', [1, 0, 0, 1], 'fLaC', block(0, info)), block(4, spoken, true)],
        [0, 0],
      ),
    };
    for (const [name, content] of Object.entries(files)) {
      expect(await describeAudio(scratch.write('comments', content)), name).toMatchObject(expected);
    }
  });

  it('stop at a length that lies, and keep what came before', async () => {
    const broken = bytes(entry('x'), u32(0xffff_ffff), entry('TITLE=kept'), u32(0xffff_fff0), 'ARTIST=lost');
    const found = await describeAudio(
      scratch.write('broken.flac', bytes('fLaC', block(0, info), block(4, broken, true))),
    );
    expect(found).toMatchObject({ title: 'kept', artist: null });
  });

  it('FLAC: cue sheets are markers, and chunks kept from a WAV file are read (RFC 9639, section 8)', async () => {
    const track = (frame: number, number: number, points: number): Uint8Array =>
      bytes(u32be(0), u32be(frame), [number], new Uint8Array(12 + 14), [points], new Uint8Array(points * 12));
    const sheet = bytes(new Uint8Array(395), [3], track(0, 1, 1), track(96_000, 2, 2), track(200_000, 170, 0));
    const foreign = bytes('riff', 'bext', u32(602), 'Kept description', new Uint8Array(586));
    const found = await describeAudio(
      scratch.write('sheet.flac', bytes('fLaC', block(0, info), block(5, sheet), block(2, foreign, true))),
    );
    expect(found.markers.map(({ startFrame, label }) => [startFrame, label])).toEqual([
      [0, 'Track 1'],
      [96_000, 'Track 2'],
    ]);
    expect(found.description).toBe('Kept description');
  });
});

describe('AIFF (Audio Interchange File Format 1.3)', () => {
  const name = (text: string): Uint8Array => bytes([text.length], text, text.length % 2 ? [] : [0]);
  const mark = (id: number, frame: number, text: string): Uint8Array => bytes(u16be(id), u32be(frame), name(text));

  it('gives names, notes, markers, root note and loops', async () => {
    const loop = (mode: number, begin: number, end: number): number[] => [
      ...u16be(mode),
      ...u16be(begin),
      ...u16be(end),
    ];
    const file = form('AIFF', [
      common(1, 2, 16, 44_100),
      bigChunk('NAME', 'Marimba low'),
      bigChunk('AUTH', 'A player'),
      bigChunk('ANNO', 'hard mallet'),
      bigChunk('ANNO', 'second note'),
      bigChunk(
        'MARK',
        bytes(u16be(4), mark(1, 1000, 'hit'), mark(2, 2000, 'ring'), mark(3, 100, 'in'), mark(4, 900, 'out')),
      ),
      bigChunk('COMT', bytes(u16be(2), u32be(0), u16be(2), u16be(3), 'odd', [0], u32be(0), u16be(0), u16be(4), 'free')),
      bigChunk('INST', bytes([45, 0x100 - 7, 0, 127, 1, 127], u16be(0), loop(1, 3, 4), loop(0, 0, 0))),
      sound([0, 0, 0, 0]),
    ]);
    expect(await describeAudio(scratch.write('marked.aif', file))).toMatchObject({
      title: 'Marimba low',
      artist: 'A player',
      comment: 'hard mallet\nsecond note\nfree',
      rootNote: 45,
      rootCents: 7,
      loops: [{ startFrame: 100, endFrame: 900 }],
      markers: [
        { startFrame: 1000, lengthFrames: null, label: 'hit', note: null },
        { startFrame: 2000, lengthFrames: null, label: 'ring', note: 'odd' },
      ],
    });
  });

  it('takes the time reference that some workstations keep in a marker', async () => {
    // logic/lena-24.aif and .wav are one export: the bext chunk of the WAV file holds the same number.
    const [aiff, wav] = [
      await describeAudio(lena('logic/lena-24.aif')),
      await describeAudio(lena('logic/lena-24.wav')),
    ];
    expect(wav.timeReferenceSamples).toBeGreaterThan(0);
    expect(aiff.timeReferenceSamples).toBe(wav.timeReferenceSamples);
    expect(aiff.markers).toEqual([]);
  });
});

it('files without text, and files that are no audio, give empty fields', async () => {
  const empty = await describeAudio(scratch.write('empty.wav', riff([waveFormat(), chunk('data', [0, 0])])));
  expect(Object.values(empty).every((value) => value === null || (Array.isArray(value) && value.length === 0))).toBe(
    true,
  );
  expect(await describeAudio(scratch.write('notes.txt', bytes('no audio here')))).toEqual(empty);
  await expect(describeAudio('/nowhere/at/all.wav')).rejects.toMatchObject({ code: 'ENOENT' });
});
