/** The net loft: skins, planks and oars, and the loops cut from them. */
import type { FilePlan } from '../file-plan.ts';
import { bars, beats, blowsAt, bowed, drone, fade, riser, sound, struck, swell, swiped, TAKE } from '../shorthand.ts';

const LOFT = '02 net loft';

export const NET_LOFT_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${LOFT}/net loft skins.wav`,
    channels: 1,
    room: 'netLoft',
    floorDbfs: -66,
    division: 'regions',
    embedded: {
      originator: 'Petrel handheld',
      description: 'Drums, sheet membranes, canvas',
      date: '2025-03-04',
      time: '09:10:00',
      keywords: true,
    },
    sounds: [
      sound('Frame drum, flat hand', -9, struck('frameDrum', 'hand'), 'dark dry'),
      sound(
        'Frame drum, fingertips, rolling',
        -17,
        { kind: 'clatter', body: 'frameDrum', tool: 'hand', voices: 2, blowsPerSecond: 17, shape: swell(3, 0.7) },
        'dark',
      ),
      sound('Frame drum, rubber ball moan', -16, bowed('frameDrum', swell(2.2), { with: 'ball', pressure: 2 }), 'dark'),
      sound('Big drum, felt beater, one', -5, struck('bigDrum', 'felt'), 'dark low'),
      sound(
        'Big drum, heartbeat at 60',
        -9,
        struck('bigDrum', 'felt', { blows: blowsAt([0, 1], [0.31, 0.6], [1, 0.97], [1.32, 0.58], [2, 1], [2.3, 0.6]) }),
        'dark low',
      ),
      sound('Tarpaulin, flat hand', -10, struck('tarpaulin', 'hand'), 'dry'),
      sound('Sheet membrane, brush away', -20, swiped('tarpaulin', 'wireBrush', fade(1.8)), 'airy'),
      sound(
        'Wet sail, one flap',
        -8,
        struck('wetSail', 'hand', { blows: blowsAt([0, 0.6], [0.07, 1], [0.19, 0.4]) }),
        'wet dark',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${LOFT}/TRACK_2 copy (1).wav`,
    sampleRateHz: 44100,
    bitDepth: 16,
    room: 'netLoft',
    floorDbfs: -63,
    division: 'gaps',
    sounds: [
      sound(
        'Oar, dropped on boards',
        -7,
        struck('oar', 'wood', { blows: blowsAt([0, 1], [0.21, 0.45], [0.33, 0.25], [0.4, 0.15]) }),
        'dry',
      ),
      sound('Plank, beach stone drawn along', -15, swiped('plank', 'stone', swell(1.6)), 'rough'),
      sound('Plank, two knocks', -11, struck('plank', 'knuckle', { blows: blowsAt([0, 0.85], [0.34, 1]) }), 'dry'),
      sound('Wooden block, stick, bright', -12, struck('woodBlock', 'wood'), 'dry bright'),
      sound(
        'Wooden blocks, loose, six at 108',
        -13,
        {
          kind: 'clatter',
          body: 'woodBlock',
          tool: 'wood',
          voices: 4,
          blowsPerSecond: 7,
          beatsPerMinute: 108,
          shape: drone(3.3, 0.1),
        },
        'dry',
      ),
      sound('Net rope, hauled and creaking', -16, {
        kind: 'creak',
        body: 'plank',
        shape: swell(2.6),
        fromHz: 18,
        toHz: 60,
        uneven: 0.7,
        scrape: 0.35,
      }),
    ],
  },
  {
    ...TAKE,
    path: `${LOFT}/oars & planks.flac`,
    format: 'FLAC',
    room: 'netLoft',
    floorDbfs: -70,
    division: 'gaps',
    embedded: { title: 'Oars and planks', comment: 'net loft, tuesday afternoon', date: '2025-03-04', keywords: true },
    sounds: [
      sound('Oar, felt beater on the blade', -12, struck('oar', 'felt'), 'dark'),
      sound('Oar, bowed on the edge', -18, bowed('oar', swell(2.4), { pressure: 2.5 }), 'rough'),
      sound(
        'Plank, rod rolled to a knock, one bar at 84',
        -10,
        swiped('plank', 'threadedRod', riser(bars(1, 84)), { accent: 'oarEnd' }),
        'dry rough',
      ),
      sound('Boat hull, fist, inside', -6, struck('hull', 'hand'), 'dark hollow'),
    ],
  },
  loop(
    'frame drum 96bpm 2 bars.wav',
    bars(2, 96),
    sound(
      'Frame drum, loop, two bars at 96',
      -8,
      struck('frameDrum', 'hand', { blows: beats(8, 96, [1, 0.45, 0.7, 0.5]) }),
      'dark',
    ),
  ),
  loop(
    'tarpaulin 120bpm 1 bar.wav',
    bars(1, 120),
    sound(
      'Tarpaulin, loop, one bar at 120',
      -11,
      struck('tarpaulin', 'hand', { blows: beats(8, 240, [1, 0.3, 0.6, 0.3]) }),
      'dry',
    ),
  ),
  loop(
    'stone on plank 7-8 at 132.wav',
    bars(1, 132 * 2, 7),
    sound(
      'Plank, stone ostinato, seven eights at 132',
      -12,
      struck('plank', 'stone', { blows: beats(7, 264, [1, 0.4, 0.7, 0.4, 0.8, 0.4, 0.5]) }),
      'dry',
    ),
  ),
  loop(
    'wire drone 8s.wav',
    8,
    sound(
      'Long wire, drone loop, eight seconds',
      -18,
      bowed('longWire', drone(9.5, 1.5), { pressure: 0.9, maxSeconds: 9.5 }),
      'dark pitched',
    ),
  ),
];

/** Loops were cut and cleaned at a desk: no noise floor, an exact length, root and loop points where they help. */
function loop(name: string, loopSeconds: number, only: ReturnType<typeof sound>): FilePlan {
  return {
    ...TAKE,
    path: `${LOFT}/loops/${name}`,
    room: 'netLoft',
    floorDbfs: null,
    division: 'single',
    loopSeconds,
    embedded: { title: only.name, keywords: true },
    sounds: [{ ...only, keywords: [...only.keywords, 'loop'] }],
  };
}
