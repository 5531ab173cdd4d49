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
    contactSeconds: 0.007,
    tap: 0.05,
    tapHz: 240,
    contactsPerSecond: 30,
    strokeHz: 900,
    hiss: 0.9,
  },
  wood: {
    noun: 'wooden stick',
    contactSeconds: 0.0011,
    tap: 0.25,
    tapHz: 1900,
    contactsPerSecond: 110,
    strokeHz: 3200,
    hiss: 0.35,
  },
  steel: {
    noun: 'steel rod',
    contactSeconds: 0.0003,
    tap: 0.3,
    tapHz: 5200,
    contactsPerSecond: 190,
    strokeHz: 8000,
    hiss: 0.3,
  },
  chain: {
    noun: 'chain',
    contactSeconds: 0.0007,
    tap: 0.3,
    tapHz: 3600,
    contactsPerSecond: 70,
    strokeHz: 5200,
    hiss: 0.2,
  },
  wireBrush: {
    noun: 'wire brush',
    contactSeconds: 0.0005,
    tap: 0.4,
    tapHz: 6500,
    contactsPerSecond: 900,
    strokeHz: 9500,
    hiss: 0.75,
  },
} satisfies Record<string, Tool>;

export type ToolName = keyof typeof TOOLS;
