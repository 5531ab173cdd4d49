/** Seeded random numbers for made-up test sounds (mulberry32, public domain). */
export class Random {
  #state: number;
  #spare: number | null = null;

  constructor(seed: number) {
    this.#state = seed | 0;
  }

  /** 0 <= x < 1. */
  next(): number {
    this.#state = (this.#state + 0x6d2b79f5) | 0;
    let t = Math.imul(this.#state ^ (this.#state >>> 15), 1 | this.#state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** Evenly spread over the logarithm: as many values between 1 and 2 as between 2 and 4. */
  logBetween(low: number, high: number): number {
    return low * (high / low) ** this.next();
  }

  whole(low: number, high: number): number {
    return low + Math.floor(this.next() * (high - low + 1));
  }

  chance(share: number): boolean {
    return this.next() < share;
  }

  pick<T>(choices: readonly T[]): T {
    return choices[Math.floor(this.next() * choices.length)];
  }

  /** Standard normal (polar method of Marsaglia and Bray, 1964), two at a time. */
  normal(): number {
    const kept = this.#spare;
    if (kept !== null) {
      this.#spare = null;
      return kept;
    }
    for (;;) {
      const x = 2 * this.next() - 1;
      const y = 2 * this.next() - 1;
      const s = x * x + y * y;
      if (s >= 1 || s === 0) continue;
      const scale = Math.sqrt((-2 * Math.log(s)) / s);
      this.#spare = y * scale;
      return x * scale;
    }
  }
}
