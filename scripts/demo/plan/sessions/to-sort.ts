/** The folder where everything unsorted, broken and doubled ends up: one fault a file. */
import type { FaultKind } from '../../../../shared/sound.ts';
import type { AudioFilePlan, FilePlan, SoundPlan } from '../file-plan.ts';
import { blowsAt, bowed, fade, sound, struck, swell, swiped, TAKE } from '../shorthand.ts';
import { EDITS, mooringRingFive } from './edits.ts';

const SORT = 'to sort';

export const TO_SORT_FILES: FilePlan[] = [
  broken(
    'Audio 018-01.wav',
    [],
    sound('Net loft hatch, slammed, seen from the street', -9, struck('door', 'oarEnd', { size: 0.8 }), 'dark'),
    { sampleRateHz: 22050, bitDepth: 16, channels: 1, floorDbfs: -58 },
  ),
  broken(
    'REC0006.wav',
    ['clipping'],
    sound('Oil drum, too close', 14, struck('oilDrum', 'steel', { size: 1.2 }), 'rough'),
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
      struck('mooringRing', 'stone', { blows: blowsAt([0, 1], [0.15, 0.6]) }),
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
  {
    ...mooringRingFive(),
    path: `${SORT}/harbour ring (final) copy.wav`,
    embedded: { title: 'harbour ring', comment: 'the one from the trailer', keywords: true },
    audioOf: `${EDITS}/Mooring ring, five going down.wav`,
  },
];

function broken(
  name: string,
  faults: FaultKind[],
  only: SoundPlan | null,
  more: Partial<AudioFilePlan>,
): AudioFilePlan {
  return {
    ...TAKE,
    path: `${SORT}/${name}`,
    room: 'watchHut',
    floorDbfs: -68,
    division: 'single',
    faults,
    sounds: only === null ? [] : [only],
    ...more,
  };
}
