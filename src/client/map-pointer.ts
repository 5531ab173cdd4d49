/** Fingers, pens and mice on the map: one drags, two stretch, a wheel stretches, a press without a way is a click. */

export interface PointerActs {
  drag: (dx: number, dy: number) => void;
  /** Scale by this factor about a point of the pane. */
  stretch: (factor: number, paneX: number, paneY: number) => void;
  /** A drag or stretch is over. */
  settled: () => void;
  click: (paneX: number, paneY: number) => void;
}

/** Pixels a pointer may tremble and still click. */
const DRAG_BEGINS = 4;
const WHEEL_PER_DOUBLE = 240;
const PIXELS_PER_LINE = 24;

interface Point {
  x: number;
  y: number;
}

export function followPointers(canvas: HTMLCanvasElement, acts: PointerActs): void {
  const pointers = new Map<number, Point>();
  let travelled = 0;
  canvas.addEventListener('pointerdown', (event) => {
    canvas.setPointerCapture(event.pointerId);
    pointers.set(event.pointerId, { x: event.offsetX, y: event.offsetY });
    if (pointers.size === 1) travelled = 0;
  });
  canvas.addEventListener('pointermove', (event) => {
    const before = pointers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.offsetX, y: event.offsetY };
    travelled += distance(before, now);
    pointers.set(event.pointerId, now);
    if (travelled < DRAG_BEGINS) return;
    const other = [...pointers].find(([id]) => id !== event.pointerId)?.[1];
    if (other) acts.stretch(distance(now, other) / Math.max(1, distance(before, other)), other.x, other.y);
    else acts.drag(now.x - before.x, now.y - before.y);
  });
  const lift = (event: PointerEvent) => {
    if (!pointers.delete(event.pointerId)) return;
    if (travelled >= DRAG_BEGINS) acts.settled();
    else if (event.type === 'pointerup') acts.click(event.offsetX, event.offsetY);
  };
  canvas.addEventListener('pointerup', lift);
  canvas.addEventListener('pointercancel', lift);
  canvas.addEventListener(
    'wheel',
    (event) => {
      event.preventDefault();
      const pixels = event.deltaY * (event.deltaMode === WheelEvent.DOM_DELTA_LINE ? PIXELS_PER_LINE : 1);
      acts.stretch(2 ** (-pixels / WHEEL_PER_DOUBLE), event.offsetX, event.offsetY);
      acts.settled();
    },
    { passive: false },
  );
}

const distance = (a: Point, b: Point): number => Math.hypot(a.x - b.x, a.y - b.y);
