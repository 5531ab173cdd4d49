/**
 * Weight of every channel in the loudness sum (ITU-R BS.1770-5 Table 3, and Annex 3 Table 4 for other layouts): 1.41
 * for loudspeakers 60..120 degrees to the side at ear height, 0 for the low-frequency channel, 1 for all others.
 */
const LOW_FREQUENCY = 0x8;
const BACK_LEFT = 0x10;
const BACK_RIGHT = 0x20;
const SIDE_LEFT = 0x200;
const SIDE_RIGHT = 0x400;
const SURROUND_WEIGHT = 1.41;

/** What a file without a channel mask most likely holds, by its number of channels (common practice, no source). */
const USUAL_MASKS: Readonly<Record<number, number>> = { 4: 0x33, 5: 0x37, 6: 0x3f, 8: 0x63f };

export function channelWeights(channels: number, channelMask: number | null): number[] {
  const mask = channelMask === null || bitCount(channelMask) !== channels ? (USUAL_MASKS[channels] ?? 0) : channelMask;
  const weights = speakers(mask).map((speaker) => weightOf(speaker, mask));
  while (weights.length < channels) weights.push(1);
  return weights;
}

function weightOf(speaker: number, mask: number): number {
  if (speaker === LOW_FREQUENCY) return 0;
  if (speaker === SIDE_LEFT || speaker === SIDE_RIGHT) return SURROUND_WEIGHT;
  // The back pair is the surround pair of 5.1 (at 110 degrees); beside a side pair it stands behind (135 degrees).
  const backsAreSurrounds = (mask & (SIDE_LEFT | SIDE_RIGHT)) === 0;
  return backsAreSurrounds && (speaker === BACK_LEFT || speaker === BACK_RIGHT) ? SURROUND_WEIGHT : 1;
}

/** The bits of a mask, lowest first: the order in which WAVE files store their channels. */
function speakers(mask: number): number[] {
  return Array.from({ length: 31 }, (_, bit) => 2 ** bit).filter((speaker) => (mask & speaker) !== 0);
}

function bitCount(mask: number): number {
  return speakers(mask).length;
}
