/**
 * Renders single notes of a General MIDI sound font with the synthesiser fluidsynth (a Debian package), for
 * `note-labelled.ts`:
 *
 *   npx node tests/bench/render-notes.ts SOUNDFONT OUT
 *
 * Writes OUT/p041_viola_69.wav (program, first from 0; MIDI note) and OUT/kit_38_none.wav, 44.1 kHz, without reverberation
 * and chorus. Five notes a program, evenly over its usual compass (common practice, no source), held for 1.5 s.
 *
 * Left out as not of one note by construction: orchestra hit, the lead in fifths, the effect programs (96 to 103 and
 * 120 to 127), and the untuned or half-tuned programs 112 to 119. Left out of the kit as pitched or nearly so: toms
 * (41, 43, 45, 47, 48, 50), cowbell (56), agogos (67, 68), whistles (71, 72), claves (75), wood blocks (76, 77), cuicas
 * (78, 79), triangles (80, 81); drums tuned by hand: bongos, congas and timbales (60 to 66), and the vibraslap (58), which rings on
 * one partial. Bass drums (35, 36) are rendered as kit_35_bassdrum.wav: a tuned membrane under a blow, judged by nobody.
 */
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** First program, last program, name, lowest and highest note. */
const COMPASSES: [number, number, string, number, number][] = [
  [0, 5, 'piano', 28, 100],
  [6, 7, 'harpsichord', 36, 88],
  [8, 8, 'celesta', 60, 100],
  [9, 9, 'glockenspiel', 79, 106],
  [10, 10, 'musicbox', 60, 96],
  [11, 11, 'vibraphone', 53, 89],
  [12, 12, 'marimba', 45, 93],
  [13, 13, 'xylophone', 65, 105],
  [14, 14, 'tubularbells', 60, 77],
  [15, 15, 'dulcimer', 48, 84],
  [16, 20, 'organ', 36, 96],
  [21, 21, 'accordion', 53, 89],
  [22, 23, 'reeds', 55, 84],
  [24, 30, 'guitar', 40, 84],
  [31, 31, 'guitarharmonics', 40, 76],
  [32, 39, 'bass', 28, 55],
  [40, 40, 'violin', 55, 100],
  [41, 41, 'viola', 48, 86],
  [42, 42, 'cello', 36, 74],
  [43, 43, 'contrabass', 28, 60],
  [44, 45, 'strings', 36, 88],
  [46, 46, 'harp', 28, 96],
  [47, 47, 'timpani', 36, 57],
  [48, 54, 'ensemble', 40, 84],
  [56, 56, 'trumpet', 55, 84],
  [57, 57, 'trombone', 40, 72],
  [58, 58, 'tuba', 28, 57],
  [59, 59, 'mutedtrumpet', 55, 82],
  [60, 60, 'horn', 41, 77],
  [61, 63, 'brass', 40, 84],
  [64, 64, 'sopranosax', 56, 87],
  [65, 65, 'altosax', 49, 80],
  [66, 66, 'tenorsax', 44, 75],
  [67, 67, 'baritonesax', 37, 68],
  [68, 68, 'oboe', 58, 91],
  [69, 69, 'englishhorn', 52, 81],
  [70, 70, 'bassoon', 34, 72],
  [71, 71, 'clarinet', 50, 91],
  [72, 72, 'piccolo', 74, 106],
  [73, 79, 'flute', 60, 92],
  [80, 85, 'lead', 36, 96],
  [87, 87, 'lead', 36, 96],
  [88, 95, 'pad', 36, 84],
  [104, 107, 'plucked', 48, 80],
  [108, 108, 'kalimba', 48, 84],
  [110, 111, 'fiddle', 55, 86],
];
const NOTES_EACH = 5;
const UNPITCHED_KEYS = [37, 38, 39, 40, 42, 44, 46, 49, 51, 52, 54, 55, 57, 59, 69, 70, 73, 74];
const BASS_DRUM_KEYS = [35, 36];
const RATE = 44_100;
const VELOCITY = 100;
const TICKS_A_SECOND = 960;
const NOTE_TICKS = 1_440;
const SLOT_TICKS = 2_880;
const SLOT_FRAMES = (SLOT_TICKS / TICKS_A_SECOND) * RATE;

