/** Cutting what a decoder gives, piece by piece, into the blocks and the range that were asked for. */
import { type AudioBlock, BLOCK_FRAMES, type FrameRange } from '../audio-stream.ts';

/** A range inside `frames`: whole numbers, in order, never outside the file. */
export function clampRange(range: FrameRange | undefined, frames: number): FrameRange {
  const startFrame = Math.min(frames, Math.max(0, Math.floor(range?.startFrame ?? 0)));
  const endFrame = Math.min(frames, Math.max(startFrame, Math.floor(range?.endFrame ?? frames)));
  return { startFrame, endFrame };
}

/**
 * Gathers pieces of any length into blocks of BLOCK_FRAMES (the last may be shorter), dropping what lies outside
 * `range`. `firstFrame` is the position of the first piece. Stops asking for pieces once the range is full.
 */
export async function* inBlocks(
  pieces: AsyncIterable<AudioBlock>,
  channels: number,
  range: FrameRange | undefined,
  firstFrame = 0,
): AsyncGenerator<AudioBlock> {
  const { startFrame, endFrame } = clampRange(range, Number.MAX_SAFE_INTEGER);
  const emptyBlock = (): AudioBlock => Array.from({ length: channels }, () => new Float32Array(BLOCK_FRAMES));
  let block = emptyBlock();
  let filled = 0;
  let position = firstFrame;
  if (startFrame === endFrame) return;
  for await (const piece of pieces) {
    const pieceFrames = piece[0]?.length ?? 0;
    let from = Math.max(0, startFrame - position);
    const to = Math.min(pieceFrames, endFrame - position);
    while (from < to) {
      const count = Math.min(to - from, BLOCK_FRAMES - filled);
      for (const [channel, samples] of block.entries()) {
        const source = piece[channel];
        if (source) samples.set(source.subarray(from, from + count), filled);
      }
      from += count;
      filled += count;
      if (filled === BLOCK_FRAMES) {
        yield block;
        block = emptyBlock();
        filled = 0;
      }
    }
    position += pieceFrames;
    if (position >= endFrame) break;
  }
  if (filled > 0) yield block.map((samples) => samples.slice(0, filled));
}
