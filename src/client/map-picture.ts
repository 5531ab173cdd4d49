/**
 * One picture of the map, somewhat larger than the pane: level lines of how densely sounds lie, names of places, blades
 * where there is room for them and dots where there is not. Drawn in slices so that no frame waits for it.
 */
import { drawBlade } from './blade.ts';
import { contextOf } from './dom.ts';
import { drawLevel, levelsOf } from './map-levels.ts';
import type { Shapes } from './shapes.ts';
import type { MapView } from './state.ts';
import type { Palette } from './theme.ts';

export interface Picture {
  canvas: HTMLCanvasElement;
  view: MapView;
  /** Drawn over it, clear of the sound in hand. */
  names: PlacedName[];
  /** Size in CSS pixels. */
  width: number;
  height: number;
}

export interface PictureInput {
  shapes: Shapes;
  search: (minX: number, minY: number, maxX: number, maxY: number) => number[];
  x: Float32Array;
  y: Float32Array;
  /** Place of each sound among the results; -1 where it is not one. */
  rank: Int32Array;
  /** True when nothing is left out, so nothing is faint. */
  everything: boolean;
  view: MapView;
  wholeScale: number;
  width: number;
  height: number;
  palette: Palette;
}

/** Pixels drawn beyond the pane on each side: what one drag may uncover before a new picture is ready. */
const MARGIN = 180;
/** Sounds looked at, and blades drawn, between two looks at the clock. */
const BATCH = 64;
const BLADE_BATCH = 4;

export class PictureJob {
  readonly picture: Picture;
  private readonly input: PictureInput;
  private readonly context: CanvasRenderingContext2D | null;
  private readonly taken: Occupancy;
  /** What is still to be done, one call of each step after the other; null before the beginning. */
  private steps: Generator<void> | null = null;

  constructor(input: PictureInput) {
    this.input = input;
    const canvas = document.createElement('canvas');
    const [width, height] = [input.width + 2 * MARGIN, input.height + 2 * MARGIN];
    this.picture = { canvas, view: input.view, names: [], width, height };
    // In main memory: its drawing then falls into our own slices instead of stalling a later frame.
    this.context = contextOf(canvas, width, height, { willReadFrequently: true });
    this.taken = new Occupancy(width, height);
  }

  /** Draws for about so long; true once the picture is finished. */
  draw(milliseconds: number): boolean {
    if (!this.context) return true;
    this.steps ??= this.work(this.context);
    const until = performance.now() + milliseconds;
    do {
      if (this.steps.next().done) return true;
    } while (performance.now() < until);
    return false;
  }

  /** Level lines; then who gets a blade; dots for the rest; blades over them. */
  private *work(context: CanvasRenderingContext2D): Generator<void> {
    const levels = levelsOf(this.input.x, this.input.y);
    yield;
    for (const path of levels.paths) {
      drawLevel(context, path, levels, this.picture, this.input.palette);
      yield;
    }
    this.picture.names = placeNames(context, this.input, this.picture);
    for (const name of this.picture.names) this.taken.take(name.box);
    const queue = this.inView();
    yield;
    const blades: number[] = [];
    for (const [at, sound] of queue.entries()) {
      const box = this.boxOf(sound);
      if (this.taken.free(box)) {
        this.taken.take(box);
        blades.push(sound);
      } else this.drawDot(context, sound, box);
      if (at % BATCH === 0) yield;
    }
    for (const [at, sound] of blades.entries()) {
      this.drawBlade(context, sound);
      if (at % BLADE_BATCH === 0) yield;
    }
  }

  /** Sounds in the picture: the question's results first, then in a fixed scattering. */
  private inView(): number[] {
    const { shapes, view, search, rank } = this.input;
    const halfWidth = this.picture.width / 2 / view.scale;
    const halfHeight = this.picture.height / 2 / view.scale;
    const found = search(view.x - halfWidth, view.y - halfHeight, view.x + halfWidth, view.y + halfHeight);
    const order = (sound: number): number => (rank[sound] < 0 ? shapes.shelf.count : 0) + spread(sound);
    return found
      .map((sound): [number, number] => [order(sound), sound])
      .sort((a, b) => a[0] - b[0])
      .map(([, sound]) => sound);
  }

