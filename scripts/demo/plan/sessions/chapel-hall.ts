/** The chapel hall, afternoon: breath, reeds, doors and chairs. */
import type { FilePlan } from '../file-plan.ts';
import { drone, fade, riser, sound, struck, swell, TAKE } from '../shorthand.ts';

const CHAPEL = '05 Chapel hall, Friday';

export const CHAPEL_HALL_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${CHAPEL}/breath and pipes.wav`,
    channels: 1,
    room: 'chapelHall',
    floorDbfs: -67,
    division: 'regions',
    embedded: {
      originator: 'Tern field recorder',
      description: 'Organ pipes off the chest, blown',
      date: '2025-03-07',
      time: '14:20:00',
      keywords: true,
    },
    sounds: [
      sound(
        'Organ pipe, blown by mouth, swell',
        -16,
        { kind: 'breath', vessel: 'pipe', hz: 261.6, shape: swell(3, 0.55) },
        'airy pitched',
      ),
      sound(
        'Organ pipe, low, wavering',
        -18,
        { kind: 'breath', vessel: 'pipe', hz: 98, shape: drone(4, 0.8) },
        'airy pitched dark',
      ),
      sound(
        'Organ pipe, fluttered',
        -15,
        { kind: 'breath', vessel: 'pipe', hz: 392, flutterHz: 22, shape: swell(2.2) },
        'rough pitched',
      ),
      sound(
        'Whistle, across the hall',
        -20,
        { kind: 'breath', vessel: 'whistle', hz: 1174.7, shape: drone(1.8, 0.2) },
        'far pitched bright',
      ),
      sound('Breath alone, in', -24, { kind: 'breath', vessel: 'air', hz: 900, shape: riser(1.6, 1.2) }, 'airy'),
      sound('Breath alone, out', -23, { kind: 'breath', vessel: 'air', hz: 600, shape: fade(2) }, 'airy'),
    ],
  },
  {
    ...TAKE,
    path: `${CHAPEL}/harmonium.aiff`,
    format: 'AIFF',
    room: 'chapelHall',
    floorDbfs: -62,
    division: 'gaps',
    embedded: { title: 'Harmonium', comment: 'one reed at a time, bellows noise' },
    sounds: [
      sound(
        'Harmonium, one reed, held',
        -17,
        { kind: 'breath', vessel: 'reed', hz: 130.8, shape: drone(4, 0.5) },
        'pitched',
      ),
      sound('Harmonium, reed sagging', -16, { kind: 'breath', vessel: 'reed', hz: 174.6, shape: fade(3.5) }, 'pitched'),
      sound('Harmonium case, knocked', -13, struck('pew', 'knuckle', { size: 1.2 }), 'hollow'),
    ],
  },
  {
    ...TAKE,
    path: `${CHAPEL}/doors, chairs.wav`,
    channels: 1,
    bitDepth: 16,
    room: 'chapelHall',
    floorDbfs: -65,
    division: 'gaps',
    embedded: {
      originator: 'Petrel handheld',
      description: 'moving things about',
      date: '2025-03-07',
      time: '17:45:00',
    },
    sounds: [
      sound('Chair, pushed across the boards', -10, {
        kind: 'creak',
        body: 'chairLeg',
        shape: swell(1.5, 0.5),
        fromHz: 90,
        toHz: 190,
        uneven: 0.5,
        scrape: 0.4,
      }),
      sound('Chair, three short pulls', -11, {
        kind: 'layered',
        gesture: 'phrase',
        layers: [
          {
            source: {
              kind: 'creak',
              body: 'chairLeg',
              shape: swell(0.5, 0.4),
              fromHz: 130,
              toHz: 220,
              uneven: 0.4,
              scrape: 0.4,
            },
            startSeconds: 0,
            levelDb: -4,
          },
          {
            source: {
              kind: 'creak',
              body: 'chairLeg',
              shape: swell(0.4, 0.4),
              fromHz: 150,
              toHz: 260,
              uneven: 0.4,
              scrape: 0.4,
            },
            startSeconds: 0.8,
            levelDb: -6,
          },
          {
            source: {
              kind: 'creak',
              body: 'chairLeg',
              shape: swell(0.9, 0.6),
              fromHz: 80,
              toHz: 240,
              uneven: 0.5,
              scrape: 0.5,
            },
            startSeconds: 1.5,
            levelDb: 0,
          },
        ],
      }),
      sound(
        'Chapel door, latch, creak and slam',
        -4,
        {
          kind: 'layered',
          gesture: 'phrase',
          layers: [
            { source: struck('mooringRing', 'coin', { dampSeconds: 0.02 }), startSeconds: 0, levelDb: -16 },
            {
              source: {
                kind: 'creak',
                body: 'door',
                shape: swell(2.2, 0.7),
                fromHz: 7,
                toHz: 55,
                uneven: 0.6,
                scrape: 0.1,
              },
              startSeconds: 0.3,
              levelDb: -14,
            },
            { source: struck('door', 'oarEnd'), startSeconds: 2.7, levelDb: 0 },
          ],
        },
        'dark',
      ),
      sound('Chapel door, slam', -3, struck('door', 'oarEnd', { size: 1.1 }), 'dark'),
      sound('Vestry door, long creak', -15, {
        kind: 'creak',
        body: 'door',
        shape: swell(3.2, 0.6),
        fromHz: 5,
        toHz: 70,
        uneven: 0.6,
        scrape: 0.05,
        size: 0.6,
      }),
      sound(
        'Pew, flat hands, rumbling',
        -12,
        { kind: 'clatter', body: 'pew', tool: 'hand', voices: 4, blowsPerSecond: 22, shape: swell(3, 0.7) },
        'dark',
      ),
    ],
  },
];
