import { readFileSync } from 'node:fs';
import { afterAll, describe, expect, it, vi } from 'vitest';
import wavefile from 'wavefile';
import { describeAudio } from '../../scripts/archive/describe/describe.ts';
import { bytes, chunk, lena, type Part, riff, scratchFolder, seeded, u16, u32, waveFormat } from './bytes.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

const FRAMES = 1000;
const data = chunk('data', new Uint8Array(2 * FRAMES));
const described = (...chunks: Part[]) =>
  describeAudio(scratch.write('described.wav', riff([waveFormat(), data, ...chunks])));
const padded = (text: string, length: number): Uint8Array => {
  const field = new Uint8Array(length);
  field.set(bytes(text));
  return field;
};

/** `bext` at the offsets of EBU Tech 3285 v2: 602 bytes, then the coding history. */
function bext(fields: {
  description?: string;
  date?: string;
  time?: string;
  version?: number;
  loudness?: number[];
  reference?: [low: number, high: number];
}): Uint8Array {
  const { description = '', date = '', time = '', version = 1, loudness = [], reference = [0, 0] } = fields;
  return chunk(
    'bext',
    bytes(
      padded(description, 256),
      padded('Field recorder', 32),
      padded('REF1', 32),
      padded(date, 10),
      padded(time, 8),
      u32(reference[0]),
      u32(reference[1]),
      u16(version),
      new Uint8Array(64),
      ...[0, 1, 2, 3, 4].map((index) => u16(loudness[index] ?? 0)),
      new Uint8Array(180),
      'A=PCM,F=48000,W=16,M=mono\r\n',
    ),
  );
}

describe('bext (EBU Tech 3285 v2)', () => {
  it('gives text, date, time and samples since midnight', async () => {
    const found = await described(
      bext({ description: 'Plate, slow swipe', date: '2024-02-29', time: '10-11-12', reference: [5, 2] }),
    );
    expect(found).toMatchObject({
      description: 'Plate, slow swipe',
      originator: 'Field recorder',
      date: '2024-02-29',
      time: '10:11:12',
      timeReferenceSamples: 2 * 2 ** 32 + 5,
      claimedIntegratedLufs: null,
      claimedTruePeakDbtp: null,
    });
  });

  it('reads a description of 256 characters, which has no NUL', async () => {
    const long = 'abcdefgh'.repeat(32);
    expect((await described(bext({ description: long }))).description).toBe(long);
  });

  it('reads loudness in version 2 only, in hundredths, where 0x7FFF means none', async () => {
    const loudness = [0x10000 - 2310, 540, 0x10000 - 105, 0x7fff, 0x7fff];
    const claimed = ({ claimedIntegratedLufs, claimedTruePeakDbtp }: Awaited<ReturnType<typeof described>>) => [
      claimedIntegratedLufs,
      claimedTruePeakDbtp,
    ];
    expect(claimed(await described(bext({ version: 2, loudness })))).toEqual([-23.1, -1.05]);
    expect(claimed(await described(bext({ version: 2, loudness: [0x7fff, 0, 0x7fff, 0, 0] })))).toEqual([null, null]);
    expect(claimed(await described(bext({ version: 2 })))).toEqual([null, null]);
    expect(claimed(await described(bext({ version: 1, loudness })))).toEqual([null, null]);
  });

  it('has no date where there is none: any separators, but real days', async () => {
    const dates = { '2023:12:01': '2023-12-01', '2023-02-29': null, '0000-00-00': null, '2023-13-01': null, '': null };
    for (const [date, expected] of Object.entries(dates))
      expect((await described(bext({ date }))).date, date).toBe(expected);
    for (const time of ['24:00:00', '12:60:00', '1', ''])
      expect((await described(bext({ time }))).time, time).toBeNull();
  });
});

