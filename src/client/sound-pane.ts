/** Everything known of the sound in hand, in words and figures. */
import { lesserAccents, mainAccent } from '../../shared/main-accent.ts';
import { heardSecondsOf } from '../../shared/query/heard.ts';
import type { MusicalFit } from '../../shared/query/musical.ts';
import type { Shelf } from '../../shared/shelf.ts';
import type { Measurements } from '../../shared/sound.ts';
import { archive, byId, make, onClick } from './dom.ts';
import { AUDIBLE_HEAD_SECONDS, exactSpeed, inTimeAndBeats } from './fit-words.ts';
import { decibels, hertz, NONE, number, orNone, seconds, semitones, share, signedTime, trueMinus } from './format.ts';
import type { Shapes } from './shapes.ts';

export interface SoundPaneActs {
  /** Puts a word into the question. */
  ask: (text: string) => void;
  seek: (seconds: number) => void;
  /** Plays from there. */
  hear: (seconds: number) => void;
  /** How the sound falls against bars and beats asked for; null where none are. */
  placing: () => Placing | null;
}

export function fillSoundPane(pane: HTMLElement, shapes: Shapes, sound: number, acts: SoundPaneActs): void {
  if (sound < 0) {
    pane.replaceChildren(
      make('p', { class: 'empty-line' }, 'No sound in hand.'),
      make('p', { class: 'quiet' }, 'Choose one in the list or on the map.'),
    );
    return;
  }
  const { shelf } = shapes;
  pane.replaceChildren(
    make('h2', {}, archive(shapes.name(sound))),
    make('p', { class: 'sub' }, inBrief(shelf, sound)),
    ...tags(shelf, sound, acts),
    ...placing(acts.placing()),
    ...slate(shelf, sound, acts),
    ...faults(shelf, sound, acts),
    make('h3', {}, 'Where it comes from'),
    origin(shelf, sound),
    make('h3', {}, 'Measured'),
    table(mainMeasurements(shelf, sound)),
    make('details', {}, make('summary', {}, 'All measurements'), table(furtherMeasurements(shelf, sound))),
    make('p', { class: 'further' }, make('a', { href: 'measured.html' }, 'How it is measured')),
  );
}

function inBrief(shelf: Shelf, sound: number): string {
  const gesture = shelf.gestureOf(sound) ?? 'no clear gesture';
  return [seconds(heardSecondsOf(shelf)(sound)), gesture, noteInWords(shelf, sound)].join(' · ');
}

function noteInWords(shelf: Shelf, sound: number): string {
  const note = shelf.text('note', sound);
  if (note === '') return 'no clear note';
  const cents = shelf.value('centsOff', sound);
  if (cents === null || Math.abs(cents) < 1) return note;
  return `${note} ${cents > 0 ? '+' : '−'}${Math.abs(Math.round(cents))} cents`;
}

function tags(shelf: Shelf, sound: number, acts: SoundPaneActs): HTMLElement[] {
  const all = shelf.tags(sound);
  if (all.length === 0) return [make('h3', {}, 'Tags'), make('p', { class: 'quiet' }, 'No tags yet.')];
  const list = make('ul', { class: 'tags', 'aria-label': 'Tags' });
  for (const tag of all) {
    const button = make('button', { type: 'button', title: 'Ask for this tag' }, archive(tag));
    onClick(button, () => acts.ask(/\s/.test(tag) ? `tagged "${tag}"` : `tagged ${tag}`));
    list.append(make('li', {}, button));
  }
  return [make('h3', {}, 'Tags'), list];
}

/** Frame rates of film and television; 29.97 is counted in drop-frame, which keeps to the clock. */
const SHOWN_RATES = ['23.976', '24', '25', '29.97df', '30'] as const;

export interface Placing {
  fit: MusicalFit;
  /** The speed it is placed at. */
  semitones: number;
}

