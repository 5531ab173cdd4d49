/** The lighthouse stair: rails, rods and a bell in four seconds of reverberation. */
import type { FilePlan } from '../file-plan.ts';
import { blowsAt, bowed, drone, sound, struck, swell, TAKE } from '../shorthand.ts';

const STAIR = 'Lighthouse stair';

export const LIGHTHOUSE_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${STAIR}/LH stair hits 96k.wav`,
    bitDepth: 16,
    sampleRateHz: 96000,
    room: 'lighthouseStair',
    floorDbfs: -66,
    division: 'gaps',
    embedded: {
      originator: 'Skua eight-track',
      description: 'Stair, mics at the foot',
      date: '2025-03-06',
      time: '09:40:00',
    },
    sounds: [
      sound('Stair rail, steel rod, from below', -8, struck('stairRail', 'steel'), 'bright far'),
      sound(
        'Stair rail, five going up',
        -10,
        struck('stairRail', 'wood', {
          blows: blowsAt([0, 0.5], [0.42, 0.6], [0.81, 0.7], [1.16, 0.85], [1.48, 1]),
        }),
        'far',
      ),
      sound('Lamp cover, yarn mallet', -12, struck('lampCover', 'yarn', { maxSeconds: 4 }), 'ringing dark'),
    ],
  },
  {
    ...TAKE,
    path: `${STAIR}/rods.wav`,
    bitDepth: 16,
    room: 'lighthouseStair',
    floorDbfs: -71,
    division: 'regions',
    embedded: {
      originator: 'Skua eight-track',
      description: 'Singing rods',
      date: '2025-03-06',
      time: '10:30:00',
      keywords: true,
    },
    sounds: [
      sound(
        'Singing rod, fingers and rosin, held',
        -16,
        bowed('singingRod', drone(4.5, 1.2), { with: 'finger', pressure: 0.4, maxSeconds: 7 }),
        'pitched smooth',
      ),
      sound(
        'Singing rod, long swell',
        -13,
        bowed('singingRod', swell(5, 0.75), { with: 'finger', pressure: 0.5, size: 1.5, maxSeconds: 8 }),
        'pitched smooth',
      ),
      sound('Scaffold pipe, wooden stick', -11, struck('pipe', 'wood'), 'pitched ringing'),
      sound(
        'Scaffold pipe, low, rubber mallet',
        -15,
        struck('pipe', 'rubber', { size: 2.4, maxSeconds: 5 }),
        'pitched dark',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${STAIR}/singing rod ROOT.wav`,
    sampleRateHz: 44100,
    channels: 1,
    room: 'lighthouseStair',
    floorDbfs: -78,
    division: 'single',
    embedded: { title: 'Singing rod, struck', rootNote: true, keywords: true },
    sounds: [
      sound('Singing rod, struck on the end', -10, struck('singingRod', 'wood', { maxSeconds: 6 }), 'pitched ringing'),
    ],
  },
  {
    ...TAKE,
    path: `${STAIR}/ships bell 192.wav`,
    sampleRateHz: 192000,
    channels: 1,
    room: 'lighthouseStair',
    floorDbfs: -73,
    division: 'single',
    embedded: { originator: 'Skua eight-track', date: '2025-03-06', time: '12:11:00', rootNote: true },
    sounds: [
      sound("Ship's bell, one stroke", -8, struck('shipsBell', 'steel', { maxSeconds: 6 }), 'pitched bright ringing'),
    ],
  },
];