describe('chunks as the wavefile library writes them', () => {
  const writer = new wavefile.WaveFile();
  writer.fromScratch(1, 48_000, '16', Array<number>(48_000).fill(0));
  Object.assign(writer.bext, {
    description: 'From the library',
    originationDate: '2022-01-31',
    originationTime: '23:59:59',
    version: 1,
  });
  writer.setCuePoint({ position: 500, end: 750, label: 'second' });
  writer.setCuePoint({ position: 250, label: 'first' });
  writer.setTag('INAM', 'Gong 1');
  writer.setTag('ICMT', 'with soft mallet');
  writer.setTag('IKEY', 'metal; gong; soft mallet');
  Object.assign(writer.smpl, {
    chunkId: 'smpl',
    dwMIDIUnityNote: 62,
    dwMIDIPitchFraction: 0x8000_0000,
    dwNumSampleLoops: 1,
    loops: [{ dwName: '', dwType: 0, dwStart: 100, dwEnd: 199, dwFraction: 0, dwPlayCount: 0 }],
  });
  const file = writer.toBuffer();

  it('are read back', async () => {
    const found = await describeAudio(scratch.write('library.wav', file));
    expect(found).toMatchObject({
      title: 'Gong 1',
      comment: 'with soft mallet',
      keywords: ['metal', 'gong', 'soft mallet'],
      description: 'From the library',
      date: '2022-01-31',
      time: '23:59:59',
      rootNote: 62,
      rootCents: 50,
      // The last frame of a loop is inclusive in the chunk, 100 frames in all.
      loops: [{ startFrame: 100, endFrame: 200 }],
      markers: [
        { startFrame: 12_000, lengthFrames: null, label: 'first', note: null },
        { startFrame: 24_000, lengthFrames: 12_000, label: 'second', note: null },
      ],
    });
  });

  it('agree with that library on a file by another writer', async () => {
    const other = new wavefile.WaveFile(readFileSync(lena('lena.wav')));
    const found = await describeAudio(lena('lena.wav'));
    expect(found.title).toBe(other.getTag('INAM')?.trim());
    expect(found.artist).toBe(other.getTag('IART')?.trim());
    expect(found.comment).toBe(other.getTag('ICMT')?.trim());
  });
});

describe('cue points and labels', () => {
  const cue = (id: number, frame: number, position = 0): Part =>
    bytes(u32(id), u32(position), 'data', u32(0), u32(0), u32(frame));
  const text = (id: string, point: number, words: string): Uint8Array => chunk(id, bytes(u32(point), words, [0]));

  it('keeps regions, notes and points without a name; leaves out points beyond the audio', async () => {
    const points = [cue(1, 10), cue(2, 20), cue(3, 0, 30), cue(4, FRAMES), cue(5, 4_000_000_000)];
    const found = await described(
      chunk('cue ', bytes(u32(5), ...points)),
      chunk(
        'LIST',
        bytes(
          'adtl',
          text('labl', 2, 'swipe'),
          text('note', 2, 'too loud?'),
          chunk('ltxt', bytes(u32(3), u32(7), 'rgn ', u16(0), u16(0), u16(0), u16(0), 'tail', [0])),
        ),
      ),
    );
    expect(found.markers).toEqual([
      { startFrame: 10, lengthFrames: null, label: null, note: null },
      { startFrame: 20, lengthFrames: null, label: 'swipe', note: 'too loud?' },
      { startFrame: 30, lengthFrames: 7, label: 'tail', note: null },
    ]);
  });

  it('says how many of very many markers are left out, and where a chunk is too long to be read', async () => {
    // 20,000 points at 20 places each, the latest first.
    const rows = Array.from({ length: 20_000 }, (_, i) => cue(i + 1, FRAMES - 1 - Math.floor(i / 20)));
    const found = await described(chunk('cue ', bytes(u32(rows.length), ...rows)));
    expect(found.markers).toHaveLength(10_000);
    expect([found.markers[0].startFrame, found.markers[9_999].startFrame]).toEqual([0, 499]);
    expect(found.leftOut).toEqual(['The file holds 20,000 markers: the first 10,000 are used, 10,000 are left out.']);
    const long = await described(chunk('LIST', bytes('adtl', text('labl', 1, 'x'.repeat(2 ** 20)))));
    expect(long.leftOut).toEqual([
      'Its chunk "LIST" is 1,048,594 bytes long: the first 1,048,576 are read, what it says after them is left out.',
    ]);
    expect((await described(chunk('cue ', bytes(u32(1), cue(1, 5))))).leftOut).toEqual([]);
  });

  it('survives counts and sizes that lie', async () => {
    const found = await described(
      chunk('cue ', bytes(u32(0xffff_ffff), cue(1, 5))),
      bytes('LIST', u32(60), 'adtl', 'labl', u32(0xffff_fff0), u32(1), 'name', [0]),
    );
    expect(found.markers).toEqual([{ startFrame: 5, lengthFrames: null, label: 'name', note: null }]);
  });
});

