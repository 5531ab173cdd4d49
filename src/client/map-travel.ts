/** Which sound comes next when one travels over the map by arrow keys. */

export type MapDirection = 'left' | 'right' | 'up' | 'down';

/** What lies off the line that was asked for counts as this many times further. */
const ASIDE_WEIGHT = 2;

/** The nearest point within 45 degrees of the way asked; -1 where there is none. Up is where y is less. */
export function nextThatWay(
  direction: MapDirection,
  fromX: number,
  fromY: number,
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  isAsked: (point: number) => boolean,
): number {
  let best = -1;
  let least = Number.POSITIVE_INFINITY;
  for (let point = 0; point < x.length; point++) {
    if (!isAsked(point)) continue;
    const [along, across] = alongAndAcross(direction, x[point] - fromX, y[point] - fromY);
    if (along <= 0 || Math.abs(across) > along) continue;
    const distance = along + ASIDE_WEIGHT * Math.abs(across);
    if (distance < least) {
      least = distance;
      best = point;
    }
  }
  return best;
}

function alongAndAcross(direction: MapDirection, dx: number, dy: number): [along: number, across: number] {
  if (direction === 'left') return [-dx, dy];
  if (direction === 'right') return [dx, dy];
  return direction === 'up' ? [-dy, dx] : [dy, dx];
}
