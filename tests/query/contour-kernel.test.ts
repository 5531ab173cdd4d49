/** Eight rows warped at once give what one at a time gives, and both ways of searching the same list. */
import { expect, it } from 'vitest';
import { warpedCost } from '../../shared/query/contour-bounds.ts';
import { LANES, type WarpKernel, warpKernel } from '../../shared/query/contour-kernel.ts';
import { shapeRowsOf } from '../../shared/query/contour-rows.ts';
import { nearestRows } from '../../shared/query/contour-search.ts';
import { CONTOUR_POINTS } from '../../shared/sound.ts';
import { Random } from '../measure/random.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

/** Node has had vector instructions since version 16.4: without them this must fail, not pass in silence. */
function kernelHere(): WarpKernel {
  const kernel = warpKernel();
  if (!kernel) throw new Error('This Node makes no WebAssembly module with vector instructions.');
  return kernel;
}

it('the cost of eight rows is that of each by itself, also for the loudest against silence', () => {
  const { wanted, rows, costs, warp } = kernelHere();
  const random = new Random(8);
  const kinds: (() => number)[] = [() => random.whole(0, 255), () => 255 * random.whole(0, 1), () => 255, () => 0];
  const row = (): Uint8Array => Uint8Array.from({ length: CONTOUR_POINTS }, random.pick(kinds));
  for (let run = 0; run < 400; run++) {
    const one = row();
    const eight = Array.from({ length: LANES }, row);
    wanted.set(one);
    for (const [lane, other] of eight.entries()) {
      for (let point = 0; point < CONTOUR_POINTS; point++) rows[point * LANES + lane] = other[point];
    }
    warp();
    expect([...costs]).toEqual(eight.map((other) => warpedCost(one, 0, other, 0)));
  }
});

it('the search with bounds finds the nearest that warping all finds, at the same distances', () => {
  const kernel = kernelHere();
  const random = new Random(9);
  const table = shapeRowsOf(shelfOf(inventSounds(501, 9)));
  for (let run = 0; run < 20; run++) {
    const from = random.whole(0, 500);
    const row = table.rows
      .slice(from * CONTOUR_POINTS, (from + 1) * CONTOUR_POINTS)
      .map((value) => value ^ random.whole(0, 31));
    // Each sound once, some left out, in no order.
    const sounds = Uint32Array.from({ length: 501 }, (_, at) => at)
      .filter(() => random.whole(0, 9) > 0)
      .reverse();
    const added = Float64Array.from(sounds, () => random.whole(0, 3) / 10);
    const asked = { table, row, silent: false, sounds, added, limit: random.whole(0, 60), silentDistance: 2 };
    const all = nearestRows(asked, kernel);
    const searched = nearestRows(asked, null);
    expect([...searched.nearest]).toEqual([...all.nearest]);
    for (const at of all.nearest) expect(searched.distances[at]).toBe(all.distances[at]);
    // What the search leaves unwarped it never puts nearer than it is: that bound is what the order rests on.
    for (let at = 0; at < sounds.length; at++) expect(searched.distances[at]).toBeLessThanOrEqual(all.distances[at]);
  }
});
