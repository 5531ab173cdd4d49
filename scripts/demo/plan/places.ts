/** Where the sessions took place. Decay times are plausible for such rooms; the island is invented. */
import type { Room } from '../synth/room.ts';

export const ROOMS = {
  boathouse: { t60Seconds: 1.3, highShare: 0.35, wallHz: 5000, pathMetres: 7, earlyDb: -13, tailDb: -19 },
  netLoft: { t60Seconds: 0.45, highShare: 0.25, wallHz: 3000, pathMetres: 3.5, earlyDb: -14, tailDb: -22 },
  chapelHall: { t60Seconds: 2.9, highShare: 0.3, wallHz: 6000, pathMetres: 12, earlyDb: -15, tailDb: -18 },
} satisfies Record<string, Room>;

export type RoomName = keyof typeof ROOMS;
