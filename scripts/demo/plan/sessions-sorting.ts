/** Edited risers, and the folder where everything unsorted, broken and doubled ends up. */
import type { FaultKind } from '../../../shared/sound.ts';
import type { AudioFilePlan, FilePlan, SoundPlan } from './file-plan.ts';
import { bars, blowsAt, bowed, fade, riser, sound, struck, swell, swiped } from './shorthand.ts';

const EDITS = 'edits for reel 2';
const SORT = 'to sort';

export const SORTING_SESSIONS: FilePlan[] = [
  edited(
    'Tam-tam reversed, two bars at 84.wav',
    sound(
      'Tam-tam, reversed, two bars at 84',
      -5,
      { kind: 'reversed', of: struck('tamTam', 'yarn'), seconds: bars(2, 84) },
      'dark',
    ),
  ),
  edited(
    'Cymbal reversed, one bar at 96.wav',
    sound(
      'Cymbal, reversed, one bar at 96',
      -8,
      { kind: 'reversed', of: struck('cymbal', 'wood'), seconds: bars(1, 96) },
      'bright',
    ),
  ),
  edited(
    "Ship's bell reversed, three beats at 72.wav",
    sound(
      "Ship's bell, reversed, three beats at 72",
      -9,
      { kind: 'reversed', of: struck('shipsBell', 'wood'), seconds: bars(1, 72, 3) },
      'bright',
    ),
  ),
  edited(
    'RISER metal 4 bars 120.wav',
    sound(
      'Sheet steel and chain, four bars at 120',
      -4,
      {
        kind: 'layered',
        gesture: 'riser',
        layers: [
          { source: swiped('sheetSteel', 'chain', riser(bars(4, 120), 2.4)), startSeconds: 0, levelDb: -5 },
          { source: bowed('tamTam', riser(bars(4, 120), 2), { pressure: 2 }), startSeconds: 0, levelDb: -8 },
          { source: struck('boilerPlate', 'oarEnd', { maxSeconds: 3 }), startSeconds: bars(4, 120), levelDb: 0 },
        ],
      },
      'rough long',
    ),
  ),
  edited(
    'low swell v3 FINAL.wav',
    sound(
      'Big drum and wire, low swell',
      -9,
      {
        kind: 'layered',
        gesture: 'swell',
        layers: [
          { source: bowed('longWire', swell(5, 0.6), { pressure: 1 }), startSeconds: 0, levelDb: 0 },
          {
            source: {
              kind: 'clatter',
              body: 'bigDrum',
              tool: 'felt',
              voices: 2,
              blowsPerSecond: 14,
              shape: swell(5, 0.6),
            },
            startSeconds: 0,
            levelDb: -3,
          },
        ],
      },
      'dark low',
    ),
  ),
  broken(
    'Audio 018-01.wav',
    [],
    sound('Net loft hatch, slammed, seen from the street', -9, struck('door', 'oarEnd', { size: 0.8 }), 'dark'),
    { sampleRateHz: 22050, bitDepth: 16, channels: 1, floorDbfs: -58 },
  ),
  broken(
    'REC0006.wav',
    ['clipping'],
    sound('Oil drum, too close', 7, struck('oilDrum', 'steel', { size: 1.2 }), 'rough'),
    { room: 'pumpHouse' },
  ),
  { ...broken('REC0007.wav', ['silent'], null, {}), floorDbfs: null },
  broken(
    'REC0008.wav',
    ['dc-offset'],
    sound('Pickle jar and spoon', -15, struck('pickleJar', 'steel', { blows: blowsAt([0, 1], [0.4, 0.7]) }), 'bright'),
    { room: 'kitchen' },
  ),
  broken(
    'REC0009.wav',
    ['inverted-channel'],
    sound('Boat hull, heavy step inside', -10, struck('hull', 'felt'), 'dark'),
    {},
  ),
  broken(
    'REC0010.wav',
    ['dead-channel'],
    sound(
      'Mooring ring, turned over',
      -12,
      struck('mooringRing', 'stone', { blows: blowsAt([0, 1], [0.15, 0.6]), several: 'phrase' }),
      'bright',
    ),
    {},
  ),
  broken(
    'REC0011.wav',
    ['mono-as-stereo'],
    sound(
      'Bottle, blown, sagging',
      -15,
      { kind: 'breath', vessel: 'bottle', hz: 155.6, shape: fade(2.4) },
      'airy pitched',
    ),
    { room: 'kitchen' },
  ),
  broken(
    'REC0012.wav',
    ['dropout'],
    sound('Wire brush round the drum', -14, swiped('frameDrum', 'wireBrush', swell(2.4)), 'airy'),
    { room: 'netLoft' },
  ),
  broken(
    'REC0013.wav',
    ['low-level'],
    sound(
      'Wine glass, far too quiet',
      -48,
      bowed('wineGlass', swell(2.6), { with: 'finger', pressure: 0.4 }),
      'pitched smooth',
    ),
    { room: 'kitchen', floorDbfs: -88 },
  ),
  broken(
    'REC0014.wav',
    ['high-noise-floor'],
    sound(
      'Whistle against the wind',
      -22,
      { kind: 'breath', vessel: 'whistle', hz: 987.8, shape: swell(2) },
      'pitched',
    ),
    { room: 'quay', floorDbfs: -41 },
  ),
  broken(
    'REC0015.wav',
    ['truncated-tail'],
    sound('Tam-tam, stopped too early', -8, struck('tamTam', 'yarn', { maxSeconds: 9 }), 'dark'),
    { room: 'boathouse' },
  ),
  broken(
    'REC0016.wav',
    ['hum'],
    sound('Iron rail, bowed by the fuse box', -13, bowed('stairRail', swell(3), { pressure: 1.4 }), 'dark'),
    { room: 'pumpHouse', floorDbfs: -66 },
  ),
  {
    ...broken(
      'card error.wav',
      [],
      sound('Chain, drawn over a plate, cut by the card', -9, swiped('boilerPlate', 'chain', swell(3.5)), 'rough'),
      { room: 'boathouse' },
    ),
    keptShare: 0.55,
  },
  {
    ...broken(
      'bounce 3.wav',
      [],
      sound(
        'Lamp lens, coin, three',
        -13,
        struck('lampLens', 'coin', { blows: blowsAt([0, 1], [0.5, 0.7], [1, 0.85]) }),
        'bright',
      ),
      { room: 'kitchen' },
    ),
    format: 'AIFF',
  },
  {
    kind: 'text',
    path: `${SORT}/sound list.wav`,
    text: 'boathouse: swipes 1-7, hits 1-8, tam tam x1\nnet loft: skins, oars\nASK ABOUT THE BELL\n',
  },
  original(),
  {
    ...original(),
    path: `${SORT}/harbour ring (final) copy.wav`,
    embedded: { title: 'harbour ring', comment: 'the one from the trailer', keywords: true },
    audioOf: `${EDITS}/Mooring ring, five going down.wav`,
  },
];

