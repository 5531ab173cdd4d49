/** Where the sessions took place. Decay times are plausible for such rooms; the island is invented. */
import type { Room } from '../synth/room.ts';

export const ROOMS = {
  boathouse: { t60Seconds: 1.3, highShare: 0.35, wallHz: 5000, pathMetres: 7, earlyDb: -13, tailDb: -20 },
  netLoft: { t60Seconds: 0.45, highShare: 0.25, wallHz: 3000, pathMetres: 3.5, earlyDb: -14, tailDb: -22 },
  slipway: { t60Seconds: 0, highShare: 1, wallHz: 2500, pathMetres: 22, earlyDb: -24, tailDb: -60 },
  quay: { t60Seconds: 0, highShare: 1, wallHz: 1800, pathMetres: 34, earlyDb: -28, tailDb: -60 },
  kitchen: { t60Seconds: 0.55, highShare: 0.6, wallHz: 8000, pathMetres: 2.6, earlyDb: -11, tailDb: -19 },
  lighthouseStair: { t60Seconds: 4.2, highShare: 0.3, wallHz: 6000, pathMetres: 4.5, earlyDb: -12, tailDb: -16 },
  chapelHall: { t60Seconds: 2.6, highShare: 0.3, wallHz: 6000, pathMetres: 12, earlyDb: -15, tailDb: -19 },
  pumpHouse: { t60Seconds: 1.8, highShare: 0.6, wallHz: 9000, pathMetres: 5, earlyDb: -11, tailDb: -17 },
  cellar: { t60Seconds: 0.9, highShare: 0.15, wallHz: 1800, pathMetres: 4, earlyDb: -13, tailDb: -20 },
  watchHut: { t60Seconds: 0.22, highShare: 0.4, wallHz: 4000, pathMetres: 1.8, earlyDb: -13, tailDb: -22 },
  /** No air between the thing and the microphone. */
  contact: { t60Seconds: 0, highShare: 1, wallHz: 1000, pathMetres: 1, earlyDb: -90, tailDb: -90 },
} satisfies Record<string, Room>;

export type RoomName = keyof typeof ROOMS;

/** Recorders of the invented production. */
export const RECORDERS = ['Tern field recorder', 'Petrel handheld', 'Skua eight-track', 'Dunlin pocket'] as const;
