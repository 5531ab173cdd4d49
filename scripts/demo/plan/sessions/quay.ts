/** The quay: wind and loose iron, out of doors. */
import type { FilePlan } from '../file-plan.ts';
import { blowsAt, drone, fade, riser, sound, struck, swell, TAKE } from '../shorthand.ts';

const QUAY = 'quay';

export const QUAY_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${QUAY}/wind 1.ogg`,
    format: 'Ogg Vorbis',
    sampleRateHz: 44100,
    bitDepth: 16,
    room: 'quay',
    floorDbfs: -60,
    division: 'gaps',
    sounds: [
      sound(
        'Wind in the rigging, rising gust',
        -13,
        { kind: 'wind', hz: 620, whistle: 0.6, shape: swell(5, 0.65) },
        'bright',
      ),
      sound('Wind under the door, holding', -20, { kind: 'wind', hz: 340, whistle: 0.8, shape: drone(6, 1.2) }, 'dark'),
      sound('Wind, broad, dying away', -16, { kind: 'wind', hz: 260, whistle: 0.1, shape: fade(5.5) }, 'dark'),
    ],
  },
  {
    ...TAKE,
    path: `${QUAY}/quay odds and ends.wav`,
    channels: 1,
    bitDepth: 16,
    room: 'quay',
    floorDbfs: -58,
    division: 'points',
    embedded: {
      originator: 'Petrel handheld',
      description: 'quay, before the ferry',
      date: '2025-03-07',
      time: '07:30:00',
    },
    sounds: [
      sound(
        'Halyard against the mast, restless',
        -15,
        { kind: 'clatter', body: 'pipe', tool: 'steel', voices: 3, blowsPerSecond: 5, shape: drone(4, 0.1) },
        'bright far',
      ),
      sound(
        'Bollard, rope tightening',
        -14,
        { kind: 'creak', body: 'hull', shape: riser(2.4, 1.2), fromHz: 9, toHz: 46, uneven: 0.6, scrape: 0.2 },
        'dark',
      ),
      sound(
        'Gangway, iron, dropped',
        -5,
        struck('boilerPlate', 'oarEnd', {
          blows: blowsAt([0, 1], [0.18, 0.4]),
          size: 1.6,
          maxSeconds: 4,
        }),
        'dark far',
      ),
      sound(
        'Fog reed across the water',
        -18,
        { kind: 'breath', vessel: 'reed', hz: 98, shape: drone(3.8, 0.6) },
        'dark far pitched',
      ),
    ],
  },
];
