/** The slipway: chains, a hull on shingle, the sea; out of doors. */
import type { FilePlan } from '../file-plan.ts';
import { beats, blowsAt, drone, fade, pulse, riser, sound, struck, swell, TAKE } from '../shorthand.ts';

const SLIP = 'slipway (wed)';

export const SLIPWAY_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${SLIP}/chains on the slip.wav`,
    bitDepth: 16,
    room: 'slipway',
    floorDbfs: -56,
    division: 'gaps',
    embedded: {
      originator: 'Petrel handheld',
      description: 'Chains, slipway, some sea behind',
      date: '2025-03-05',
      time: '08:05:00',
      keywords: true,
    },
    sounds: [
      sound(
        'Heavy chain, dragged up the stones',
        -10,
        { kind: 'rattle', things: 'heavy chain', perSecond: 60, shape: drone(3.2, 0.6) },
        'rough wet',
      ),
      sound(
        'Heavy chain, run out to a stop',
        -6,
        {
          kind: 'layered',
          gesture: 'riser',
          layers: [
            {
              source: { kind: 'rattle', things: 'heavy chain', perSecond: 120, shape: riser(2.2, 1.2) },
              startSeconds: 0,
              levelDb: -7,
            },
            { source: struck('anchor', 'steel', { size: 1.6 }), startSeconds: 2.2, levelDb: 0 },
          ],
        },
        'rough',
      ),
      sound(
        'Light chain, shaken in bursts at 96',
        -14,
        { kind: 'rattle', things: 'light chain', perSecond: 130, shape: pulse(2.5, 96) },
        'bright',
      ),
      sound(
        'Anchor let fall on stone',
        -4,
        struck('anchor', 'stone', { blows: blowsAt([0, 1], [0.12, 0.35]), size: 1.6 }),
        'dark',
      ),
      sound(
        'Shingle, poured from a bucket',
        -15,
        { kind: 'rattle', things: 'shingle', perSecond: 420, shape: swell(2.4, 0.4) },
        'dry',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${SLIP}/new recording 14.wav`,
    sampleRateHz: 44100,
    bitDepth: 16,
    channels: 1,
    room: 'slipway',
    floorDbfs: -55,
    division: 'gaps',
    sounds: [
      sound(
        'Boat hull, pushed over shingle',
        -9,
        { kind: 'creak', body: 'hull', shape: swell(3, 0.6), fromHz: 30, toHz: 75, uneven: 0.9, scrape: 0.8 },
        'dark wet',
      ),
      sound(
        'Boat hull, oar end, three',
        -7,
        struck('hull', 'oarEnd', { blows: beats(3, 84, [1, 0.8, 0.9]) }),
        'dark hollow',
      ),
      sound(
        'Shells, a handful let go',
        -17,
        { kind: 'rattle', things: 'shells', perSecond: 120, shape: fade(1.1) },
        'bright dry',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${SLIP}/waves long take.wav`,
    container: 'rf64',
    bitDepth: 16,
    room: 'slipway',
    floorDbfs: -57,
    division: 'gaps',
    embedded: {
      originator: 'Skua eight-track',
      description: 'Waves on the slip, rising tide',
      date: '2025-03-05',
      time: '13:22:00',
    },
    sounds: [
      sound(
        'Wave, breaking and drawing back',
        -12,
        { kind: 'water', what: 'wave', shape: swell(6, 0.35, 1.8) },
        'dark',
      ),
      sound('Wave, small, near', -17, { kind: 'water', what: 'wave', shape: swell(3.4, 0.3, 2) }, 'near'),
      sound('Wave, drawn back over shingle', -15, { kind: 'water', what: 'wave', shape: fade(4.5) }, 'airy'),
    ],
  },
  {
    ...TAKE,
    path: `${SLIP}/cave mouth 4ch.wav`,
    container: 'extensible',
    bitDepth: 16,
    channels: 4,
    room: 'slipway',
    floorDbfs: -60,
    division: 'gaps',
    embedded: {
      originator: 'Skua eight-track',
      description: 'Cave mouth, four microphones',
      date: '2025-03-05',
      time: '14:50:00',
    },
    sounds: [
      sound('Cave mouth, wave all round', -10, { kind: 'water', what: 'wave', shape: swell(5, 0.45) }, 'dark surround'),
      sound(
        'Cave mouth, drips all round',
        -20,
        { kind: 'water', what: 'drips', perSecond: 5, size: 1.4, shape: drone(4, 0.2) },
        'surround',
      ),
    ],
  },
];
