/** The kitchen: glass, bottles, cutlery, water. */
import type { FilePlan } from '../file-plan.ts';
import { bars, blowsAt, bowed, drone, fade, pulse, riser, sound, struck, swell, swiped, TAKE } from '../shorthand.ts';

const KITCHEN = 'kitchen';

export const KITCHEN_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${KITCHEN}/glass rims.wav`,
    bitDepth: 24,
    room: 'kitchen',
    floorDbfs: -76,
    division: 'regions',
    embedded: {
      originator: 'Tern field recorder',
      description: 'Wine glasses, wet finger',
      date: '2025-03-04',
      time: '20:15:00',
      keywords: true,
    },
    sounds: [
      sound(
        'Wine glass, wet finger, held',
        -18,
        bowed('wineGlass', drone(4, 1), { with: 'finger', pressure: 0.35 }),
        'pitched smooth bright',
      ),
      sound(
        'Wine glass, low, slow swell',
        -16,
        bowed('wineGlass', swell(4.5, 0.7), { with: 'finger', pressure: 0.4, size: 1.6 }),
        'pitched smooth',
      ),
      sound(
        'Wine glass, small, held high',
        -21,
        bowed('wineGlass', drone(3, 0.8), { with: 'finger', pressure: 0.4, size: 0.6 }),
        'pitched smooth bright',
      ),
      sound(
        'Wine glass, finger stutters',
        -19,
        bowed('wineGlass', pulse(3, 160), { with: 'dry', pressure: 1.5 }),
        'pitched rough',
      ),
      sound(
        'Window pane, wet thumb squeak',
        -15,
        bowed('windowPane', riser(0.9, 1), { with: 'finger', pressure: 3 }),
        'rough',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${KITCHEN}/glasses 🥂 good one.wav`,
    sampleRateHz: 44100,
    bitDepth: 16,
    room: 'kitchen',
    floorDbfs: -70,
    division: 'gaps',
    sounds: [
      sound(
        'Two glasses, touched',
        -16,
        struck('wineGlass', 'coin', { blows: blowsAt([0, 1], [0.035, 0.5]) }),
        'bright pitched',
      ),
      sound('Pickle jar, knuckle', -14, struck('pickleJar', 'knuckle'), 'hollow'),
      sound('Lamp lens, yarn mallet', -12, struck('lampLens', 'yarn'), 'ringing bright'),
      sound(
        'Lamp lens, coin round the edge, two bars at 72',
        -14,
        swiped('lampLens', 'coin', riser(bars(2, 72), 1.4), { accent: 'yarn' }),
        'bright',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${KITCHEN}/bottles.aif`,
    format: 'AIFF',
    sampleRateHz: 44100,
    bitDepth: 16,
    room: 'kitchen',
    floorDbfs: -68,
    division: 'points',
    embedded: { title: 'Bottles', comment: 'struck, then blown' },
    sounds: [
      sound('Green bottle, wooden stick', -13, struck('bottle', 'wood'), 'bright dry'),
      sound(
        'Green bottle, three at 108',
        -14,
        struck('bottle', 'wood', { blows: blowsAt([0, 1], [0.556, 0.7], [1.111, 0.85]) }),
        'bright dry',
      ),
      sound(
        'Bottle, blown, long',
        -15,
        { kind: 'breath', vessel: 'bottle', hz: 174.6, shape: swell(3, 0.5) },
        'airy pitched hollow',
      ),
      sound(
        'Bottle, blown, short',
        -13,
        { kind: 'breath', vessel: 'bottle', hz: 207.7, shape: fade(0.8) },
        'airy pitched hollow',
      ),
      sound(
        'Two bottles rolling on stone',
        -18,
        { kind: 'clatter', body: 'bottle', tool: 'stone', voices: 2, blowsPerSecond: 14, shape: fade(2.2) },
        'rough bright',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${KITCHEN}/cutlery+kettle.mp3`,
    format: 'MP3',
    sampleRateHz: 44100,
    bitDepth: 16,
    room: 'kitchen',
    floorDbfs: -64,
    division: 'gaps',
    embedded: { title: 'cutlery+kettle', comment: 'rough mix from the phone' },
    sounds: [
      sound(
        'Cutlery drawer, pulled to its stop',
        -9,
        {
          kind: 'layered',
          gesture: 'riser',
          layers: [
            {
              source: { kind: 'rattle', things: 'cutlery', perSecond: 110, shape: riser(0.9, 1.1) },
              startSeconds: 0,
              levelDb: -8,
            },
            { source: struck('plank', 'oarEnd'), startSeconds: 0.9, levelDb: 0 },
            {
              source: { kind: 'rattle', things: 'cutlery', perSecond: 150, shape: fade(0.5) },
              startSeconds: 0.9,
              levelDb: -5,
            },
          ],
        },
        'bright',
      ),
      sound(
        'Cutlery, stirred',
        -16,
        { kind: 'rattle', things: 'cutlery', perSecond: 45, shape: drone(2.2, 0.3) },
        'bright',
      ),
      sound(
        'Kettle, coming to its whistle',
        -12,
        { kind: 'breath', vessel: 'whistle', hz: 1480, shape: riser(5, 1.8) },
        'bright airy pitched',
      ),
      sound(
        'Stove lid, dragged and set down',
        -11,
        swiped('stoveLid', 'steel', riser(0.8, 0.8), { accent: 'oarEnd' }),
        'rough dry',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${KITCHEN}/sink + drips.flac`,
    format: 'FLAC',
    sampleRateHz: 44100,
    bitDepth: 16,
    channels: 1,
    room: 'kitchen',
    floorDbfs: -72,
    division: 'gaps',
    embedded: { title: 'Sink and drips', comment: 'tap, jug, enamel basin', date: '2025-03-04', keywords: true },
    sounds: [
      sound(
        'Tap, dripping into the basin',
        -15,
        { kind: 'water', what: 'drips', perSecond: 2.2, shape: drone(4.5, 0.1) },
        'dry',
      ),
      sound('Jug, filled to the brim', -14, { kind: 'water', what: 'pour', shape: drone(4, 0.3) }, 'bright'),
      sound(
        'One drop, deep',
        -17,
        { kind: 'water', what: 'drips', single: true, size: 2.2, shape: fade(0.35) },
        'dark',
      ),
      sound(
        'Bubbles blown through a straw, swelling',
        -16,
        { kind: 'water', what: 'bubbles', size: 2.5, perSecond: 38, shape: swell(2.4) },
        'dark',
      ),
    ],
  },
];
