/**
 * The chart of all sounds: near means alike to the ear. Pan, scale, choose by pointer or keys.
 *
 * While it moves, only a picture drawn beforehand is shifted or stretched; a new picture is drawn in slices between
 * frames (see map-picture.ts) and put in when done.
 */

import Flatbush from 'flatbush';
import { drawBlade } from './blade.ts';
import { byId, contextOf } from './dom.ts';
import { extentOf } from './extent.ts';
import { type Box, coverage, drawPicture, drawPictureNames, type Picture, PictureJob } from './map-picture.ts';
import { followPointers } from './map-pointer.ts';
import { type MapDirection, nextThatWay } from './map-travel.ts';
import type { Shapes } from './shapes.ts';
import type { MapView, Store } from './state.ts';
import { colours, onRepaint } from './theme.ts';

/** Half the width and height of the mark about the sound in hand, at most. */
const MARK = { x: 36, y: 19 };
/** Pixels left free around the whole map, so that the mark about a sound at its edge is whole. */
const FIT_MARGIN = { x: MARK.x + 4, y: MARK.y + 5 };
/** At the foot of the pane, where the caption lies over the chart. */
const CAPTION_HEIGHT = 32;
const CLOSEST = 40;
const CLICK_REACH = 28;
const SLICE_MILLISECONDS = 3;
const KEY_STEP = 1.5;
const REST_MILLISECONDS = 140;

export class SoundMap {
  private readonly store: Store;
  private readonly shapes: Shapes;
  private readonly choose: (sound: number) => void;
  private readonly canvas = byId('map', HTMLCanvasElement);
  private readonly x: Float32Array;
  private readonly y: Float32Array;
  private readonly index: Flatbush | null;
  /** Sounds that have a place, in the order of the index: silence has none. */
  private readonly placed: Uint32Array;
  private readonly bounds: { x: number; y: number; width: number; height: number };
  private view: MapView = { x: 0, y: 0, scale: 1 };
  private whole = true;
  private picture: Picture | null = null;
  private job: PictureJob | null = null;
  private rank: Int32Array;
  private frame = 0;
  private following = 0;
  private width = 0;
  private height = 0;

  constructor(store: Store, shapes: Shapes, choose: (sound: number) => void) {
    this.store = store;
    this.shapes = shapes;
    this.choose = choose;
    const { shelf } = shapes;
    this.x = shelf.number('mapX');
    this.y = shelf.number('mapY');
    this.rank = new Int32Array(shelf.count).fill(0);
    this.bounds = boundsOf(this.x, this.y);
    this.placed = Uint32Array.from(this.x.keys()).filter((sound) => this.hasPlace(sound));
    this.index = this.placed.length > 0 ? indexOf(this.x, this.y, this.placed) : null;
    const { mapView } = store.get();
    if (mapView) {
      this.view = mapView;
      this.whole = false;
    }
    new ResizeObserver(() => this.resize()).observe(this.canvas);
    followPointers(this.canvas, {
      drag: (dx, dy) => this.shift(dx, dy),
      stretch: (factor, paneX, paneY) => this.zoom(factor, paneX, paneY),
      settled: () => this.keep(),
      click: (paneX, paneY) => this.click(paneX, paneY),
    });
    onRepaint(() => this.renew());
    store.on(['results'], () => this.followResults());
    store.on(['sound'], () => this.bringIntoView());
    store.on(['mapView'], ({ mapView: wanted }) => this.take(wanted));
  }

  fit(): void {
    this.store.set({ mapView: null });
    this.whole = true;
    this.view = this.wholeView();
    this.renew();
  }

  /** Scales about a point of the pane, by default its middle. */
  zoom(factor: number, atX = this.width / 2, atY = this.height / 2): void {
    const least = this.wholeView().scale * 0.7;
    const scale = Math.min(least * CLOSEST, Math.max(least, this.view.scale * factor));
    const [mapX, mapY] = this.toMap(atX, atY);
    this.view = { scale, x: mapX - (atX - this.width / 2) / scale, y: mapY - (atY - this.height / 2) / scale };
    this.moved();
  }

