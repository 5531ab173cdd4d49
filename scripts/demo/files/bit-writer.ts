/** Writes numbers of any width, highest bit first, into a buffer that grows. */
export class BitWriter {
  #bytes = new Uint8Array(65536);
  #length = 0;
  #held = 0;
  #heldBits = 0;

  /** The `width` lowest bits of a number; width 0..32. */
  write(value: number, width: number): void {
    let left = width;
    while (left > 0) {
      const take = Math.min(left, 8 - this.#heldBits);
      const part = (value >>> (left - take)) & ((1 << take) - 1);
      this.#held = (this.#held << take) | part;
      this.#heldBits += take;
      left -= take;
      if (this.#heldBits === 8) this.#push();
    }
  }

  /** `zeros` zero bits and a one: a unary number. */
  writeUnary(zeros: number): void {
    let left = zeros;
    for (; left >= 32; left -= 32) this.write(0, 32);
    this.write(1, left + 1);
  }

  /** Zero bits up to the next whole byte. */
  align(): void {
    if (this.#heldBits > 0) this.write(0, 8 - this.#heldBits);
  }

  /** Bytes written so far; call after `align`. A view, valid until the next write. */
  bytes(): Uint8Array {
    return this.#bytes.subarray(0, this.#length);
  }

  #push(): void {
    if (this.#length === this.#bytes.length) {
      const larger = new Uint8Array(2 * this.#bytes.length);
      larger.set(this.#bytes);
      this.#bytes = larger;
    }
    this.#bytes[this.#length] = this.#held;
    this.#length += 1;
    this.#held = 0;
    this.#heldBits = 0;
  }
}
