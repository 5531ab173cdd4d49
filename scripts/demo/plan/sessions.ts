/** The sessions of the invented film: what was recorded where, on what, and how well it was labelled. */
import type { FilePlan } from './file-plan.ts';

/** Length in seconds of bars of 4/4 at a tempo in quarter notes a minute. */
function bars(count: number, beatsPerMinute: number): number {
  return (count * 4 * 60) / beatsPerMinute;
}

export const SESSIONS: FilePlan[] = [
  {
    path: '01 Boathouse, Monday/Boathouse metal swipes.wav',
    format: 'WAV',
    sampleRateHz: 48000,
    bitDepth: 24,
    channels: 2,
    room: 'boathouse',
    floorDbfs: -68,
    division: 'regions',
    embedded: {
      originator: 'Tern field recorder',
      description: 'Swipes on metal, boathouse, doors shut',
      date: '2025-03-03',
      time: '10:14:00',
      keywords: true,
    },
    sounds: [
      {
        name: 'Tam-tam, chain drawn to rim, two bars at 84',
        keywords: ['metal', 'swipe', 'dark'],
        peakDbfs: -7,
        source: {
          kind: 'swiped',
          body: 'tamTam',
          tool: 'chain',
          toAccentSeconds: bars(2, 84),
          accent: 'felt',
          maxSeconds: 12,
        },
      },
      {
        name: 'Boiler plate, wire brush up',
        keywords: ['metal', 'swipe', 'bright'],
        peakDbfs: -12,
        source: { kind: 'swiped', body: 'boilerPlate', tool: 'wireBrush', toAccentSeconds: 1.8, accent: null },
      },
      {
        name: 'Sheet steel, rod dragged to a blow, one bar at 96',
        keywords: ['metal', 'swipe'],
        peakDbfs: -9,
        source: { kind: 'swiped', body: 'sheetSteel', tool: 'steel', toAccentSeconds: bars(1, 96), accent: 'wood' },
      },
    ],
  },
  {
    path: '01 Boathouse, Monday/Audio 017-03.wav',
    format: 'WAV',
    sampleRateHz: 44100,
    bitDepth: 16,
    channels: 1,
    room: 'netLoft',
    floorDbfs: -61,
    division: 'gaps',
    embedded: {},
    sounds: [
      {
        name: 'Boiler plate, wooden stick',
        keywords: ['metal', 'hit'],
        peakDbfs: -10,
        source: { kind: 'struck', body: 'boilerPlate', tool: 'wood' },
      },
      {
        name: 'Boiler plate, steel rod, damped',
        keywords: ['metal', 'hit', 'bright'],
        peakDbfs: -5,
        source: { kind: 'struck', body: 'boilerPlate', tool: 'steel', dampSeconds: 0.15 },
      },
    ],
  },
  {
    path: 'chapel hall/tam-tam soft.wav',
    format: 'WAV',
    sampleRateHz: 96000,
    bitDepth: 24,
    channels: 2,
    room: 'chapelHall',
    floorDbfs: -74,
    division: 'single',
    embedded: { originator: 'Tern field recorder', date: '2025-03-05', time: '16:40:00' },
    sounds: [
      {
        name: 'Tam-tam, felt beater, left to ring',
        keywords: ['metal', 'hit', 'dark'],
        peakDbfs: -14,
        source: { kind: 'struck', body: 'tamTam', tool: 'felt', maxSeconds: 14 },
      },
    ],
  },
];
