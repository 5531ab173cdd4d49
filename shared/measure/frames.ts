/**
 * Cuts a streamed sound into overlapping frames for several analyses at once. Frames are centred on 0, hop, 2 hop ..
 * up to the sound's end, with silence before and behind, so that an attack on the very first sample is heard at full
 * weight. All share one buffer, as long as the longest frame and the block under way.
 */
import type { ActivePart } from './active-part.ts';

export interface FrameAnalysis {
  readonly frameSize: number;
  readonly hopSize: number;
  /** `offset` is where the frame starts in the arrays; they are only valid during the call. */
  analyse(channels: readonly Float32Array[], offset: number, centreFrame: number): void;
}

export class FrameFeeder {
  readonly #analyses: readonly FrameAnalysis[];
  readonly #nextCentre: number[];
  /** Silence behind the sound, so that the last frames are whole. */
  readonly #tailFrames: number;
  #buffers: Float32Array[];
  #length: number;
  /** Frame of the sound that the buffers start with. */
  #start: number;
  #frames = 0;

  constructor(channels: number, analyses: readonly FrameAnalysis[]) {
    this.#analyses = analyses;
    this.#nextCentre = analyses.map(() => 0);
    const longest = Math.max(...analyses.map((analysis) => analysis.frameSize));
    this.#length = longest / 2;
    this.#start = -this.#length;
    this.#tailFrames = Math.max(...analyses.map((analysis) => analysis.frameSize + analysis.hopSize));
    // What an unfinished frame keeps, and the tail or as long a block.
    this.#buffers = Array.from({ length: channels }, () => new Float32Array(longest + this.#tailFrames));
  }

  push(block: readonly Float32Array[]): void {
    this.#frames += block[0]?.length ?? 0;
    this.#append(block, block[0]?.length ?? 0);
    this.#analyse(this.#frames);
    this.#dropUsed();
  }

  finish(): void {
    const silence = new Float32Array(this.#tailFrames);
    this.#append(
      this.#buffers.map(() => silence),
      this.#tailFrames,
    );
    this.#analyse(this.#frames);
  }

  #append(block: readonly Float32Array[], frames: number): void {
    const needed = this.#length + frames;
    this.#buffers = this.#buffers.map((buffer, channel) => {
      let target = buffer;
      if (target.length < needed) {
        target = new Float32Array(needed * 2);
        target.set(buffer.subarray(0, this.#length));
      }
      target.set(block[channel], this.#length);
      return target;
    });
    this.#length = needed;
  }

  #analyse(lastCentre: number): void {
    const available = this.#start + this.#length;
    this.#analyses.forEach((analysis, index) => {
      const half = analysis.frameSize / 2;
      let centre = this.#nextCentre[index];
      for (; centre <= lastCentre && centre + half <= available; centre += analysis.hopSize) {
        analysis.analyse(this.#buffers, centre - half - this.#start, centre);
      }
      this.#nextCentre[index] = centre;
    });
  }

  #dropUsed(): void {
    let needed = this.#start + this.#length;
    this.#analyses.forEach((analysis, index) => {
      needed = Math.min(needed, this.#nextCentre[index] - analysis.frameSize / 2);
    });
    const used = needed - this.#start;
    if (used <= 0) return;
    for (const buffer of this.#buffers) buffer.copyWithin(0, used, this.#length);
    this.#length -= used;
    this.#start = needed;
  }
}

/** First and last + 1 of the frames whose centres lie in the active part; at least one. */
export function activeFrames(frames: number, hopSeconds: number, active: ActivePart | null): [number, number] {
  if (active === null) return [0, frames];
  const from = Math.min(frames - 1, Math.max(0, Math.round(active.startSeconds / hopSeconds)));
  const to = Math.min(frames, Math.round(active.endSeconds / hopSeconds) + 1);
  return [from, Math.max(from + 1, to)];
}

/** True where a frame holds nothing but digital silence. */
export function isSilent(channels: readonly Float32Array[], offset: number, length: number): boolean {
  for (const samples of channels) {
    for (let n = offset; n < offset + length; n++) if (samples[n] !== 0) return false;
  }
  return true;
}
