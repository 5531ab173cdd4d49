/** Risers and swells edited for the picture: named with care, cleaned, on exact lengths. */
import type { AudioFilePlan, FilePlan, SoundPlan } from '../file-plan.ts';
import { bars, blowsAt, bowed, riser, sound, struck, swell, swiped, TAKE } from '../shorthand.ts';

export const EDITS = 'edits for reel 2';

export const EDITS_FILES: FilePlan[] = [
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
  mooringRingFive(),
];

function edited(name: string, only: SoundPlan): AudioFilePlan {
  return {
    ...TAKE,
    path: `${EDITS}/${name}`,
    room: 'chapelHall',
    floorDbfs: null,
    division: 'single',
    embedded: { title: only.name, date: '2025-04-11', keywords: true },
    sounds: [only],
  };
}

export function mooringRingFive(): AudioFilePlan {
  const blows = blowsAt([0, 1], [0.36, 0.85], [0.7, 0.75], [1.07, 0.6], [1.4, 0.5]);
  const only = sound('Mooring ring, five going down', -10, struck('mooringRing', 'steel', { blows }), 'bright');
  return {
    ...edited('Mooring ring, five going down.wav', only),
    sampleRateHz: 44100,
    bitDepth: 16,
    room: 'boathouse',
    floorDbfs: -72,
  };
}
