/**
 * Forty briefs as a composer or an assistant types them, over the demo archive of 2,000 sounds (seed 1).
 *
 * The sounds meant were drawn first (`drawn` in briefs-judged.ts: by seed, at most seven of a gesture, over written and
 * invented sessions, named and nameless takes), then each was described in words by what is true of it: what it is, how
 * long, where its accent falls, where it was recorded. Where the file carries no name, the brief uses the place and what
 * one hears, as no search can know that an unnamed recording is glass.
 *
 * `among` says by truth which sounds the words could mean; the sound meant is the only one of them, or the one nearest by
 * `misses`. The judge computes that this is so before it asks the search.
 */
import type { Gesture } from '../../shared/sound.ts';
import type { TrueSound } from './brief-truth.ts';

export interface Brief {
  asks: string;
  file: string;
  name: string;
  why: string;
  /** How many other sounds are as right by truth, told apart by nothing that a search could know. */
  equals?: number;
  among: (sound: TrueSound) => boolean;
  /** How far a sound is from what was asked, each part as a share of what was asked; 0 is exact. */
  misses?: (sound: TrueSound) => number;
}

const off = (value: number | null, wanted: number): number =>
  value === null ? Number.POSITIVE_INFINITY : Math.abs(value - wanted) / wanted;
const length = (seconds: number) => (sound: TrueSound) => off(sound.lengthSeconds, seconds);
const accent = (seconds: number) => (sound: TrueSound) => off(sound.accentSeconds, seconds);
const both = (lengthSeconds: number, accentSeconds: number) => (sound: TrueSound) =>
  length(lengthSeconds)(sound) + accent(accentSeconds)(sound);
const is = (sound: TrueSound, gesture: Gesture): boolean => sound.gesture === gesture;
/** Seconds of a number of beats. */
const beats = (count: number, bpm: number): number => (count * 60) / bpm;
const cents = (sound: TrueSound, hertz: number): number =>
  sound.pitchHz === null ? Number.POSITIVE_INFINITY : Math.abs(1200 * Math.log2(sound.pitchHz / hertz));