  private shift(dx: number, dy: number): void {
    const { x, y, scale } = this.view;
    this.view = { scale, x: x - dx / scale, y: y - dy / scale };
    this.moved();
  }

  zoomByKey(closer: boolean): void {
    this.zoom(closer ? KEY_STEP : 1 / KEY_STEP);
    this.keep();
  }

  /** The nearest sound that way from the sound in hand: among the results where there are any. */
  neighbour(direction: MapDirection): number {
    const { sound } = this.store.get();
    const [fromX, fromY] = this.hasPlace(sound) ? [this.x[sound], this.y[sound]] : [this.view.x, this.view.y];
    const isAsked = (other: number): boolean => other !== sound && this.isResult(other) && this.hasPlace(other);
    return nextThatWay(direction, fromX, fromY, this.x, this.y, isAsked);
  }

  /** False for silence, and for no sound (-1). */
  private hasPlace(sound: number): boolean {
    return sound >= 0 && !Number.isNaN(this.x[sound]);
  }

  private isResult(sound: number): boolean {
    return this.rank[sound] >= 0;
  }

  /** The map follows the question when the hands rest: while one types, the list comes first. */
  private followResults(): void {
    window.clearTimeout(this.following);
    this.following = window.setTimeout(() => this.rankAgain(), this.picture ? REST_MILLISECONDS : 0);
  }

  private rankAgain(): void {
    const { order, found } = this.store.get().results;
    this.rank.fill(-1);
    for (let place = 0; place < found; place++) this.rank[order[place]] = place;
    this.renew();
  }

  private wholeView(): MapView {
    const { x, y, width, height } = this.bounds;
    const roomX = Math.max(1, this.width - 2 * FIT_MARGIN.x);
    const roomY = Math.max(1, this.height - CAPTION_HEIGHT - 2 * FIT_MARGIN.y);
    const scale = Math.min(roomX / width, roomY / height);
    return { x: x + width / 2, y: y + height / 2 + CAPTION_HEIGHT / 2 / scale, scale };
  }

  private resize(): void {
    this.width = this.canvas.clientWidth;
    this.height = this.canvas.clientHeight;
    if (this.whole) this.view = this.wholeView();
    this.renew();
  }

  private take(wanted: MapView | null): void {
    if (wanted === this.view) return;
    this.whole = wanted === null;
    this.view = wanted ?? this.wholeView();
    this.moved();
  }

  /** Puts the present view into the link. */
  private keep(): void {
    this.whole = false;
    this.store.set({ mapView: this.view });
  }

  private toMap(paneX: number, paneY: number): [number, number] {
    const { x, y, scale } = this.view;
    return [x + (paneX - this.width / 2) / scale, y + (paneY - this.height / 2) / scale];
  }

  private toPane(sound: number): [number, number] {
    const { x, y, scale } = this.view;
    return [this.width / 2 + (this.x[sound] - x) * scale, this.height / 2 + (this.y[sound] - y) * scale];
  }

  private bringIntoView(): void {
    const { sound } = this.store.get();
    if (this.hasPlace(sound) && this.width > 0) {
      const [paneX, paneY] = this.toPane(sound);
      const inside =
        paneX > MARK.x &&
        paneY > MARK.y &&
        paneX < this.width - MARK.x &&
        paneY < this.height - CAPTION_HEIGHT - MARK.y;
      if (!inside) this.view = { ...this.view, x: this.x[sound], y: this.y[sound] };
    }
    this.moved();
  }

  /** The picture no longer says the truth: what is found, colours or size changed. */
  renew(): void {
    this.job = null;
    if (this.width === 0 || this.height === 0) return;
    this.startJob();
    this.moved();
  }