describe('iXML', () => {
  const xml = (body: string): Uint8Array =>
    chunk('iXML', bytes(`<?xml version="1.0" encoding="UTF-8"?>\n<BWFXML>${body}</BWFXML>`));

  it('gives project, scene, take, tape, note and tracks in the order of the channels', async () => {
    const found = await described(
      xml(`<PROJECT>Harbour &amp; fog</PROJECT><SCENE>12A</SCENE><TAKE>3</TAKE><TAPE>R2</TAPE><NOTE><![CDATA[wind <loud>]]></NOTE>
        <TRACK_LIST><TRACK_COUNT>2</TRACK_COUNT>
          <TRACK><CHANNEL_INDEX>2</CHANNEL_INDEX><INTERLEAVE_INDEX>2</INTERLEAVE_INDEX><NAME>far</NAME></TRACK>
          <TRACK><CHANNEL_INDEX>1</CHANNEL_INDEX><INTERLEAVE_INDEX>1</INTERLEAVE_INDEX><NAME>near &#x263A;</NAME></TRACK>
        </TRACK_LIST>`),
    );
    expect(found).toMatchObject({
      project: 'Harbour & fog',
      scene: '12A',
      take: '3',
      tape: 'R2',
      note: 'wind <loud>',
      trackNames: ['near ☺', 'far'],
    });
  });

  it('reads UTF-16 with and without its mark', async () => {
    const text = [...'<BWFXML><NOTE>Glocke ♪</NOTE></BWFXML>'].flatMap((character) => u16(character.charCodeAt(0)));
    for (const content of [bytes([0xff, 0xfe], text), bytes(text)]) {
      expect((await described(chunk('iXML', content))).note).toBe('Glocke ♪');
    }
  });

  it('expands no entities of its own, and forgives what is broken', async () => {
    const laughs = `<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]><BWFXML><NOTE>&b;&b;</NOTE><SCENE>4</SCENE></BWFXML>`;
    expect(await described(chunk('iXML', bytes(laughs)))).toMatchObject({ note: '&b;&b;', scene: '4' });
    const broken = '<BWFXML><PROJECT>Tunnel</SCENE></PROJECT><TAKE>7<NOTE>open end';
    expect(await described(chunk('iXML', bytes(broken)))).toMatchObject({ project: 'Tunnel' });
  });

  it.each(['<A', '<!--', '<![CDATA[', '<A>', '</A>', '<A>x', '&amp;'])(
    'looks once at each of %j by the hundred thousand',
    async (part) => {
      // Each look begins where the one before ended: the text is searched through about twice (for "<", then for the end).
      const indexOf = vi.spyOn(String.prototype, 'indexOf');
      await described(chunk('iXML', bytes(`<BWFXML>${part.repeat(100_000)}`)));
      const froms = indexOf.mock.calls.filter(([mark]) => mark === '<').map(([, from]) => Number(from));
      indexOf.mockRestore();
      expect(froms.every((from, i) => i === 0 || from > froms[i - 1])).toBe(true);
      expect(froms.length).toBeLessThan(100_010);
    },
  );
});

describe('text and garbage', () => {
  it('decodes UTF-8 where it is valid and Windows-1252 where not, without control characters', async () => {
    const info = (content: Part) => described(chunk('LIST', bytes('INFO', chunk('INAM', content))));
    expect((await info(new TextEncoder().encode('Türglocke – nah'))).title).toBe('Türglocke – nah');
    // 0xFC and 0x96 are u-umlaut and en dash in Windows-1252.
    expect((await info(bytes('T', [0xfc], 'rglocke ', [0x96], ' nah\0rest'))).title).toBe('Türglocke – nah');
    expect((await info(bytes(' a', [7, 27], 'b\r\nc\t'))).title).toBe('ab\nc');
    expect((await info(bytes([1, 2, 0]))).title).toBeNull();
  });

  it('uses inst where there is no smpl: fine tuning reaches the note, so the sound lies that much below', async () => {
    expect(await described(chunk('inst', [60, 0x100 - 20, 0, 0, 127, 1, 127]))).toMatchObject({
      rootNote: 60,
      rootCents: 20,
    });
    expect(await described(chunk('inst', [200, 0, 0, 0, 127, 1, 127]))).toMatchObject({
      rootNote: null,
      rootCents: null,
    });
  });

  it('never throws, whatever the chunks hold', async () => {
    const random = seeded(5);
    const ids = ['bext', 'iXML', 'cue ', 'smpl', 'inst', 'id3 ', 'LIST'];
    for (let round = 0; round < 300; round++) {
      const noise = Uint8Array.from({ length: Math.floor(random() * 700) }, () =>
        random() < 0.3 ? 0 : Math.floor(random() * 256),
      );
      const start = [
        '',
        'INFO',
        'adtl',
        'INFOINAM',
        'adtlltxt',
        'ID3\x03\0\0\0\0\x05\x05',
        'ID3\x04\0\x80\0\0\x05\x05TIT2',
      ][round % 7];
      const found = await described(chunk(ids[Math.floor(random() * ids.length)], bytes(start, noise)));
      for (const value of Object.values(found)) {
        if (typeof value === 'number') expect(Number.isFinite(value)).toBe(true);
        // biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what must not be there
        if (typeof value === 'string') expect(value).not.toMatch(/[\0-\x08\x0b-\x1f\x7f]/);
      }
      for (const { startFrame, lengthFrames } of found.markers)
        expect(startFrame + (lengthFrames ?? 0)).toBeGreaterThanOrEqual(0);
    }
  });
});