  private isFound(sound: number): boolean {
    return this.input.everything || this.input.rank[sound] >= 0;
  }

  private boxOf(sound: number): Box {
    const { shapes, view, x, y, wholeScale } = this.input;
    const near = Math.max(1, Math.min(2.6, Math.sqrt(view.scale / wholeScale)));
    const width = Math.max(8, Math.min(30, 9 + 7 * Math.log2(1 + shapes.duration(sound)))) * near;
    const height = 8.5 * near;
    const paneX = this.picture.width / 2 + (x[sound] - view.x) * view.scale;
    const paneY = this.picture.height / 2 + (y[sound] - view.y) * view.scale;
    return [paneX - width / 2 - 1, paneY - height / 2 - 1, width + 2, height + 2];
  }

  private drawDot(context: CanvasRenderingContext2D, sound: number, [left, top, width, height]: Box): void {
    const { palette } = this.input;
    const found = this.isFound(sound);
    context.fillStyle = found ? palette.soft : palette.faded;
    context.beginPath();
    context.arc(left + width / 2, top + height / 2, found ? 1.3 : 1, 0, 2 * Math.PI);
    context.fill();
  }

  private drawBlade(context: CanvasRenderingContext2D, sound: number): void {
    const { shapes, palette } = this.input;
    const [left, top, width, height] = this.boxOf(sound);
    const found = this.isFound(sound);
    const shape = shapes.of(sound);
    drawBlade(
      context,
      found ? shape : { contour: shape.contour, brightness: null },
      { x: left + 1, y: top + height / 2, width: width - 2, height: height - 2, lineWidth: found ? 0.8 : 0.6 },
      { ink: found ? palette.ink : palette.faded, ground: palette.sheet },
    );
  }
}

/** Puts the picture where the view now is: shifted, and stretched while the scale is changing. */
export function drawPicture(
  context: CanvasRenderingContext2D,
  picture: Picture,
  view: MapView,
  width: number,
  height: number,
): void {
  const stretch = view.scale / picture.view.scale;
  const left = width / 2 + (picture.view.x - view.x) * view.scale - (picture.width / 2) * stretch;
  const top = height / 2 + (picture.view.y - view.y) * view.scale - (picture.height / 2) * stretch;
  context.drawImage(picture.canvas, left, top, picture.width * stretch, picture.height * stretch);
}

/** Whether the picture still serves this view, or a new one is wanted: another scale, or its edge is near. */
export function coverage(picture: Picture, view: MapView, width: number, height: number): 'good' | 'redraw' {
  if (view.scale !== picture.view.scale) return 'redraw';
  const shiftX = Math.abs(view.x - picture.view.x) * view.scale;
  const shiftY = Math.abs(view.y - picture.view.y) * view.scale;
  const room = MARGIN * 0.55;
  return picture.width - width < 2 * MARGIN - 1 ||
    picture.height - height < 2 * MARGIN - 1 ||
    shiftX > room ||
    shiftY > room
    ? 'redraw'
    : 'good';
}

/** A fixed scattering of 0..1 by sound, so that which ones get a blade is even over the map and never changes. */
const spread = (sound: number): number => ((Math.imul(sound + 1, 2654435761) >>> 0) / 4294967296) * 0.999;

export type Box = readonly [left: number, top: number, width: number, height: number];

/** Which cells of the picture already carry a sign. */
class Occupancy {
  private static readonly CELL = 3;
  private readonly columns: number;
  private readonly rows: number;
  private readonly cells: Uint8Array;

  constructor(width: number, height: number) {
    this.columns = Math.ceil(width / Occupancy.CELL);
    this.rows = Math.ceil(height / Occupancy.CELL);
    this.cells = new Uint8Array(this.columns * this.rows);
  }

  free(box: Box): boolean {
    return !this.each(box, (cell) => this.cells[cell] === 1);
  }