function placing(placed: Placing | null): HTMLElement[] {
  if (!placed) return [];
  const { fit, semitones: speed } = placed;
  const { start, trimSeconds } = fit;
  const bent = exactSpeed(fit, speed);
  const rows: Row[] = [
    [
      speed === 0 ? 'As it is, misses by' : `At ${semitones(speed)}, misses by`,
      inTimeAndBeats(fit.missSeconds, fit.missBeats),
    ],
    ['Trim from the head', trimSeconds >= AUDIBLE_HEAD_SECONDS ? `${seconds(trimSeconds)}, silence` : 'nothing'],
    ['Exact at', bent === null ? 'too far off' : exactly(bent, fit)],
    start.position === null
      ? ['Start the clip at', signedTime(start.seconds)]
      : ['Start the clip at bar:beat', start.position],
    ...SHOWN_RATES.map(
      (rate): Row => [`at ${rate.replace('df', ' drop-frame')} frames a second`, trueMinus(start.timecodes[rate])],
    ),
    ['Rings on after it', ringsOn(fit)],
  ];
  return [make('h3', {}, 'Placing'), table(rows)];
}

function exactly(bent: number, { bentNote, bentDurationSeconds }: MusicalFit): string {
  const pieces = [
    semitones(bent),
    bentNote,
    bentDurationSeconds === null ? null : `${seconds(bentDurationSeconds)} long`,
  ];
  return pieces.filter((piece) => piece !== null).join(', ');
}

function ringsOn({ ringsOnSeconds, ringsOnBeats }: MusicalFit): string {
  if (ringsOnSeconds < 0.0005) return 'no longer';
  return `${seconds(ringsOnSeconds)}${ringsOnBeats === null ? '' : `, ${number(ringsOnBeats)} ${number(ringsOnBeats) === '1' ? 'beat' : 'beats'}`}`;
}

/** What was set aside as spoken, with a way to hear it, and what to write where it is none. */
function slate(shelf: Shelf, sound: number, acts: SoundPaneActs): HTMLElement[] {
  const end = shelf.value('slateEndSeconds', sound);
  if (end === null) return [];
  const hear = make('button', { type: 'button', class: 'small' }, 'hear it');
  onClick(hear, () => acts.hear(0));
  const [{ folder, file }] = shelf.places(sound);
  const entry = `split: { within: [{ files: ${JSON.stringify(file)}, slates: none }] }`;
  return [
    make('h3', {}, 'Spoken slate'),
    make('p', {}, `The first ${seconds(end)} sound like a spoken slate and are not measured. `, hear),
    make(
      'details',
      {},
      make('summary', {}, 'It is no slate'),
      make('p', {}, 'In catalogue/archive.yaml, at the folder ', archive(folder), ', and build again:'),
      make('p', {}, make('code', {}, archive(entry))),
    ),
  ];
}

function faults(shelf: Shelf, sound: number, acts: SoundPaneActs): HTMLElement[] {
  const found = shelf.faultDetails(sound);
  if (found.length === 0) return [];
  const list = make('ul', { 'aria-label': 'Faults' });
  for (const { severity, message, seconds: at } of found) {
    const place = at === null ? null : make('button', { type: 'button', class: 'small' }, `at ${seconds(at)}`);
    if (place && at !== null) onClick(place, () => acts.seek(at));
    list.append(
      make(
        'li',
        { class: 'fault', 'data-severity': severity },
        make('span', { class: 'severity' }, severity),
        archive(trueMinus(message)),
        place,
      ),
    );
  }
  return [make('h3', {}, 'Faults'), list];
}

const AWAY =
  ' Away: its folder was not there at the last build. It can be found and heard here; connect its drive to use it.';

function origin(shelf: Shelf, sound: number): HTMLElement {
  const list = make('dl', { class: 'facts' });
  const add = (term: string, ...values: (Node | string)[]) => {
    list.append(make('dt', {}, term), ...values.map((value) => make('dd', {}, value)));
  };
  add('Session', archive(shelf.text('session', sound)));
  const places = shelf.places(sound).map(({ folder, file, startSeconds, away }) => {
    const path = archive([folder, file].filter((piece) => piece !== '').join('/'));
    const from = startSeconds > 0 ? ` from ${seconds(startSeconds)}` : '';
    return make('span', {}, path, from, away ? make('span', { class: 'quiet' }, AWAY) : null);
  });
  add(places.length > 1 ? 'Files, same audio' : 'File', ...places);
  add('Recorded on', shelf.text('recordedOn', sound) || 'not stated');
  add('Rights', archive(shelf.text('rights', sound) || 'not stated'));
  add('Owner', archive(shelf.text('owner', sound) || 'not stated'));
  const description = shelf.text('description', sound);
  if (description !== '') {
    list.append(make('dt', {}, 'Description'), make('dd', { class: 'lines' }, archive(description)));
  }
  add('Format', fileFormat(shelf, sound));
  return list;
}

