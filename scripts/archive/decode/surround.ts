/**
 * Vorbis and Opus put the channels of three or more in an order of their own (Vorbis I specification, section 4.3.9;
 * RFC 7845, section 5.1.1.2). This brings them into the order of a WAV channel mask.
 */
import type { AudioBlock } from '../audio-stream.ts';

const LAYOUTS: Record<number, { order: number[]; mask: number }> = {
  3: { order: [0, 2, 1], mask: 0x7 },
  4: { order: [0, 1, 2, 3], mask: 0x33 },
  5: { order: [0, 2, 1, 3, 4], mask: 0x37 },
  6: { order: [0, 2, 1, 5, 3, 4], mask: 0x3f },
  7: { order: [0, 2, 1, 6, 5, 3, 4], mask: 0x70f },
  8: { order: [0, 2, 1, 7, 5, 6, 3, 4], mask: 0x63f },
};

export function surroundMask(channels: number): number | null {
  return LAYOUTS[channels]?.mask ?? null;
}

export function inMaskOrder(block: AudioBlock): AudioBlock {
  const layout = LAYOUTS[block.length];
  if (!layout) return block;
  return layout.order.map((channel) => block[channel] ?? new Float32Array(block[0]?.length ?? 0));
}