function edited(name: string, only: SoundPlan): AudioFilePlan {
  return {
    kind: 'audio',
    path: `${EDITS}/${name}`,
    format: 'WAV',
    sampleRateHz: 48000,
    bitDepth: 24,
    channels: 2,
    room: 'chapelHall',
    floorDbfs: null,
    division: 'single',
    embedded: { title: only.name, date: '2025-04-11', keywords: true },
    sounds: [only],
  };
}

function original(): AudioFilePlan {
  const blows = blowsAt([0, 1], [0.36, 0.85], [0.7, 0.75], [1.07, 0.6], [1.4, 0.5]);
  const only = sound(
    'Mooring ring, five going down',
    -10,
    struck('mooringRing', 'steel', { blows, several: 'phrase' }),
    'bright',
  );
  return {
    ...edited('Mooring ring, five going down.wav', only),
    sampleRateHz: 44100,
    bitDepth: 16,
    room: 'boathouse',
    floorDbfs: -72,
  };
}

function broken(
  name: string,
  faults: FaultKind[],
  only: SoundPlan | null,
  more: Partial<AudioFilePlan>,
): AudioFilePlan {
  return {
    kind: 'audio',
    path: `${SORT}/${name}`,
    format: 'WAV',
    sampleRateHz: 48000,
    bitDepth: 24,
    channels: 2,
    room: 'watchHut',
    floorDbfs: -68,
    division: 'single',
    embedded: {},
    faults,
    sounds: only === null ? [] : [only],
    ...more,
  };
}