function fileFormat(shelf: Shelf, sound: number): string {
  const channels = shelf.value('channels', sound);
  const pieces = [
    shelf.text('format', sound),
    orNone(shelf.value('sampleRateHz', sound), (rate) => `${number(rate / 1000, 3)} kHz`),
    orNone(shelf.value('bitDepth', sound), (bits) => `${bits} bit`),
    channels === 1 ? 'mono' : channels === 2 ? 'stereo' : `${channels ?? NONE} channels`,
  ];
  return pieces.filter((piece) => piece !== NONE).join(', ');
}

type Row = readonly [what: Node | string, value: string];

const table = (rows: readonly Row[]): HTMLElement =>
  make(
    'table',
    {},
    make(
      'tbody',
      {},
      ...rows.map(([what, value]) =>
        make('tr', {}, make('th', { scope: 'row' }, what), make('td', { class: 'number' }, value)),
      ),
    ),
  );

/** The name of a value, leading to how it is measured; the page brings it along. */
function named(field: keyof Measurements): Node {
  const link = byId('value-names', HTMLTemplateElement).content.querySelector(`a[href$="#${field}"]`);
  return link?.cloneNode(true) ?? document.createTextNode(field);
}

const lufs = (value: number): string => decibels(value, 'LUFS');

function mainMeasurements(shelf: Shelf, sound: number): Row[] {
  const moments = { climaxSeconds: shelf.value('climaxSeconds', sound), accents: shelf.accents(sound) };
  const main = mainAccent(moments);
  const lesser = lesserAccents(moments).map((accent) => seconds(accent.seconds));
  const value = reader(shelf, sound);
  return [
    value('durationSeconds', seconds),
    value('activeSeconds', seconds),
    [named('climaxSeconds'), main === null ? NONE : seconds(main.seconds) + (main.strikes ? '' : ' (loudest moment)')],
    [named('accents'), lesser.length === 0 ? NONE : lesser.slice(0, 6).join(', ') + (lesser.length > 6 ? ' …' : '')],
    value('attackSeconds', seconds),
    value('decaySeconds', seconds),
    value('integratedLufs', lufs),
    value('centroidHz', hertz),
    [named('note'), noteInWords(shelf, sound)],
    value('roughness', share),
  ];
}

function furtherMeasurements(shelf: Shelf, sound: number): Row[] {
  const value = reader(shelf, sound);
  const dbfs = (level: number): string => decibels(level, 'dBFS');
  const inharmonic = shelf.inharmonic(sound);
  return [
    value('momentaryMaxLufs', lufs),
    value('shortTermMaxLufs', lufs),
    value('loudnessRangeLu', (range) => `${number(range, 1)} LU`),
    value('truePeakDbtp', (level) => decibels(level, 'dBTP')),
    value('samplePeakDbfs', dbfs),
    value('noiseFloorDbfs', dbfs),
    value('slateEndSeconds', seconds),
    value('crestDb', (crest) => decibels(crest, 'dB')),
    value('activeStartSeconds', seconds),
    value('temporalCentroid', share),
    value('spreadHz', hertz),
    value('flatness', (flatness) => number(flatness, 3)),
    value('rolloffHz', hertz),
    value('pitchHz', hertz),
    value('pitchConfidence', share),
    [named('inharmonic'), inharmonic === null ? NONE : inharmonic ? 'yes' : 'no'],
    value('pulseBpm', (bpm) => `${number(bpm, 1)} a minute`),
    value('tremoloHz', hertz),
    value('brightnessSlope', (slope) => `${number(slope)} octaves a second`),
    value('stereoWidth', share),
    value('correlation', (correlation) => number(correlation)),
    value('clippedSamples', (samples) => number(samples, 0)),
    value('dcOffset', (offset) => number(offset, 5)),
  ];
}

type NumberField = keyof Measurements & Parameters<Shelf['value']>[0];

/** Rows of this sound's values. */
function reader(shelf: Shelf, sound: number): (field: NumberField, write: (value: number) => string) => Row {
  return (field, write) => [named(field), orNone(shelf.value(field, sound), write)];
}