export const BRIEFS: readonly Brief[] = [
  {
    asks: 'metal hit in the chapel hall on a Tuesday, mp3, about 1.8 s',
    file: '33 chapel hall, Tuesday/chapel hall metal 164.mp3',
    name: 'Scaffold pipe, coin',
    why: 'Of the metal hits of that session in MP3 its length is nearest to 1.8 s.',
    among: (s) => s.says('metal') && is(s, 'hit') && s.at('chapel', 'tue') && s.format === 'MP3',
    misses: length(1.8),
  },
  {
    asks: "ship's bell, one stroke, ringing, 4 s",
    file: 'Lighthouse stair/ships bell 192.wav',
    name: "Ship's bell, one stroke",
    why: 'The longest ringing of all strokes on the bell, and the only one of about four seconds.',
    among: (s) => s.says('ship', 'bell') && is(s, 'hit'),
    misses: length(4),
  },
  {
    asks: 'riser to a cut at 1.85 s, slipway, Saturday, mp3',
    file: 'slipway_sat08/new recording 18.mp3',
    name: 'Low strings, held tone from A1, to a cut',
    why: 'No riser of the Saturdays on the slipway in MP3 stops nearer to 1.85 s.',
    among: (s) => is(s, 'riser') && s.at('slipway', 'sat') && s.format === 'MP3',
    misses: accent(1.85),
  },
  {
    asks: 'short dry hit on A flat 4, quay',
    file: 'quay_tue10/new recording 28.mp3',
    name: "Ship's bell, felt beater from below, hard, damped",
    why: 'Among the pitched hits on the quay within a quarter tone of A flat 4 the shortest.',
    among: (s) => is(s, 'hit') && s.at('quay') && cents(s, 415.3) < 50,
    misses: length(0.01),
  },
  {
    asks: 'phrase of about 1.9 s, accent at 1 s, watch hut, Friday',
    file: 'watch_hut_fri29/Audio 29-144.wav',
    name: 'Drips under the quay, plain, swelling, take 2',
    why: 'Of the phrases of those Fridays length and accent together are nearest.',
    among: (s) => is(s, 'phrase') && s.at('watch', 'hut', 'fri'),
    misses: both(1.9, 1),
  },
  {
    asks: 'glasses, the good one, kitchen, hit under half a second',
    file: 'kitchen/glasses 🥂 good one.wav',
    name: 'Pickle jar, knuckle',
    why: 'The only short hit among the glasses of the kitchen session.',
    among: (s) => s.at('kitchen', 'glasses') && is(s, 'hit') && s.lengthSeconds < 0.5,
  },
  {
    asks: 'harmonium, one reed held on C3',
    file: '05 Chapel hall, Friday/harmonium.aiff',
    name: 'Harmonium, one reed, held',
    why: 'The one harmonium tone that holds, on C3 (130.8 Hz).',
    among: (s) => s.says('harmonium') && cents(s, 130.81) < 50,
  },
  {
    asks: 'dry wood hit, kitchen, Friday, 260 ms',
    file: '13 kitchen, Friday/kitchen wood 43.mp3',
    name: 'Wooden block, knuckle from behind',
    equals: 3,
    why: 'Of the wood hits of that Friday in the kitchen none is nearer to 260 ms.',
    among: (s) => s.says('wood') && is(s, 'hit') && s.at('kitchen', 'fri'),
    misses: length(0.26),
  },
  {
    asks: 'hit cut off, from the to sort folder, dark, about 2.7 s',
    file: 'to sort/REC0015.wav',
    name: 'Tam-tam, stopped too early',
    why: 'The only dark hit in that folder of about this length.',
    among: (s) => s.file.startsWith('to sort/') && is(s, 'hit'),
    misses: length(2.7),
  },
  {
    asks: 'boathouse Tuesday, drone of 1.25 s, stereo, unpitched',
    file: 'boathouse_tue11/Audio 11-31.ogg',
    name: 'Shells on stone, held',
    equals: 1,
    why: 'The unpitched stereo drone of the boathouse Tuesdays nearest to 1.25 s.',
    among: (s) => is(s, 'drone') && s.at('boathouse', 'tue') && s.channels === 2 && s.pitchHz === null,
    misses: length(1.25),
  },
  {
    asks: "ship's bell with a stone, hard",
    file: '31 watch hut, Monday/watch hut metal 152.wav',
    name: "Ship's bell, beach stone, hard",
    why: 'The only hard blow of a stone on the bell.',
    among: (s) => s.says('ship', 'bell', 'stone', 'hard'),
  },
  {
    asks: 'phrase on the quay, Tuesday, accent on the second beat at 51',
    file: 'quay_tue28/new recording 137.wav',
    name: 'Drips on slate, plain, swelling, take 2',
    why: 'One beat at 51 is 1.176 s; of the phrases of those Tuesdays its accent falls nearest to that.',
    among: (s) => is(s, 'phrase') && s.at('quay', 'tue'),
    misses: accent(beats(1, 51)),
  },
  {
    asks: 'strings slide up to a cut at 2.9 s, quay',
    file: '36 quay, Monday/quay strings 185.ogg',
    name: 'Violins, sliding on G5, to a cut, take 2',
    why: 'Of all risers of strings on the quay it is cut nearest to 2.9 s.',
    among: (s) => s.says('string') && is(s, 'riser') && s.at('quay'),
    misses: accent(2.9),
  },
  {
    asks: 'breath held, no note, watch hut, flac, 1.25 s',
    file: '37 watch hut, Friday/watch hut breath 192.flac',
    name: 'Breath through teeth, held, take 2',
    why: 'The unpitched held breath of the watch hut that is kept as FLAC, nearest to 1.25 s.',
    among: (s) =>
      s.says('breath') && is(s, 'drone') && s.format === 'FLAC' && s.pitchHz === null && s.at('watch', 'hut'),
    misses: length(1.25),
  },
  {
    asks: 'water dying away, net loft, stereo, 2.1 s',
    file: 'net_loft_wed26/water 121 copy.wav',
    name: 'Water poured in the cistern, small, dying, take 2',
    equals: 1,
    why: 'Of the fading waters of the net loft none is nearer to 2.1 s.',
    among: (s) => s.says('water') && is(s, 'fade') && s.at('net', 'loft') && s.channels === 2,
    misses: length(2.1),
  },
  {
    asks: 'water phrase, watch hut Friday, mp3, about 2.8 s, accent at the start',
    file: 'watch_hut_fri29/water 142 copy.mp3',
    name: 'Drips under the quay, plain, dying, take 3',
    why: 'Of the water phrases in that file that begin with their x.',
    among: (s) => s.at('watch', 'hut', 'fri', 'water', 'mp') && is(s, 'phrase') && (s.accentSeconds ?? 9) < 0.3,
    misses: length(2.8),
  },
  {
    asks: 'kitchen Wednesday phrase 2.4 s, accent at 1 s',
    file: 'kitchen_wed17/new recording 69.aif',
    name: 'Drips into the basin, plain, held',
    why: 'Of the phrases of that Wednesday length and accent together are nearest.',
    among: (s) => is(s, 'phrase') && s.at('kitchen', 'wed'),
    misses: both(2.4, 1),
  },
  {
    asks: 'chair pulled over the floor, chapel hall, phrase, accent at 2 s',
    file: '05 Chapel hall, Friday/doors, chairs.wav',
    name: 'Chair, three short pulls',
    why: 'The only chair in the archive; its strongest pull comes at 2 s.',
    among: (s) => s.says('chair') && is(s, 'phrase') && s.name.includes('Chair'),
    misses: accent(2),
  },
  {
    asks: 'wooden riser, pump house, flac, one bar of 3/4 at 130 to the accent',
    file: '30 pump house, Monday/pump house wood 146.flac',
    name: 'Door, bowed, to a cut',
    why: 'Three beats at 130 are 1.385 s; of the wooden risers of the pump house in FLAC its accent is the nearest.',
    among: (s) => s.says('wood') && is(s, 'riser') && s.at('pump', 'house') && s.format === 'FLAC',
    misses: accent(beats(3, 130)),
  },
  {
    asks: 'water phrase on the quay, over 2.5 s, accent at 2.3 s',
    file: 'quay_tue28/water 135 copy.wav',
    name: 'Drips in the cistern, plain, held, take 4',
    why: 'Of the phrases of water on the quay that last longer than 2.5 s its accent is nearest to 2.3 s.',
    among: (s) => s.says('water') && is(s, 'phrase') && s.at('quay') && s.lengthSeconds > 2.5,
    misses: accent(2.3),
  },
  {
    asks: 'three blows at 96, ice cellar Wednesday, about 3.4 s',
    file: 'ice_cellar_wed21/new recording 92.wav',
    name: 'Saw blade, wooden stick, three at 96',
    why: 'The only three blows at 96 of that Wednesday.',
    among: (s) => s.name.includes('three at 96') && s.at('ice', 'cellar', 'wed'),
  },
  {
    asks: 'riser, watch hut Saturday, mp3, two beats of 52 to the accent',
    file: 'watch_hut_sat07/TRACK_10.mp3',
    name: 'Window pane, wet finger, to a cut',
    why: 'Two beats at 52 are 2.308 s; no riser of that Saturday in MP3 is cut nearer to it.',
    among: (s) => is(s, 'riser') && s.at('watch', 'hut', 'sat') && s.format === 'MP3',
    misses: accent(beats(2, 52)),
  },
  {
    asks: 'wood riser in the kitchen on Thursday, one bar at 132, accent at end',
    file: '15 kitchen, Thursday/kitchen wood 55.flac',
    name: 'Boat hull, threaded rod drawn to a blow, one bar at 132',
    why: 'Four beats at 132 are 1.818 s, where this one is struck; no other wooden riser of that day comes near.',
    among: (s) => s.says('wood') && is(s, 'riser') && s.at('kitchen', 'thu'),
    misses: accent(beats(4, 132)),
  },
  {
    asks: 'chain let go on the mooring ring, chapel hall',
    file: '33 chapel hall, Tuesday/chapel hall metal 168.wav',
    name: 'Mooring ring, chain let go',
    why: 'The only one of the name in that place.',
    among: (s) => s.says('mooring', 'ring', 'chain') && s.at('chapel', 'hall') && is(s, 'fade'),
  },
  {
    asks: 'organ pipe rising to a cut, low, around 105 Hz',
    file: '14 watch hut, Thursday/watch hut breath 53.wav',
    name: 'Organ pipe near A flat2, to a cut',
    why: 'The one organ pipe that rises within a quarter tone of 105 Hz.',
    among: (s) => s.says('organ', 'pipe') && is(s, 'riser') && cents(s, 105) < 50,
  },
  {
    asks: 'tarpualin bowed, swell of 1.6 s',
    file: '23 watch hut, Friday/watch hut skin 105.wav',
    name: 'Tarpaulin, bowed, swelling, take 2',
    why: 'Of the bowed swells on tarpaulin (with two letters swapped) the nearest to 1.6 s.',
    among: (s) => s.says('tarpaulin', 'bow') && is(s, 'swell'),
    misses: length(1.6),
  },
  {
    asks: 'boiler plate pulsing at 120, rough, over 5 s',
    file: 'pumphouse_thu/pump house plates.wav',
    name: 'Boiler plate, brush wheel, pulsing at 120',
    why: 'The only pulse on the boiler plate longer than 5 s.',
    among: (s) => s.says('boiler', 'plate') && is(s, 'pulse') && s.lengthSeconds > 5,
  },
  {
    asks: 'low strings tremolo on C3, sustained',
    file: '13 kitchen, Friday/kitchen strings 46.wav',
    name: 'Low strings, tremolo on C3, held',
    why: 'The only held tremolo of the low strings that is named by C3.',
    among: (s) => s.says('low', 'string', 'tremolo') && s.name.includes(' C3') && is(s, 'drone'),
  },
  {
    asks: 'bowed oar to a cut',
    file: '13 kitchen, Friday/kitchen wood 47.wav',
    name: 'Oar, bowed, to a cut',
    why: 'So it is named; the first take of it.',
    among: (s) => s.name === 'Oar, bowed, to a cut',
  },
  {
    asks: 'wood block pulse, 5 at 108',
    file: '33 chapel hall, Tuesday/chapel hall wood 167.wav',
    name: 'Wooden block, wooden stick, five at 108',
    why: 'The only five blows at 108 on a wooden block.',
    among: (s) => s.says('wood', 'block', '108') && is(s, 'pulse') && s.says('five'),
  },
  {
    asks: 'swell with a chain on the saw, accent at 1.5 s',
    file: '13 kitchen, Friday/kitchen metal 48.wav',
    name: 'Saw blade, chain round',
    why: 'Of the swells of a chain on the saw blade its accent is nearest to 1.5 s.',
    among: (s) => s.says('saw', 'chain') && is(s, 'swell'),
    misses: accent(1.5),
  },
  {
    asks: 'bass strings tremolo, crescendo, slipway, just over a second to the peak, 1.9 s',
    file: '27 slipway, Saturday/slipway strings 130.wav',
    name: 'Low strings, tremolo from F sharp2, swelling',
    why: 'Of the swelling tremolos of low strings at the slipway the nearest to 1.9 s.',
    among: (s) => s.says('low', 'string', 'tremolo') && is(s, 'swell') && s.at('slipway'),
    misses: length(1.9),
  },
  {
    asks: 'string cluster, flautando, held, airy',
    file: '05 Chapel hall, Friday/strings B.wav',
    name: 'Strings, flautando cluster',
    why: 'The only cluster played flautando.',
    among: (s) => s.says('string', 'flautando', 'cluster'),
  },
  {
    asks: 'reed flutter, held, 3 beats of 7/8 at eighth = 268',
    file: '35 slipway, Tuesday/slipway breath 180.wav',
    name: 'Reed near A flat3, held, fluttered',
    why: 'Three quavers at 268 are 0.67 s: of the fluttered reeds that hold, the nearest.',
    among: (s) => s.says('reed', 'flutter') && is(s, 'drone'),
    misses: length(beats(3, 268)),
  },
  {
    asks: 'bottles rolling, not blown',
    file: 'kitchen/bottles.aif',
    name: 'Two bottles rolling on stone',
    why: 'The only bottles that roll.',
    among: (s) => s.says('bottle', 'rolling'),
  },
  {
    asks: 'dark swell to sort, mains hum, accent at 1.8 s',
    file: 'to sort/REC0016.wav',
    name: 'Iron rail, bowed by the fuse box',
    why: 'The only swell in that folder with hum on it.',
    among: (s) => s.file.startsWith('to sort/') && is(s, 'swell'),
    misses: accent(1.8),
  },
  {
    asks: 'bowed cymbal, held, between 3 and 3.5 s',
    file: '27 slipway, Saturday/slipway metal 127.wav',
    name: 'Cymbal, bowed, held',
    why: 'The only bowed and held cymbal of that length.',
    among: (s) =>
      s.says('cymbal', 'bow') && !s.says('crack') && is(s, 'drone') && s.lengthSeconds >= 3 && s.lengthSeconds <= 3.5,
  },
  {
    asks: 'metal pulsing, quay Tuesday, about 2 s, around 505 Hz',
    file: 'quay_tue10/metal 30 copy.mp3',
    name: 'Scaffold pipe, bowed, pulsing',
    why: 'The only metal pulse of those Tuesdays within a quarter tone of 505 Hz.',
    among: (s) => s.says('metal') && is(s, 'pulse') && s.at('quay', 'tue') && cents(s, 505) < 50,
    misses: length(2),
  },
  {
    asks: 'reed flutter, pulsing, chapel hall',
    file: '24 chapel hall, Saturday/chapel hall breath 110.wav',
    name: 'Reed near A2, pulsing, fluttered',
    why: 'The only fluttered reed that pulses in the chapel hall.',
    among: (s) => s.says('reed', 'flutter') && is(s, 'pulse') && s.at('chapel', 'hall'),
  },
  {
    asks: 'quiet swell from the to sort folder, note D5, peak at 1.6 s',
    file: 'to sort/REC0013.wav',
    name: 'Wine glass, far too quiet',
    why: 'The only swell in that folder on D5 (587 Hz, within a quarter tone).',
    among: (s) => s.file.startsWith('to sort/') && is(s, 'swell') && cents(s, 587.33) < 50,
  },
];
