/**
 * Seeded chance: every draw of the demo archive comes from here, so that one seed gives one archive, byte for byte.
 *
 * The generator is sfc32 (Doty-Humphrey, from the PractRand suite: 128 bits of state, a counter guarantees a period of at least
 * 2^32); text keys are hashed by FNV-1a so that a sound's chance depends on its own name and not on what came before it.
 */

export interface Random {
  /** Uniform in [0, 1). */
  unit(): number;
  /** Uniform in [from, to). */
  range(from: number, to: number): number;
  /** Uniform on a logarithmic scale; both ends above 0. */
  logRange(from: number, to: number): number;
  /** Whole number from..to, both included. */
  whole(from: number, to: number): number;
  /** One of the items, all equally likely; throws on an empty list. */
  pick<T>(items: readonly T[]): T;
  /** Standard normal deviate (Box-Muller). */
  normal(): number;
  /** -1 or 1. */
  sign(): number;
  /** An independent generator that depends on this one's seed and the key only, not on draws already made. */
  branch(key: string): Random;
}

export function createRandom(seed: string): Random {
  const next = sfc32(fnv1a(`${seed}/a`), fnv1a(`${seed}/b`), fnv1a(`${seed}/c`));
  const unit = () => next() / 4294967296;
  const range = (from: number, to: number) => from + (to - from) * unit();
  return {
    unit,
    range,
    logRange: (from, to) => from * (to / from) ** unit(),
    whole: (from, to) => from + Math.floor(unit() * (to - from + 1)),
    pick: (items) => {
      const item = items[Math.floor(unit() * items.length)];
      if (item === undefined) throw new RangeError('pick: the list is empty.');
      return item;
    },
    normal: () => Math.sqrt(-2 * Math.log(1 - unit())) * Math.cos(2 * Math.PI * unit()),
    sign: () => (unit() < 0.5 ? -1 : 1),
    branch: (key) => createRandom(`${seed}/${key}`),
  };
}

/** 32-bit FNV-1a over UTF-16 code units. */
function fnv1a(text: string): number {
  let hash = 0x811c9dc5;
  for (let index = 0; index < text.length; index += 1) {
    hash = Math.imul(hash ^ text.charCodeAt(index), 0x01000193);
  }
  return hash >>> 0;
}

function sfc32(first: number, second: number, third: number): () => number {
  let a = first | 0;
  let b = second | 0;
  let c = third | 0;
  let counter = 1;
  const next = () => {
    const sum = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (c << 21) | (c >>> 11);
    c = (c + sum) | 0;
    return sum >>> 0;
  };
  for (let warmUp = 0; warmUp < 12; warmUp += 1) next();
  return next;
}
