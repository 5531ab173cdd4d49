/**
 * How a held sound moves in level over its length: the curve a player means. The curve is part of the synthesis, so its
 * top is the truth about the accent and its fall the truth about the length.
 */
import type { Gesture } from '../../../shared/sound.ts';

export interface Shape {
  kind: 'drone' | 'swell' | 'riser' | 'fade' | 'pulse';
  seconds: number;
  /** Swell: where its top lies as a share of the length (0.6 when left out). */
  topShare?: number;
  /** Swell and riser: how late the growth comes; 1 evenly in amplitude, 3 mostly at the end. */
  lateness?: number;
  /** Pulse: repeats a minute. Each repeat starts full and falls. */
  beatsPerMinute?: number;
  /** Drone: seconds of its rise and of its release. */
  edgeSeconds?: number;
}

/** A riser stops within this time. */
const CUT_SECONDS = 0.025;
/** Hands and bows touch before they lean in: where a growing curve begins, and how fast it gets there. */
const TOUCH_LEVEL = 0.02;
const TOUCH_SECONDS = 0.02;
/** A riser is heard from its first moment, so that its length in bars is the length one hears. */
const RISER_FROM = 0.16;

/** Level 0..1 at a time; 0 outside the sound. */
export function shapeLevel(shape: Shape, at: number): number {
  const { seconds } = shape;
  if (at < 0 || at >= seconds) return 0;
  const touch = TOUCH_LEVEL * Math.min(1, at / TOUCH_SECONDS, (seconds - at) / TOUCH_SECONDS);
  switch (shape.kind) {
    case 'drone': {
      const edge = Math.min(shape.edgeSeconds ?? 0.4, seconds / 2);
      return Math.max(touch, eased(Math.min(1, at / edge, (seconds - at) / edge)));
    }
    case 'swell': {
      const top = swellTopSeconds(shape);
      const rise = at <= top ? at / top : (seconds - at) / (seconds - top);
      return Math.max(touch, eased(rise) ** (shape.lateness ?? 1.6));
    }
    case 'riser': {
      const growth = (at / (seconds - CUT_SECONDS)) ** (shape.lateness ?? 2);
      return (
        Math.min(1, RISER_FROM + (1 - RISER_FROM) * growth) *
        Math.min(1, at / TOUCH_SECONDS) *
        Math.min(1, (seconds - at) / CUT_SECONDS)
      );
    }
    case 'fade': {
      const rise = Math.min(1, at / 0.03);
      return rise * ((seconds - at) / seconds) ** 1.4;
    }
    case 'pulse': {
      const period = 60 / (shape.beatsPerMinute ?? 120);
      const since = at % period;
      const start = Math.min(1, since / 0.012);
      return start * Math.exp((-4.5 * since) / period) * Math.min(1, (seconds - at) / 0.03);
    }
  }
}

/** A riser's accent is its cut, a swell's its top, a fade's and pulse's the start; a drone has none. */
export function shapeAccentSeconds(shape: Shape): number | null {
  if (shape.kind === 'drone') return null;
  if (shape.kind === 'swell') return swellTopSeconds(shape);
  return shape.kind === 'riser' ? shape.seconds - CUT_SECONDS : 0;
}

/** A fade this short dies away like a hit. */
const FADE_LEAST_SECONDS = 2;

export function shapeGesture(shape: Shape): Gesture {
  return shape.kind === 'fade' && shape.seconds < FADE_LEAST_SECONDS ? 'hit' : shape.kind;
}

/** Last time at which the curve stands higher than `dropDb` below 1, to 5 ms. */
export function shapeFallSeconds(shape: Shape, dropDb: number): number {
  const threshold = 10 ** (-dropDb / 20);
  for (let at = shape.seconds; at > 0; at -= 0.005) if (shapeLevel(shape, at) > threshold) return at;
  return 0;
}

function swellTopSeconds(shape: Shape): number {
  return shape.seconds * (shape.topShare ?? 0.6);
}

function eased(share: number): number {
  return 0.5 - 0.5 * Math.cos(Math.PI * Math.min(1, Math.max(0, share)));
}
