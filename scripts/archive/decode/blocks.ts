/**
 * From the pieces a decoder gives to the blocks and ranges that were asked for.
 *
 * Compressed formats can only be decoded forwards. Whoever reads a long file take by take asks for one range after
 * another, so a decoding that stopped is kept and goes on where it stopped, instead of beginning again for each take.
 */
import { type AudioBlock, BLOCK_FRAMES, type FrameRange } from '../audio-stream.ts';

/** A decoding that has begun: pieces of any length, and the position of the first of them. */
export interface Decoding {
  pieces: AsyncGenerator<AudioBlock>;
  firstFrame: number;
}

/** A decoding with the piece it gave last, which begins at `firstFrame` and may not be used up. */
interface Running extends Decoding {
  piece: AudioBlock | null;
}

/** A range inside `frames`: whole numbers, in order, never outside the file. */
export function clampRange(range: FrameRange | undefined, frames: number): FrameRange {
  const startFrame = Math.min(frames, Math.max(0, Math.floor(range?.startFrame ?? 0)));
  const endFrame = Math.min(frames, Math.max(startFrame, Math.floor(range?.endFrame ?? frames)));
  return { startFrame, endFrame };
}

export class RangeReader {
  readonly #channels: number;
  readonly #begin: (startFrame: number) => Promise<Decoding>;
  readonly #longestSkip: number;
  #parked: Running | null = null;

  /**
   * `begin` starts a decoding at or before a frame. A parked decoding more than `longestSkip` frames before the wanted
   * one is given up for a new one; leave it out where a new one never begins nearer.
   */
  constructor(
    channels: number,
    begin: (startFrame: number) => Promise<Decoding>,
    longestSkip = Number.POSITIVE_INFINITY,
  ) {
    this.#channels = channels;
    this.#begin = begin;
    this.#longestSkip = longestSkip;
  }

  /** The frames of `range` in blocks of BLOCK_FRAMES, of which only the last may be shorter. */
  async *blocks(range: FrameRange): AsyncGenerator<AudioBlock> {
    const { startFrame, endFrame } = range;
    if (startFrame >= endFrame) return;
    const running = await this.#runningAt(startFrame);
    let finished = false;
    try {
      let block = this.#emptyBlock();
      let filled = 0;
      while (true) {
        const piece = running.piece ?? [];
        const pieceFrames = piece[0]?.length ?? 0;
        const to = Math.min(pieceFrames, endFrame - running.firstFrame);
        for (let from = Math.max(0, startFrame - running.firstFrame); from < to; ) {
          const count = Math.min(to - from, BLOCK_FRAMES - filled);
          for (let channel = 0; channel < piece.length; channel++) {
            block[channel].set(piece[channel].subarray(from, from + count), filled);
          }
          from += count;
          filled += count;
          if (filled === BLOCK_FRAMES) {
            yield block;
            block = this.#emptyBlock();
            filled = 0;
          }
        }
        if (running.firstFrame + pieceFrames >= endFrame) break;
        const next = await running.pieces.next();
        if (next.done) {
          finished = true;
          break;
        }
        running.firstFrame += pieceFrames;
        running.piece = next.value;
      }
      if (filled > 0) yield block.map((samples) => samples.slice(0, filled));
    } catch (error) {
      finished = true;
      throw error;
    } finally {
      if (finished) await running.pieces.return(undefined);
      else await this.#park(running);
    }
  }

  /** Ends a parked decoding and frees its decoder. */
  async close(): Promise<void> {
    const parked = this.#parked;
    this.#parked = null;
    await parked?.pieces.return(undefined);
  }

  async #runningAt(startFrame: number): Promise<Running> {
    const parked = this.#parked;
    this.#parked = null;
    const ahead = parked ? startFrame - parked.firstFrame : -1;
    if (parked && ahead >= 0 && ahead <= this.#longestSkip) return parked;
    await parked?.pieces.return(undefined);
    return { ...(await this.#begin(startFrame)), piece: null };
  }

  async #park(running: Running): Promise<void> {
    await this.close();
    this.#parked = running;
  }

  #emptyBlock(): AudioBlock {
    return Array.from({ length: this.#channels }, () => new Float32Array(BLOCK_FRAMES));
  }
}
