/**
 * How long things take to die away, from their parameters: seconds as a function of the drop in dB. What one of them puts
 * into another (a stroke into a plate, a plate into a room) dies in both.
 */

/** Seconds after the first energy at which a level of `dropDb` below the top is left for good. */
export type Fall = (dropDb: number) => number;

const STEP_DB = 2;
const DEEPEST_DB = 90;

/**
 * Fall of `first` ringing on in `second`: what was put in x dB below the top has `dropDb` - x left to fall; the longest
 * way down counts.
 */
export function fallThrough(first: Fall, second: Fall): Fall {
  const early = tabled(first);
  const late = tabled(second);
  return tabled((dropDb) => {
    let longest = 0;
    for (let part = 0; part <= dropDb; part += STEP_DB) longest = Math.max(longest, early(part) + late(dropDb - part));
    return longest;
  });
}

/** The same function, computed once every 2 dB from 0 to 90 and read between; below and beyond it stays at the ends. */
export function tabled(fall: Fall): Fall {
  const table = Float64Array.from({ length: DEEPEST_DB / STEP_DB + 1 }, (_, index) => fall(index * STEP_DB));
  return (dropDb) => {
    const position = Math.min(DEEPEST_DB, Math.max(0, dropDb)) / STEP_DB;
    const index = Math.min(table.length - 2, Math.floor(position));
    return table[index] + (position - index) * (table[index + 1] - table[index]);
  };
}
