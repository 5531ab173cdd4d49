/**
 * Lists of numbers that grow while a sound streams past, without an object a value: what the descriptors keep of
 * every frame until the whole sound is known.
 */
export class NumberList {
  #values = new Float32Array(256);
  #length = 0;

  get length(): number {
    return this.#length;
  }

  push(value: number): void {
    if (this.#length === this.#values.length) {
      const larger = new Float32Array(this.#values.length * 2);
      larger.set(this.#values);
      this.#values = larger;
    }
    this.#values[this.#length++] = value;
  }

  /** The values so far, as a view that the next push may leave behind. */
  get values(): Float32Array {
    return this.#values.subarray(0, this.#length);
  }
}

/** The same in double precision, for energies that are added up later over hours. */
export class PreciseList {
  #values = new Float64Array(256);
  #length = 0;

  get length(): number {
    return this.#length;
  }

  push(value: number): void {
    if (this.#length === this.#values.length) {
      const larger = new Float64Array(this.#values.length * 2);
      larger.set(this.#values);
      this.#values = larger;
    }
    this.#values[this.#length++] = value;
  }

  get values(): Float64Array {
    return this.#values.subarray(0, this.#length);
  }
}