  private startJob(): void {
    this.job = new PictureJob({
      shapes: this.shapes,
      search: (...box) => (this.index?.search(...box) ?? []).map((at) => this.placed[at]),
      x: this.x,
      y: this.y,
      rank: this.rank,
      everything: this.store.get().results.found === this.shapes.shelf.count,
      view: this.view,
      wholeScale: this.wholeView().scale,
      width: this.width,
      height: this.height,
      palette: colours(),
    });
  }

  private moved(): void {
    if (this.frame === 0) this.frame = requestAnimationFrame(() => this.paint());
  }

  private paint(): void {
    this.frame = 0;
    if (this.width === 0 || this.height === 0) return;
    if (this.job?.draw(SLICE_MILLISECONDS)) {
      this.picture = this.job.picture;
      this.job = null;
    }
    const context = contextOf(this.canvas, this.width, this.height);
    if (!context) return;
    if (this.picture) drawPicture(context, this.picture, this.view, this.width, this.height);
    this.drawInHand(context);
    if (this.picture) {
      const pane = { width: this.width, height: this.height };
      drawPictureNames(context, this.picture, this.view, pane, this.markBox(), colours());
    }
    if (!this.job && this.picture && coverage(this.picture, this.view, this.width, this.height) === 'redraw')
      this.startJob();
    if (this.job) this.moved();
  }

  /** Where the sound in hand is marked; null while there is none. */
  private markBox(): Box | null {
    const { sound } = this.store.get();
    if (!this.hasPlace(sound)) return null;
    const [paneX, paneY] = this.toPane(sound);
    const half = this.markBladeWidth(sound) / 2 + 9;
    return [paneX - half, paneY - MARK.y, 2 * half, 2 * MARK.y];
  }

  private markBladeWidth(sound: number): number {
    return Math.max(20, Math.min(54, 22 + 9 * Math.log2(1 + this.shapes.duration(sound))));
  }

  private drawInHand(context: CanvasRenderingContext2D): void {
    const { sound } = this.store.get();
    const box = this.markBox();
    if (box === null) return;
    const [paneX, paneY] = this.toPane(sound);
    const palette = colours();
    const width = this.markBladeWidth(sound);
    context.fillStyle = palette.sheet;
    context.globalAlpha = 0.82;
    context.beginPath();
    context.roundRect(...box, MARK.y);
    context.fill();
    context.globalAlpha = 1;
    context.strokeStyle = palette.signal;
    context.lineWidth = 1.5;
    context.stroke();
    drawBlade(
      context,
      this.shapes.of(sound),
      { x: paneX - width / 2, y: paneY, width, height: 16, lineWidth: 1.2 },
      { ink: palette.ink, line: palette.signal, ground: palette.sheet },
    );
  }

  private click(paneX: number, paneY: number): void {
    const [mapX, mapY] = this.toMap(paneX, paneY);
    const reach = CLICK_REACH / this.view.scale;
    // Where a question is asked, its results answer the pointer before the faint rest does.
    const [result] = this.index?.neighbors(mapX, mapY, 1, reach, (at) => this.isResult(this.placed[at])) ?? [];
    const [any] = this.index?.neighbors(mapX, mapY, 1, reach) ?? [];
    const at = result ?? any;
    if (at !== undefined) this.choose(this.placed[at]);
  }
}

function indexOf(x: Float32Array, y: Float32Array, sounds: Uint32Array): Flatbush {
  const index = new Flatbush(sounds.length, 16, Float32Array);
  for (const i of sounds) index.add(x[i], y[i], x[i], y[i]);
  index.finish();
  return index;
}

function boundsOf(x: Float32Array, y: Float32Array): { x: number; y: number; width: number; height: number } {
  const extent = extentOf(x, y);
  if (extent === null) return { x: 0, y: 0, width: 1, height: 1 };
  const { left, right, top, bottom } = extent;
  const [width, height] = [Math.max(right - left, 1e-3), Math.max(bottom - top, 1e-3)];
  return { x: (left + right - width) / 2, y: (top + bottom - height) / 2, width, height };
}
