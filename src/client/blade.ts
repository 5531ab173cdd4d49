/**
 * The blade: the one sign for a sound, in list, map, bench and everywhere else.
 *
 * Its outline is the loudness contour mirrored about a line; its ink says how bright it sounds: solid for dark, a hatch that
 * grows sparser, an open outline for bright. The large wedge stands at the main accent, small ones at
 * other onsets.
 */

export interface BladeColours {
  ink: string;
  /** Outline and wedges; the ink unless given. */
  line?: string;
  /** Behind the hatch, so that lines of the chart do not run through it. */
  ground: string;
}

export interface BladeShape {
  /** Values 0..255, evenly spaced over the whole sound. */
  contour: ArrayLike<number>;
  /** 0 = as dark as ink gets, 1 = open; null (no spectrum) is drawn open. */
  brightness: number | null;
  /** Places of accents as a share 0..1 of the whole length, the main one first (`wedgeShares`). */
  accents?: readonly number[];
}

export interface BladeBox {
  x: number;
  /** The line it is mirrored about. */
  y: number;
  width: number;
  height: number;
  lineWidth?: number;
  /** Side of the accent's wedge in pixels; 0 draws none. */
  wedge?: number;
}

/** Centroid at which ink is solid, and at which the outline stands open: five octaves, about what archives span. */
const DARKEST_HZ = 200;
const OCTAVES = 5;
/** Size of the other accents' wedges against the main one's. */
const LESSER_WEDGE = 0.62;

/** 0..1 on a logarithmic scale of frequency, as the ear goes; null for a sound without a centroid. */
export function brightnessOf(centroidHz: number | null): number | null {
  if (centroidHz === null || !(centroidHz > 0)) return null;
  return Math.max(0, Math.min(1, Math.log2(centroidHz / DARKEST_HZ) / OCTAVES));
}

/** Under varispeed the whole spectrum moves: a bright bell two octaves down is a dark one. */
export function atSpeed(shape: BladeShape, semitones: number): BladeShape {
  if (semitones === 0 || shape.brightness === null) return shape;
  return { ...shape, brightness: Math.max(0, Math.min(1, shape.brightness + semitones / 12 / OCTAVES)) };
}

export function drawBlade(
  context: CanvasRenderingContext2D,
  shape: BladeShape,
  box: BladeBox,
  colours: BladeColours,
): void {
  const { x, y, width, height, lineWidth = 0.9, wedge = 0 } = box;
  const path = outline(shape.contour, x, y, Math.max(1, width), height);
  const fill = fillFor(context, shape.brightness, colours.ink);
  if (fill === null || typeof fill !== 'string') {
    context.fillStyle = colours.ground;
    context.fill(path);
  }
  if (fill !== null) {
    context.fillStyle = fill;
    context.fill(path);
  }
  const line = colours.line ?? colours.ink;
  context.strokeStyle = line;
  context.lineWidth = lineWidth;
  context.lineJoin = 'round';
  context.stroke(path);
  if (wedge > 0)
    for (const [order, at] of (shape.accents ?? []).entries()) {
      const side = order === 0 ? wedge : wedge * LESSER_WEDGE;
      drawWedge(context, x + width * at, y - height / 2 - 1, side, line);
    }
}

function drawWedge(context: CanvasRenderingContext2D, x: number, bottom: number, side: number, ink: string): void {
  context.fillStyle = ink;
  context.beginPath();
  context.moveTo(x - side / 2, bottom - side * 0.75);
  context.lineTo(x + side / 2, bottom - side * 0.75);
  context.lineTo(x, bottom);
  context.fill();
}

/** No finer than the width can show: one point a pixel and a half. */
function outline(contour: ArrayLike<number>, x: number, y: number, width: number, height: number): Path2D {
  const path = new Path2D();
  const steps = Math.max(4, Math.min(contour.length - 1, Math.round(width / 1.5)));
  const least = 0.5;
  const half = (step: number): number => {
    const from = Math.floor((step * (contour.length - 1)) / steps);
    return Math.max(least, (contour[from] / 255) * (height / 2));
  };
  path.moveTo(x, y - half(0));
  for (let step = 1; step <= steps; step++) path.lineTo(x + (width * step) / steps, y - half(step));
  for (let step = steps; step >= 0; step--) path.lineTo(x + (width * step) / steps, y + half(step));
  path.closePath();
  return path;
}

/** Distances between hatch lines in pixels, from nearly solid to nearly open. */
const HATCHES = [1.7, 2.3, 3.1, 4.2, 5.6] as const;
const SOLID_BELOW = 0.16;
const OPEN_ABOVE = 0.88;
const HATCH_ANGLE_DEGREES = 58;

const patterns = new Map<string, CanvasPattern>();

/** Solid ink, a hatch, or null for an open outline. */
function fillFor(
  context: CanvasRenderingContext2D,
  brightness: number | null,
  ink: string,
): string | CanvasPattern | null {
  if (brightness === null || brightness > OPEN_ABOVE) return null;
  if (brightness < SOLID_BELOW) return ink;
  const step = Math.floor(((brightness - SOLID_BELOW) / (OPEN_ABOVE - SOLID_BELOW)) * HATCHES.length);
  const gap = HATCHES[Math.min(HATCHES.length - 1, step)];
  const ratio = window.devicePixelRatio || 1;
  const key = `${ink} ${gap} ${ratio}`;
  const known = patterns.get(key);
  if (known) return known;
  const pattern = hatch(context, ink, gap, ratio);
  if (pattern) patterns.set(key, pattern);
  return pattern;
}

function hatch(context: CanvasRenderingContext2D, ink: string, gap: number, ratio: number): CanvasPattern | null {
  // Drawn four times finer than the screen, so that gaps of a fraction of a pixel come out even.
  const fine = ratio * 4;
  const tile = document.createElement('canvas');
  tile.width = 8;
  tile.height = Math.round(gap * fine);
  const ink2d = tile.getContext('2d');
  if (!ink2d) return null;
  ink2d.fillStyle = ink;
  ink2d.fillRect(0, 0, tile.width, Math.round(0.85 * fine));
  const pattern = context.createPattern(tile, 'repeat');
  pattern?.setTransform(new DOMMatrix().rotate(-HATCH_ANGLE_DEGREES).scale(1 / fine));
  return pattern;
}