  take(box: Box): void {
    this.each(box, (cell) => {
      this.cells[cell] = 1;
      return false;
    });
  }

  /** Stops, and is true, when `test` is true of a cell. */
  private each([left, top, width, height]: Box, test: (cell: number) => boolean): boolean {
    const first = Math.max(0, Math.floor(left / Occupancy.CELL));
    const last = Math.min(this.columns - 1, Math.floor((left + width) / Occupancy.CELL));
    const lowest = Math.min(this.rows - 1, Math.floor((top + height) / Occupancy.CELL));
    for (let row = Math.max(0, Math.floor(top / Occupancy.CELL)); row <= lowest; row++) {
      for (let column = first; column <= last; column++) if (test(row * this.columns + column)) return true;
    }
    return false;
  }
}

export interface PlacedName {
  label: string;
  x: number;
  y: number;
  box: Box;
}

const NAME_FONT = 'italic 400 16px "Source Serif 4", Georgia, serif';

/** Names of places, the largest places first; one that would touch another is left out until one comes closer. */
function placeNames(context: CanvasRenderingContext2D, input: PictureInput, picture: Picture): PlacedName[] {
  const { view } = input;
  const placed: PlacedName[] = [];
  const places = [...input.shapes.shelf.parameters.mapPlaces].sort((a, b) => b.sounds - a.sounds);
  context.font = NAME_FONT;
  for (const place of places) {
    const x = picture.width / 2 + (place.x - view.x) * view.scale;
    const y = picture.height / 2 + (place.y - view.y) * view.scale;
    const width = context.measureText(place.label).width;
    const box: Box = [x - width / 2 - 8, y - 13, width + 16, 24];
    if (placed.every((other) => apart(other.box, box))) placed.push({ label: place.label, x, y: y + 5, box });
  }
  return placed;
}

const apart = (a: Box, b: Box): boolean =>
  a[0] + a[2] < b[0] || b[0] + b[2] < a[0] || a[1] + a[3] < b[1] || b[1] + b[3] < a[1];

/** How far up or down a name goes to clear what it must not cover; null where another name stands there. */
function wayAround(box: Box, avoid: Box, others: readonly Box[]): number | null {
  if (apart(box, avoid)) return 0;
  const up = avoid[1] - (box[1] + box[3]) - 1;
  const down = avoid[1] + avoid[3] - box[1] + 1;
  const ways = -up < down ? [up, down] : [down, up];
  const free = (way: number): boolean => others.every((other) => apart(other, [box[0], box[1] + way, box[2], box[3]]));
  return ways.find(free) ?? null;
}

/** Names keep their size while the scale is changing and move with their places. */
export function drawPictureNames(
  context: CanvasRenderingContext2D,
  picture: Picture,
  view: MapView,
  { width, height }: { width: number; height: number },
  avoid: Box | null,
  palette: Palette,
): void {
  const stretch = view.scale / picture.view.scale;
  const left = width / 2 + (picture.view.x - view.x) * view.scale - (picture.width / 2) * stretch;
  const top = height / 2 + (picture.view.y - view.y) * view.scale - (picture.height / 2) * stretch;
  const placed = picture.names.map(({ label, x, y, box }) => {
    const [nameX, nameY] = [left + x * stretch, top + y * stretch];
    return { label, x: nameX, y: nameY, box: [nameX - box[2] / 2, nameY - 18, box[2], box[3]] as const };
  });
  context.font = NAME_FONT;
  context.textAlign = 'center';
  context.lineJoin = 'round';
  context.lineWidth = 5;
  context.strokeStyle = palette.sheet;
  context.fillStyle = palette.ink;
  for (const name of placed) {
    const down = avoid
      ? wayAround(
          name.box,
          avoid,
          placed.filter((other) => other !== name).map(({ box }) => box),
        )
      : 0;
    if (down === null) continue;
    context.strokeText(name.label, name.x, name.y + down);
    context.fillText(name.label, name.x, name.y + down);
  }
  context.textAlign = 'start';
}
