/** Beaters and things drawn over a body: how long a blow touches, how rough a stroke is. Invented, plausible values. */

export interface Tool {
  /** As it stands in a sound's name. */
  noun: string;
  /** Length of a blow's contact: short is bright (a raised-cosine pulse of T passes little above 2 / T). */
  contactSeconds: number;
  /** Level of the contact's own noise against the body's ring. */
  tap: number;
  /** Where that noise lies. */
  tapHz: number;
  /** Contacts a second at full stroke speed when drawn over a surface. */
  contactsPerSecond: number;
  /** Brightness of the drawn contacts at full speed. */
  strokeHz: number;
  /** Share of steady hiss in a stroke, 0..1; the rest is single contacts. */
  hiss: number;
}

export const TOOLS = {
  felt: {
    noun: 'felt beater',
    contactSeconds: 0.0045,
    tap: 0.06,
    tapHz: 260,
    contactsPerSecond: 30,
    strokeHz: 1200,
    hiss: 0.9,
  },
  yarn: {
    noun: 'yarn mallet',
    contactSeconds: 0.0022,
    tap: 0.08,
    tapHz: 500,
    contactsPerSecond: 40,
    strokeHz: 1800,
    hiss: 0.85,
  },
  rubber: {
    noun: 'rubber mallet',
    contactSeconds: 0.003,
    tap: 0.08,
    tapHz: 420,
    contactsPerSecond: 60,
    strokeHz: 1500,
    hiss: 0.6,
  },
  hand: {
    noun: 'flat hand',
    contactSeconds: 0.004,
    tap: 0.3,
    tapHz: 900,
    contactsPerSecond: 240,
    strokeHz: 2600,
    hiss: 0.95,
  },
  knuckle: {
    noun: 'knuckle',
    contactSeconds: 0.0016,
    tap: 0.15,
    tapHz: 700,
    contactsPerSecond: 60,
    strokeHz: 1800,
    hiss: 0.7,
  },
  wood: {
    noun: 'wooden stick',
    contactSeconds: 0.0009,
    tap: 0.22,
    tapHz: 1900,
    contactsPerSecond: 110,
    strokeHz: 4200,
    hiss: 0.35,
  },
  oarEnd: {
    noun: 'oar end',
    contactSeconds: 0.002,
    tap: 0.25,
    tapHz: 800,
    contactsPerSecond: 90,
    strokeHz: 2600,
    hiss: 0.45,
  },
  stone: {
    noun: 'beach stone',
    contactSeconds: 0.00035,
    tap: 0.3,
    tapHz: 3400,
    contactsPerSecond: 320,
    strokeHz: 6500,
    hiss: 0.5,
  },
  steel: {
    noun: 'steel rod',
    contactSeconds: 0.00022,
    tap: 0.25,
    tapHz: 5200,
    contactsPerSecond: 190,
    strokeHz: 9000,
    hiss: 0.3,
  },
  coin: {
    noun: 'coin',
    contactSeconds: 0.00015,
    tap: 0.2,
    tapHz: 6000,
    contactsPerSecond: 260,
    strokeHz: 11000,
    hiss: 0.2,
  },
  chain: {
    noun: 'chain',
    contactSeconds: 0.0006,
    tap: 0.3,
    tapHz: 3600,
    contactsPerSecond: 75,
    strokeHz: 6500,
    hiss: 0.2,
  },
  wireBrush: {
    noun: 'wire brush',
    contactSeconds: 0.0005,
    tap: 0.4,
    tapHz: 6500,
    contactsPerSecond: 900,
    strokeHz: 11000,
    hiss: 0.75,
  },
  threadedRod: {
    noun: 'threaded rod',
    contactSeconds: 0.0003,
    tap: 0.25,
    tapHz: 4200,
    contactsPerSecond: 420,
    strokeHz: 9500,
    hiss: 0.1,
  },
} satisfies Record<string, Tool>;

export type ToolName = keyof typeof TOOLS;
