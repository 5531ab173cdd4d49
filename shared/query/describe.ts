/** Chips in words: the label a chip shows, what it comes to, and the text that is understood as the chip. */
import {
  barSeconds,
  beatNote,
  formatMetre,
  formatNoteValue,
  type Metre,
  noteName,
  noteToHertz,
  pitchClassName,
  type Tempo,
} from '../music.ts';
import type { Seconds } from '../sound.ts';
import { type ChipContent, type Length, lengthSeconds, type Moment, momentSeconds, type PitchTarget } from './chips.ts';
import { colourOf } from './colours.ts';

/** Length for reading: "800 ms", "5.71 s", "1:30". */
export function formatSeconds(seconds: Seconds): string {
  const size = Math.abs(seconds);
  if (size < 0.9995) return `${figure(seconds * 1000, size < 0.01 ? 1 : 0)} ms`;
  if (size < 59.995) return `${figure(seconds, size < 9.995 ? 2 : 1)} s`;
  const whole = Math.round(size);
  return `${seconds < 0 ? '-' : ''}${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}

export function formatHertz(hertz: number): string {
  return hertz < 1000 ? `${figure(hertz, hertz < 100 ? 1 : 0)} Hz` : `${figure(hertz / 1000, 2)} kHz`;
}

/** "+5 st", "-12 st": the sign always shown. */
export function formatSemitones(semitones: number, decimals = 2): string {
  return `${semitones < 0 ? '-' : '+'}${figure(Math.abs(semitones), decimals)} st`;
}

function figure(value: number, decimals: number): string {
  return String(Number(value.toFixed(decimals)));
}

export function describeChip(content: ChipContent, negated: boolean): { label: string; detail: string } {
  const label = writeContent(content, (text) => text);
  return { label: negated ? `not ${label}` : label, detail: detailOf(content) };
}

function detailOf(content: ChipContent): string {
  switch (content.kind) {
    case 'length':
      return lengthDetail(content.length);
    case 'length-range':
      return [lengthDetail(content.from), lengthDetail(content.to)].filter((text) => text !== '').join(' to ');
    case 'tempo':
      return `${formatNoteValue(beatNote(content.tempo, null))} = ${content.tempo.bpm}`;
    case 'accent':
      return momentDetail(content.at);
    case 'colour':
      return colourOf(content.colour).meaning;
    case 'pitch':
      return pitchDetail(content.target);
    case 'varispeed':
      return content.semitones < 0 ? 'slower, longer and lower' : 'faster, shorter and higher';
    default:
      return '';
  }
}

function lengthDetail(length: Length): string {
  if (length.unit === 'seconds') return '';
  const seconds = lengthSeconds(length);
  if (seconds === null || !length.tempo) return 'needs a tempo';
  return `${formatSeconds(seconds)}${countingDetail(length.tempo, length.metre, length.beats > 0)}`;
}

/** Says which note is counted wherever that is not plain common time in quarters. */
function countingDetail(tempo: Tempo, metre: Metre | null, countsBeats: boolean): string {
  if (tempo.note === null && (metre === null || metre.unit === 4)) return '';
  const counted = formatNoteValue(tempo.note ?? { unit: 4, dotted: false });
  const beat = countsBeats ? `, a beat is one ${formatNoteValue(beatNote(tempo, metre))}` : '';
  return `, ${counted} = ${tempo.bpm}${beat}`;
}

function momentDetail(moment: Moment): string {
  if (moment.unit === 'share' || moment.unit === 'seconds') return '';
  if (!moment.tempo) return moment.unit === 'position' ? 'needs a tempo' : 'the next bar line';
  if (moment.unit === 'downbeat') return `every ${formatSeconds(barSeconds(moment.tempo, moment.metre))}`;
  const seconds = momentSeconds(moment);
  const counting = countingDetail(moment.tempo, moment.metre, moment.beat !== 1);
  return seconds === null ? '' : `${formatSeconds(seconds)} in${counting}`;
}

function pitchDetail(target: PitchTarget): string {
  if (target.unit === 'note') return formatHertz(noteToHertz(target.noteNumber));
  return target.unit === 'class' ? 'in any octave' : '';
}

/** The chip as text; `name` writes names and words, in quotation marks where they could be read otherwise. */
export function writeContent(content: ChipContent, name: (text: string) => string): string {
  switch (content.kind) {
    case 'word':
      return name(content.text);
    case 'length':
      return content.fit === 'exact' ? writeLength(content.length) : `${content.fit} ${writeLength(content.length)}`;
    case 'length-range':
      return `between ${writeLength(content.from)} and ${writeLength(content.to)}`;
    case 'tempo':
      return writeTempo(content.tempo);
    case 'metre':
      return `in ${formatMetre(content.metre)}`;
    case 'accent':
      return `accent ${writeMoment(content.at)}`;
    case 'gesture':
      return content.gesture;
    case 'colour':
      return content.colour;
    case 'pitch':
      return `${content.near ? 'near ' : ''}${writePitch(content.target)}`;
    case 'varispeed':
      return `at ${content.semitones < 0 ? '-' : '+'}${Math.abs(content.semitones)} st`;
    case 'session':
      return `in ${name(content.text)}`;
    case 'tag':
      return `tagged ${name(content.text)}`;
    case 'format':
      return content.format;
    case 'rights':
      return `rights ${name(content.text)}`;
    case 'owner':
      return `owner ${name(content.text)}`;
    case 'missing':
      return content.what === 'tags' ? 'untagged' : `${content.what} missing`;
    case 'use':
      return content.used ? 'used' : 'fresh';
  }
}

function writeLength(length: Length): string {
  if (length.unit === 'seconds') return writeSeconds(length.seconds);
  const bars = length.bars > 0 ? [`${length.bars} ${length.bars === 1 ? 'bar' : 'bars'}`] : [];
  const beats = length.beats > 0 ? [`${length.beats} ${length.beats === 1 ? 'beat' : 'beats'}`] : [];
  return [...bars, ...beats].join(' ') + writeCounting(length);
}

/** Every microsecond kept: "800 ms", "1.5 s". */
function writeSeconds(seconds: Seconds): string {
  return seconds < 1 ? `${Math.round(seconds * 1e6) / 1e3} ms` : `${seconds} s`;
}

function writeCounting({ metre, tempo }: { metre: Metre | null; tempo: Tempo | null }): string {
  return `${metre ? ` of ${formatMetre(metre)}` : ''}${tempo ? ` ${writeTempo(tempo)}` : ''}`;
}

function writeTempo({ bpm, note }: Tempo): string {
  return note ? `at ${formatNoteValue(note)} = ${bpm}` : `at ${bpm}`;
}

function writeMoment(moment: Moment): string {
  switch (moment.unit) {
    case 'share': {
      const named = [
        ['start', 0],
        ['middle', 0.5],
        ['end', 1],
      ] as const;
      const name = named.find(([, share]) => share === moment.share)?.[0];
      return `at ${name ?? `${Math.round(moment.share * 1e4) / 100} %`}`;
    }
    case 'seconds':
      return `at ${writeSeconds(moment.seconds)}`;
    case 'downbeat':
      return `on downbeat${writeCounting(moment)}`;
    case 'position': {
      const beat = moment.beat === 1 && moment.bar !== 1 ? '' : ` beat ${moment.beat}`;
      return `on${moment.bar === 1 ? '' : ` bar ${moment.bar}`}${beat}${writeCounting(moment)}`;
    }
  }
}

function writePitch(target: PitchTarget): string {
  if (target.unit === 'note') return noteName(target.noteNumber);
  return target.unit === 'class' ? `note ${pitchClassName(target.pitchClass)}` : `${target.hertz} Hz`;
}