const [soundFont, out] = process.argv.slice(2);
if (soundFont === undefined || out === undefined) {
  console.error('Say which sound font and where to: npx node tests/bench/render-notes.ts SOUNDFONT OUT');
  process.exit(2);
}
const scratch = mkdtempSync(join(tmpdir(), 'notes-'));
mkdirSync(out, { recursive: true });

for (const [first, last, name, lowest, highest] of COMPASSES) {
  const notes = Array.from({ length: NOTES_EACH }, (_, i) =>
    Math.round(lowest + ((highest - lowest) * i) / (NOTES_EACH - 1)),
  );
  for (let program = first; program <= last; program++) {
    const prefix = `p${String(program).padStart(3, '0')}_${name}`;
    render(program, notes).forEach((samples, i) => {
      writeFileSync(join(out, `${prefix}_${notes[i]}.wav`), wavOf(samples));
    });
  }
}
render(null, UNPITCHED_KEYS).forEach((samples, i) => {
  writeFileSync(join(out, `kit_${UNPITCHED_KEYS[i]}_none.wav`), wavOf(samples));
});
render(null, BASS_DRUM_KEYS).forEach((samples, i) => {
  writeFileSync(join(out, `kit_${BASS_DRUM_KEYS[i]}_bassdrum.wav`), wavOf(samples));
});
rmSync(scratch, { recursive: true });

/** One stretch of 16-bit stereo frames a note; a program of channel 1, or the kit of channel 10 for null. */
function render(program: number | null, notes: readonly number[]): Buffer[] {
  const midi = join(scratch, 'notes.mid');
  const raw = join(scratch, 'notes.raw');
  writeFileSync(midi, midiOf(program, notes));
  const { status, stderr, error } = spawnSync(
    'fluidsynth',
    [
      '-niq',
      '-R',
      '0',
      '-C',
      '0',
      '-g',
      '0.5',
      '-r',
      String(RATE),
      '-T',
      'raw',
      '-O',
      's16',
      '-F',
      raw,
      soundFont,
      midi,
    ],
    { encoding: 'utf8' },
  );
  if (error !== undefined || status !== 0) {
    console.error(`fluidsynth did not run: ${error?.message ?? stderr}. It is in the Debian package fluidsynth.`);
    process.exit(1);
  }
  const frames = readFileSync(raw);
  return notes.map((_, i) => frames.subarray(4 * SLOT_FRAMES * i, 4 * SLOT_FRAMES * (i + 1)));
}

/** A standard MIDI file of type 0 at 120 quarter notes a minute (Standard MIDI Files 1.0; from memory). */
function midiOf(program: number | null, notes: readonly number[]): Buffer {
  const channel = program === null ? 9 : 0;
  const events: number[] = program === null ? [] : [0, 0xc0 | channel, program];
  notes.forEach((note, i) => {
    events.push(...variableLength(i === 0 ? 0 : SLOT_TICKS - NOTE_TICKS), 0x90 | channel, note, VELOCITY);
    events.push(...variableLength(NOTE_TICKS), 0x80 | channel, note, 0);
  });
  events.push(...variableLength(SLOT_TICKS - NOTE_TICKS), 0xff, 0x2f, 0);
  const head = Buffer.from('MThd\0\0\0\x06\0\0\0\x01\0\0MTrk\0\0\0\0', 'latin1');
  head.writeUInt16BE(TICKS_A_SECOND / 2, 12);
  head.writeUInt32BE(events.length, 18);
  return Buffer.concat([head, Buffer.from(events)]);
}

function variableLength(value: number): number[] {
  const low = value & 0x7f;
  return value < 0x80 ? [low] : [...variableLength(value >> 7).map((byte) => byte | 0x80), low];
}

function wavOf(frames: Buffer): Buffer {
  const head = Buffer.alloc(44);
  head.write('RIFF', 0, 'latin1');
  head.writeUInt32LE(36 + frames.length, 4);
  head.write('WAVEfmt ', 8, 'latin1');
  head.writeUInt32LE(16, 16);
  head.writeUInt16LE(1, 20);
  head.writeUInt16LE(2, 22);
  head.writeUInt32LE(RATE, 24);
  head.writeUInt32LE(4 * RATE, 28);
  head.writeUInt16LE(4, 32);
  head.writeUInt16LE(16, 34);
  head.write('data', 36, 'latin1');
  head.writeUInt32LE(frames.length, 40);
  return Buffer.concat([head, frames]);
}
