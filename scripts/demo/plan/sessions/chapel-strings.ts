/** The chapel hall, morning: a small group of strings, effects and held notes. */
import type { FilePlan } from '../file-plan.ts';
import { bars, blowsAt, drone, fade, riser, sound, struck, swell, swiped, TAKE } from '../shorthand.ts';

const CHAPEL = '05 Chapel hall, Friday';

export const CHAPEL_STRINGS_FILES: FilePlan[] = [
  {
    ...TAKE,
    path: `${CHAPEL}/strings A.wav`,
    bitDepth: 16,
    room: 'chapelHall',
    floorDbfs: -73,
    division: 'regions',
    embedded: {
      originator: 'Skua eight-track',
      description: 'Six strings in the chapel hall, effects',
      date: '2025-03-07',
      time: '10:00:00',
      scene: 'storm, crossing',
      comment: 'row of six, mics behind the stand',
      keywords: true,
    },
    sounds: [
      sound(
        'Low strings, tremolo swell',
        -12,
        { kind: 'strings', technique: 'tremolo', hz: [73.4, 110], players: 5, shape: swell(4, 0.75) },
        'dark',
      ),
      sound(
        'Strings, tremolo to a cut, two bars at 84',
        -9,
        { kind: 'strings', technique: 'tremolo', hz: [220, 233.1, 311.1], players: 6, shape: riser(bars(2, 84)) },
        'bright',
      ),
      sound(
        'Violas, bridge swell',
        -16,
        { kind: 'strings', technique: 'ponticello', hz: [196], players: 4, shape: swell(3.6, 0.6) },
        'bright rough pitched',
      ),
      sound(
        'Strings, slow slide down',
        -14,
        {
          kind: 'strings',
          technique: 'glissando',
          hz: [440, 466.2, 523.3, 587.3],
          glideRatio: 0.55,
          players: 6,
          shape: fade(4.5),
        },
        'bright',
      ),
      sound(
        'Strings, slide up to a cut',
        -10,
        {
          kind: 'strings',
          technique: 'glissando',
          hz: [110, 123.5, 146.8],
          glideRatio: 3,
          players: 6,
          shape: riser(3.2, 1.2),
        },
        'bright',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${CHAPEL}/strings B.wav`,
    bitDepth: 16,
    room: 'chapelHall',
    floorDbfs: -73,
    division: 'points',
    embedded: {
      originator: 'Skua eight-track',
      description: 'Strings, held and struck',
      date: '2025-03-07',
      time: '11:10:00',
      scene: 'low water',
      keywords: true,
    },
    sounds: [
      sound(
        'Basses, one low note, held',
        -15,
        { kind: 'strings', technique: 'sustain', hz: [49], players: 3, shape: drone(4.5, 0.8) },
        'dark pitched',
      ),
      sound(
        'Strings, flautando cluster',
        -22,
        {
          kind: 'strings',
          technique: 'flautando',
          hz: [293.7, 311.1, 329.6, 349.2],
          players: 6,
          shape: drone(4.5, 1.2),
        },
        'airy',
      ),
      sound(
        'Col legno, loose clatter',
        -14,
        { kind: 'clatter', body: 'midString', tool: 'wood', voices: 6, blowsPerSecond: 26, shape: swell(2.8, 0.5) },
        'dry',
      ),
      sound(
        'Col legno, low, four at 96',
        -12,
        struck('lowString', 'wood', { blows: blowsAt([0, 1], [0.625, 0.75], [1.25, 0.9], [1.875, 0.75]) }),
        'dark dry pitched',
      ),
    ],
  },
  {
    ...TAKE,
    path: `${CHAPEL}/crescendo à la fin.wav`,
    bitDepth: 16,
    sampleRateHz: 44100,
    room: 'chapelHall',
    floorDbfs: -71,
    division: 'single',
    embedded: { originator: 'Skua eight-track', date: '2025-03-07', time: '11:58:00' },
    sounds: [
      sound(
        'Strings and cymbal, one great rise, three bars at 96',
        -4,
        {
          kind: 'layered',
          gesture: 'riser',
          layers: [
            {
              source: {
                kind: 'strings',
                technique: 'tremolo',
                hz: [65.4, 98, 138.6, 207.7],
                players: 6,
                shape: riser(bars(3, 96), 2.4),
              },
              startSeconds: 0,
              levelDb: -4,
            },
            { source: swiped('cymbal', 'wood', riser(bars(3, 96), 3)), startSeconds: 0, levelDb: -7 },
            { source: struck('bigDrum', 'felt'), startSeconds: bars(3, 96), levelDb: 0 },
          ],
        },
        'long loud',
      ),
    ],
  },
];
