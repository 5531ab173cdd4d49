/** The pump house: plates in the air, and the same on a contact microphone. */
import type { FilePlan } from '../file-plan.ts';
import { beats, bowed, drone, pulse, riser, sound, struck, swell, swiped, TAKE } from '../shorthand.ts';

const PUMP = 'pumphouse_thu';

export const PUMP_HOUSE_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${PUMP}/contact 01.wav`,
    channels: 1,
    room: 'contact',
    microphone: 'contact',
    floorDbfs: -58,
    division: 'gaps',
    embedded: { originator: 'Dunlin pocket', date: '2025-03-06', time: '14:47:00' },
    sounds: [
      sound(
        'Pump pipe, contact, threaded rod to a blow',
        -7,
        swiped('pipe', 'threadedRod', riser(1.6), { accent: 'steel', size: 2 }),
        'rough close',
      ),
      sound('Sheet steel, contact, brush and hum', -16, swiped('sheetSteel', 'wireBrush', swell(2.8)), 'rough close'),
      sound(
        'Oil drum, contact, rubber ball',
        -9,
        bowed('oilDrum', swell(2.4), { with: 'ball', pressure: 2.4 }),
        'dark close',
      ),
      sound(
        'Long wire, contact, bowed',
        -12,
        bowed('longWire', drone(4), { pressure: 1.4, maxSeconds: 6 }),
        'dark close pitched',
      ),
      sound('Long wire, contact, let go', -8, struck('longWire', 'steel', { maxSeconds: 5 }), 'dark close pitched'),
      sound(
        'Boiler plate, contact, grit underfoot',
        -15,
        { kind: 'rattle', things: 'shingle', perSecond: 60, shape: drone(2.4, 0.3) },
        'rough close',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${PUMP}/pump house plates.wav`,
    channels: 1,
    bitDepth: 32,
    room: 'pumpHouse',
    floorDbfs: -64,
    division: 'points',
    embedded: {
      originator: 'Petrel handheld',
      description: 'Plates and drums',
      date: '2025-03-06',
      time: '15:30:00',
      keywords: true,
    },
    sounds: [
      sound(
        'Boiler plate, brush wheel, pulsing at 120',
        -12,
        swiped('boilerPlate', 'wireBrush', pulse(4, 120)),
        'rough',
      ),
      sound(
        'Oil drum, mallet row at 72',
        -8,
        struck('oilDrum', 'rubber', { blows: beats(6, 72, [1, 0.5, 0.7]), size: 1.4 }),
        'dark',
      ),
      sound('Sheet steel, dragged chain swell', -13, swiped('sheetSteel', 'chain', swell(3.4, 0.65)), 'rough'),
      sound(
        'Sheet steel, thunder, hand',
        -6,
        struck('sheetSteel', 'rubber', { size: 1.5, maxSeconds: 5 }),
        'thunder dark',
      ),
    ],
  },
];
