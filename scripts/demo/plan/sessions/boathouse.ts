/** The boathouse: big metal, struck, drawn over and bowed; chains and buckets. */
import type { FilePlan } from '../file-plan.ts';
import { bars, beats, blowsAt, bowed, drone, fade, riser, sound, struck, swell, swiped, TAKE } from '../shorthand.ts';

const BOATHOUSE = '01 Boathouse, Monday';

export const BOATHOUSE_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${BOATHOUSE}/Boathouse metal swipes.wav`,
    room: 'boathouse',
    floorDbfs: -69,
    division: 'regions',
    embedded: {
      originator: 'Tern field recorder',
      description: 'Swipes on metal, boathouse, doors shut, tide out',
      date: '2025-03-03',
      time: '10:14:00',
      keywords: true,
    },
    sounds: [
      sound(
        'Tam-tam, chain drawn to rim, two bars at 84',
        -6,
        swiped('tamTam', 'chain', riser(bars(2, 84)), { accent: 'felt', maxSeconds: 9.5 }),
        'dark long',
      ),
      sound(
        'Tam-tam, chain drawn to rim, one bar at 84',
        -8,
        swiped('tamTam', 'chain', riser(bars(1, 84), 1.6), { accent: 'felt', maxSeconds: 7.5 }),
        'dark',
      ),
      sound('Boiler plate, wire brush up', -14, swiped('boilerPlate', 'wireBrush', swell(1.9)), 'bright rough'),
      sound(
        'Sheet steel, rod dragged to a blow, one bar at 96',
        -7,
        swiped('sheetSteel', 'steel', riser(bars(1, 96)), { accent: 'wood' }),
        'rough',
      ),
      sound(
        'Saw blade, coin along the teeth, three beats at 84',
        -12,
        swiped('sawBlade', 'coin', riser(bars(1, 84, 3), 1.2), { accent: 'coin', accentDb: 3 }),
        'bright rough',
      ),
      sound(
        'Cymbal, brush circles away',
        -18,
        swiped('cymbal', 'wireBrush', fade(3.2), { maxSeconds: 5 }),
        'bright airy',
      ),
      sound(
        'Boiler plate, chain pulled off fast',
        -9,
        swiped('boilerPlate', 'chain', riser(0.9, 1.3), { accent: 'steel' }),
        'rough',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${BOATHOUSE}/Boathouse metal hits.wav`,
    bitDepth: 16,
    room: 'boathouse',
    floorDbfs: -69,
    division: 'gaps',
    embedded: {
      originator: 'Tern field recorder',
      description: 'Hits on metal, boathouse, doors shut',
      date: '2025-03-03',
      time: '11:02:00',
      keywords: true,
    },
    sounds: [
      sound(
        'Boiler plate, felt beater, soft',
        -24,
        struck('boilerPlate', 'felt', { blows: blowsAt([0, 0.4]) }),
        'dark',
      ),
      sound('Boiler plate, steel rod, hard', -5, struck('boilerPlate', 'steel', { maxSeconds: 5 }), 'bright'),
      sound('Anchor, beach stone on the fluke', -9, struck('anchor', 'stone'), 'dry'),
      sound('Mooring ring, steel rod, left to ring', -13, struck('mooringRing', 'steel'), 'bright ringing'),
      sound('Oil drum, oar end', -4, struck('oilDrum', 'oarEnd'), 'dark hollow'),
      sound(
        'Oil drum, flat hand, four at 84',
        -11,
        struck('oilDrum', 'hand', { blows: beats(4, 84, [1, 0.7]) }),
        'hollow dark',
      ),
      sound('Stove lid, wooden stick, damped', -12, struck('stoveLid', 'wood', { dampSeconds: 0.12 }), 'dry'),
      sound(
        'Sheet steel shaken once, then left',
        -10,
        struck('sheetSteel', 'hand', { blows: blowsAt([0, 1], [0.16, 0.5], [0.29, 0.3]) }),
        'thunder dark',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${BOATHOUSE}/Audio 017-03.wav`,
    sampleRateHz: 44100,
    bitDepth: 16,
    channels: 1,
    room: 'boathouse',
    floorDbfs: -61,
    division: 'gaps',
    sounds: [
      sound('Zinc bucket, knuckle', -13, struck('bucket', 'knuckle'), 'dry hollow'),
      sound(
        'Zinc bucket kicked along the slip',
        -6,
        { kind: 'clatter', body: 'bucket', tool: 'stone', voices: 3, blowsPerSecond: 9, shape: fade(1.6) },
        'rough',
      ),
      sound(
        'Heavy chain let down on boards',
        -8,
        { kind: 'rattle', things: 'heavy chain', perSecond: 70, shape: fade(1.7) },
        'dark rough',
      ),
      sound(
        'Heavy chain gathered, slow',
        -17,
        { kind: 'rattle', things: 'heavy chain', perSecond: 30, shape: swell(3.6, 0.7) },
        'rough',
      ),
      sound(
        'Rivets poured into a tin',
        -12,
        { kind: 'rattle', things: 'rivets', perSecond: 160, shape: swell(2.2, 0.3) },
        'bright',
      ),
      sound('Cracked cymbal, stick, choked', -7, struck('crackedCymbal', 'wood', { dampSeconds: 0.3 }), 'rough bright'),
    ],
  },
  {
    ...TAKE,
    path: `${BOATHOUSE}/Tam-tam, felt, left to ring (good).wav`,
    sampleRateHz: 96000,
    room: 'boathouse',
    floorDbfs: -74,
    division: 'single',
    embedded: {
      originator: 'Skua eight-track',
      date: '2025-03-03',
      time: '15:20:00',
      title: 'Tam-tam, felt, left to ring',
    },
    sounds: [
      sound(
        'Tam-tam, felt beater, left to ring',
        -9,
        struck('tamTam', 'felt', { maxSeconds: 8.5 }),
        'dark long ringing',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${BOATHOUSE}/bowed metal.wav`,
    bitDepth: 16,
    container: 'extensible',
    room: 'boathouse',
    floorDbfs: -72,
    division: 'points',
    embedded: {
      originator: 'Skua eight-track',
      description: 'Bowed things',
      date: '2025-03-03',
      time: '16:05:00',
      keywords: true,
    },
    sounds: [
      sound(
        'Tam-tam, bow at the rim, slow swell',
        -13,
        bowed('tamTam', swell(5.5, 0.7), { pressure: 1.6, maxSeconds: 9 }),
        'dark',
      ),
      sound('Cymbal, bowed edge to a cut', -15, bowed('cymbal', riser(3, 1.4), { pressure: 1.2 }), 'bright'),
      sound('Saw blade, bowed and bent', -14, bowed('sawBlade', swell(2.8, 0.4), { pressure: 0.7 }), 'pitched'),
      sound(
        'Boiler plate, rubber ball moan',
        -18,
        bowed('boilerPlate', swell(2.6, 0.5), { with: 'ball', pressure: 2 }),
        'dark rough',
      ),
      sound(
        'Bronze bar, bowed, held',
        -20,
        bowed('bronzeBar', drone(4.5), { pressure: 0.5, maxSeconds: 8 }),
        'pitched smooth',
      ),
    ],
  },
];
