import { seededRandom } from '../../scripts/place/layout.ts';
/** Records of sounds that were never recorded, for tests of what reads them. Plausible ranges, seeded. */

import { packSounds, Shelf } from '../../shared/shelf.ts';
import { CEPSTRUM_COEFFICIENTS, CONTOUR_POINTS, GESTURES, PROFILE_BANDS, type Sound } from '../../shared/sound.ts';
import { likenessRows, VECTOR_SIZE } from '../../shared/vectors.ts';

const MATERIALS = ['Tam-tam', 'Boiler plate', 'Glass rim', 'Oar', 'Chain', 'Frame drum', 'Kettle', 'Wind in the stair'];
const ACTIONS = ['struck', 'swiped', 'bowed', 'rubbed', 'rolled', 'dropped', 'scraped'];
const SESSIONS = ['Boathouse', 'Net loft', 'Slipway', 'Kitchen', 'Quay'];

export function inventSounds(count: number, seed = 1): Sound[] {
  const next = seededRandom(seed);
  const between = (low: number, high: number): number => low + next() * (high - low);
  const pick = <T>(from: readonly T[]): T => from[Math.floor(next() * from.length)];
  return Array.from({ length: count }, (_, index): Sound => {
    const durationSeconds = 0.2 * 2 ** between(0, 6);
    const activeSeconds = durationSeconds * between(0.6, 1);
    const climaxSeconds = between(0, activeSeconds);
    const centroidHz = 200 * 2 ** between(0, 5.5);
    const pitched = next() < 0.4;
    const material = pick(MATERIALS);
    const action = pick(ACTIONS);
    return {
      id: index.toString(32).padStart(16, '0'),
      name: `${material}, ${action}`,
      session: pick(SESSIONS),
      places: [{ folder: 'Field', file: `${pick(SESSIONS)}/take ${index}.wav`, startSeconds: 0 }],
      tags: [material.toLowerCase(), action],
      description: '',
      rights: null,
      owner: null,
      recordedOn: null,
      format: 'WAV',
      mapX: between(-1, 1),
      mapY: between(-1, 1),
      previewParts: 1,
      durationSeconds,
      sampleRateHz: 48_000,
      channels: 2,
      bitDepth: 24,
      integratedLufs: durationSeconds < 0.4 ? null : between(-45, -12),
      momentaryMaxLufs: between(-40, -10),
      shortTermMaxLufs: durationSeconds < 3 ? null : between(-42, -11),
      loudnessRangeLu: null,
      truePeakDbtp: between(-20, 0),
      samplePeakDbfs: between(-21, -0.5),
      noiseFloorDbfs: between(-90, -50),
      crestDb: between(6, 25),
      slateEndSeconds: null,
      activeStartSeconds: 0,
      activeSeconds,
      attackSeconds: 0.001 * 2 ** between(0, 10),
      decaySeconds: 0.02 * 2 ** between(0, 7),
      temporalCentroid: between(0.1, 0.9),
      climaxSeconds,
      accents: [{ seconds: climaxSeconds, strengthDb: between(6, 30) }],
      gesture: pick(GESTURES),
      contour: Array.from({ length: CONTOUR_POINTS }, () => next()),
      centroidHz,
      spreadHz: centroidHz * between(0.3, 1),
      flatness: between(0.001, 0.6),
      rolloffHz: centroidHz * between(1.2, 2),
      pitchHz: pitched ? 55 * 2 ** between(0, 5) : null,
      pitchConfidence: pitched ? between(0.7, 1) : null,
      note: pitched ? 'A2' : null,
      centsOff: pitched ? between(-50, 50) : null,
      rootNote: null,
      pulseBpm: null,
      tremoloHz: null,
      brightnessSlope: between(-1, 1),
      stereoWidth: next(),
      correlation: between(-0.2, 1),
      clippedSamples: 0,
      dcOffset: 0,
      faults: [],
      faultDetails: [],
      roughness: next(),
      inharmonic: pitched ? false : next() < 0.5,
      profile: Array.from({ length: PROFILE_BANDS }, () => -between(0, 80)),
      cepstrumMean: Array.from({ length: CEPSTRUM_COEFFICIENTS }, () => between(-20, 20)),
      cepstrumSpread: Array.from({ length: CEPSTRUM_COEFFICIENTS }, () => between(0, 10)),
    };
  });
}

/** The shelf a build would make of these sounds. */
export function shelfOf(sounds: readonly Sound[]): Shelf {
  const { centre, scale, vectors } = likenessRows(sounds);
  return new Shelf(
    packSounds({
      sounds,
      vectors,
      vectorSize: VECTOR_SIZE,
      parameters: {
        folders: ['Field'],
        seconds: sounds.reduce((sum, { durationSeconds }) => sum + durationSeconds, 0),
        unreadableFiles: 0,
        mapPlaces: [],
        vectorCentre: centre,
        vectorScale: scale,
      },
    }),
  );
}
