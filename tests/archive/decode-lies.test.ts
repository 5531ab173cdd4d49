import { mkdirSync, readFileSync } from 'node:fs';
import { dirname } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { UnreadableAudio } from '../../scripts/archive/audio-stream.ts';
import { isAudioName, nameWarning, openAudio } from '../../scripts/archive/decode/open.ts';
import {
  bigChunk,
  bytes,
  chunk,
  common,
  decodeWhole,
  extended80,
  form,
  lena,
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
import { stream as oggStream, page } from './ogg-writer.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

const data = chunk('data', [1, 0, 2, 0, 3, 0, 4, 0]);
const opusHead = (channels: number): Uint8Array => bytes('OpusHead', [1, channels], u16(0), u32(48_000), u16(0), [0]);

describe('files that cannot be used are refused with words that say why', () => {
  const cases: [what: string, content: Uint8Array, found: RegExp][] = [
    ['nothing', bytes(), /empty file \(0 bytes\)/],
    ['zeros', new Uint8Array(5000), /nothing but zero bytes/],
    ['text', bytes('Slate 3, take 2: the big door.\nSlate 4.\n'), /a text file/],
    ['web page', bytes('\n<!DOCTYPE html><html>'), /a web page/],
    ['zip', bytes('PK\x03\x04', new Uint8Array(100)), /a ZIP archive/],
    ['png', bytes('\x89PNG\r\n\x1a\n', new Uint8Array(100)), /a PNG picture/],
    ['pdf', bytes('%PDF-1.7\n'), /a PDF document/],
    ['midi', bytes('MThd', u32be(6)), /MIDI/],
    ['m4a', readFileSync(lena('lena.m4a')), /MPEG-4/],
    ['aac', readFileSync(lena('lena.aac')), /AAC/],
    ['caf', readFileSync(lena('lena.caf')), /Core Audio/],
    ['webm', readFileSync(lena('lena.webm')), /Matroska or WebM/],
    ['raw floats', readFileSync(lena('lena.raw')), /unknown kind/],
    ['avi', bytes('RIFF', u32(4), 'AVI LIST'), /an AVI video/],
    ['tag alone', bytes('ID3', [4, 0, 0, 0, 0, 0, 10], new Uint8Array(10), 'no audio'), /ID3 tag without audio/],
    ['gsm', readFileSync(lena('audacity/lena-gsm.aiff')), /GSM 6\.10/],
    ['ima', readFileSync(lena('audacity/lena-ima-adpcm.aiff')), /IMA ADPCM/],
    ['dwvw', readFileSync(lena('audacity/lena-24-dwvw.aiff')), /DWVW/],

    ['wav without fmt', riff([data]), /without a usable "fmt " chunk/],
    ['wav with a short fmt', riff([chunk('fmt ', [1, 0, 1]), data]), /without a usable "fmt " chunk/],
    ['wav without data', riff([waveFormat()]), /without a "data" chunk/],
    ['wav without frames', riff([waveFormat(), chunk('data', []), chunk('LIST', 'INFO')]), /a header and no audio/],
    ['wav with half a frame', riff([waveFormat({ channels: 4 }), chunk('data', [1, 2, 3])]), /a header and no audio/],
    ['wav cut in its header', riff([waveFormat(), data]).subarray(0, 30), /without a usable "fmt " chunk|"data"/],
    ['0 channels', riff([waveFormat({ channels: 0 }), data]), /says 0 channels/],
    ['60000 channels', riff([waveFormat({ channels: 60_000, blockAlign: 4 }), data]), /says 60000 channels/],
    ['0 Hz', riff([waveFormat({ rate: 0 }), data]), /sample rate of 0 Hz/],
    ['4 GHz', riff([waveFormat({ rate: 4_000_000_000 }), data]), /sample rate of 4000000000 Hz/],
    ['0 bits', riff([waveFormat({ bits: 0 }), data]), /says 0 bits/],
    ['7 bits', riff([waveFormat({ bits: 7 }), data]), /says 7 bits/],
    ['300 bits', riff([waveFormat({ bits: 300 }), data]), /says 300 bits/],
    ['16 bits of float', riff([waveFormat({ tag: 3, bits: 16 }), data]), /16 bits a sample in floating point/],
    ['ADPCM', riff([waveFormat({ tag: 0x11, bits: 4 }), data]), /IMA ADPCM \(format 0x0011\)/],
    ['unknown tag', riff([waveFormat({ tag: 0x1234 }), data]), /unknown format \(0x1234\)/],
    [
      'mp3 in wav that is none',
      riff([waveFormat({ tag: 0x55 }), chunk('data', new Uint8Array(500))]),
      /no row of audio frames/,
    ],
    [
      'ogg in wav that is none',
      riff([waveFormat({ tag: 0x674f }), chunk('data', new Uint8Array(500))]),
      /no whole page/,
    ],

    ['aiff without COMM', form('AIFF', [sound([1, 2])]), /without a usable "COMM" chunk/],
    ['aiff without SSND', form('AIFF', [common(1, 1, 16, 48_000)]), /a header and no audio/],
    ['aiff of 0 channels', form('AIFF', [common(0, 1, 16, 48_000), sound([1, 2])]), /says 0 channels/],
    ['aiff of 0 Hz', form('AIFF', [common(1, 1, 16, 0), sound([1, 2])]), /sample rate of 0 Hz/],
    [
      'aiff of infinite rate',
      form('AIFF', [
        bigChunk('COMM', bytes(u16be(1), u32be(1), u16be(16), [0x7f, 0xff, 0x80, 0, 0, 0, 0, 0, 0, 0])),
        sound([1, 2]),
      ]),
      /sample rate of no number/,
    ],
    [
      'aiff of -3 bits',
      form('AIFF', [bigChunk('COMM', bytes(u16be(1), u32be(1), [0xff, 0xfd], extended80(48_000))), sound([1, 2])]),
      /says -3 bits/,
    ],
    [
      'aiff-c of an unknown type',
      form('AIFC', [common(1, 1, 16, 48_000, 'Zz\x01!'), sound([1, 2])]),
      /holding "Zz\?!"/,
    ],
    [
      'aiff with audio beyond its end',
      form('AIFF', [common(1, 1, 16, 48_000), bigChunk('SSND', bytes(u32be(4_000_000_000), u32be(0), [1, 2]))]),
      /a header and no audio/,
    ],

    ['flac of 0 Hz', bytes('fLaC', [0x80, 0, 0, 34], streamInfo(4096, 0, 1, 16, 100)), /sample rate of 0 Hz/],
    ['flac of 1 bit', bytes('fLaC', [0x80, 0, 0, 34], streamInfo(4096, 48_000, 1, 1, 100)), /says 1 bits/],
    [
      'flac without frames',
      bytes('fLaC', [0x80, 0, 0, 34], streamInfo(4096, 48_000, 1, 16, 100)),
      /a header and no audio/,
    ],
    ['flac without STREAMINFO', bytes('fLaC', [0x84, 0, 0, 8], new Uint8Array(8)), /without its STREAMINFO/],
    ['flac mark alone', bytes('fLaC'), /without its STREAMINFO/],

    ['ogg with a wrong checksum', bytes('OggS', new Uint8Array(60)), /no whole page was found/],
    ['ogg holding speech', oggStream([bytes('Speex   ', new Uint8Array(72)), bytes('x')], [0, 100]), /holding Speex/],
    [
      'opus of 9 channels',
      oggStream([opusHead(9), bytes('OpusTags'), bytes([0xfc])], [0, 0, 960]),
      /arranges 9 channels/,
    ],
    ['opus headers alone', oggStream([opusHead(1), bytes('OpusTags')], [0, 0]), /headers and no audio/],
    [
      'vorbis of 0 channels',
      oggStream([bytes('\x01vorbis', u32(0), [0], u32(48_000), new Uint8Array(14)), bytes('x')], [0, 5]),
      /says 0 channels/,
    ],
    ['vorbis cut short', page([bytes('\x01vorbis')], { sequence: 0, granule: 9, first: true }), /too short/],
  ];

  it.each(cases)('%s', async (_what, content, found) => {
    const error = await openAudio(scratch.write('refused.wav', content)).then(
      () => null,
      (reason: unknown) => reason,
    );
    expect(error).toBeInstanceOf(UnreadableAudio);
    if (!(error instanceof UnreadableAudio)) return;
    expect(error.found).toMatch(found);
    for (const sentence of [error.found, error.expected, error.remedy]) expect(sentence).toMatch(/\.$/);
  });

  it('a missing file, a folder', async () => {
    const path = scratch.write('there.wav', bytes('x'));
    mkdirSync(`${path}.d`);
    await expect(openAudio(`${path}.missing`)).rejects.toMatchObject({ code: 'ENOENT' });
    await expect(openAudio(`${path}.d`)).rejects.toThrow(/This is a folder/);
    await expect(openAudio(dirname(path))).rejects.toBeInstanceOf(UnreadableAudio);
  });
});

describe('headers that lie but leave the audio usable', () => {
  const samples = [1, 2, 3, 4].map((value) => value / 32_768);
  const plain = bytes([1, 0, 2, 0, 3, 0, 4, 0]);
  const cases: [what: string, content: Uint8Array, warning: RegExp][] = [
    ['a data size of 0', riff([waveFormat(), bytes('data', u32(0), plain)]), /no audio .* read as audio/],
    ['a data size of 4 GiB', riff([waveFormat(), bytes('data', u32(0xffff_ffff), plain)]), /not closed properly/],
    [
      'a data size larger than the file',
      riff([waveFormat(), bytes('data', u32(800), plain)]),
      /promises 800 bytes of audio but only 8/,
    ],
    [
      'half a frame at the end',
      riff([waveFormat(), chunk('data', bytes(plain, [9]))]),
      /middle of a frame; the last 1 bytes/,
    ],
    [
      'a block align that does not fit',
      riff([waveFormat({ blockAlign: 7 }), data]),
      /7 bytes a frame, which does not fit/,
    ],
    [
      'a last chunk of 2 GB',
      riff([waveFormat(), data, bytes('LIST', u32(2_466_250_752), 'INFO')]),
      /"LIST" chunk claims 2466250752 bytes/,
    ],
    [
      'more frames than there are',
      form('AIFF', [common(1, 9999, 16, 48_000), sound([0, 1, 0, 2, 0, 3, 0, 4])]),
      /promises 9999 frames but only 4/,
    ],
    [
      'no frames where there are some',
      form('AIFF', [common(1, 0, 16, 48_000), sound([0, 1, 0, 2, 0, 3, 0, 4])]),
      /says that there is no audio/,
    ],
  ];
  it.each(cases)('%s', async (_what, content, warning) => {
    const decoded = await decodeWhole(scratch.write('lies', content));
    expect([...decoded.channels[0]]).toEqual(samples);
    expect(decoded.format.frames).toBe(4);
    expect(decoded.warnings.join(' ')).toMatch(warning);
  });

  it('tags put in front of WAV and FLAC', async () => {
    const tag = bytes('ID3', [3, 0, 0, 0, 0, 0, 20], new Uint8Array(20));
    for (const name of ['lena.wav', 'lena.flac']) {
      const decoded = await decodeWhole(scratch.write(name, bytes(tag, readFileSync(lena(name)))));
      expect(decoded.channels[0]).toEqual((await decodeWhole(lena(name))).channels[0]);
      expect(decoded.warnings).toEqual([]);
    }
  });
});

describe('names', () => {
  it('never decide what is decoded: the content does, and both are named', async () => {
    for (const [name, content, said] of [
      ['take.wav', 'lena.aiff', /"\.wav" but the content is an AIFF file/],
      ['take.flac', 'lena.mp3', /"\.flac" but the content is an MP3 file/],
      ['take.MP3', 'lena.opus', /"\.MP3" but the content is an Ogg file/],
    ] as const) {
      const path = scratch.write(name, readFileSync(lena(content)));
      const stream = await openAudio(path);
      await stream.close();
      expect(nameWarning(path, stream.kind)).toMatch(said);
      // The same content may lie elsewhere under a right name.
      expect(nameWarning(lena(content), stream.kind)).toBeNull();
      const decoded = await decodeWhole(path);
      expect(decoded.warnings).toEqual([]);
      expect(decoded.channels[0].length).toBe((await decodeWhole(lena(content))).channels[0].length);
    }
    expect((await decodeWhole(scratch.write('take', readFileSync(lena('lena.wav'))))).warnings).toEqual([]);
  });

  it('choose what is worth trying', () => {
    for (const name of [
      'a.wav',
      'A.WAV',
      'b.bwf',
      'c.aif',
      'd.AIFC',
      'e.flac',
      'f.mp3',
      'g.oga',
      'h.opus',
      'x/y.rf64',
    ]) {
      expect(isAudioName(name), name).toBe(true);
    }
    for (const name of ['a.txt', 'wav', '.wav', '._a.wav', 'x/._a.wav', 'a.wav.pkf', 'b.caf', '']) {
      expect(isAudioName(name), name).toBe(false);
    }
  });
});

describe('resources', () => {
  it('closes the file when it refuses it, and after use', async () => {
    // More files than a process may commonly hold open at once (256 to 1024) would run into the limit.
    const refused = scratch.write('many.txt', bytes('no audio'));
    for (let count = 0; count < 1500; count++) await expect(openAudio(refused)).rejects.toThrow();
  });

  it('prints nothing about damaged packets', async () => {
    const print = vi.spyOn(console, 'error').mockImplementation(() => {});
    for (const name of ['lena.mp3', 'lena.opus', 'lena.ogg']) {
      const file = readFileSync(lena(name));
      for (let at = 5000; at < file.length; at += 999) file[at] ^= 0x55;
      await decodeWhole(scratch.write(name, file)).catch(() => null);
    }
    expect(print).not.toHaveBeenCalled();
    print.mockRestore();
  });
});
