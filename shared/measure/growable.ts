/**
 * A list of numbers that grows while a sound streams past, without an object a value: what the descriptors keep of
 * every frame until the whole sound is known.
 */
export class NumberList<Values extends Float32Array | Float64Array> {
  readonly #make: (length: number) => Values;
  #values: Values;
  #length = 0;

  constructor(make: (length: number) => Values) {
    this.#make = make;
    this.#values = make(256);
  }

  get length(): number {
    return this.#length;
  }

  push(value: number): void {
    if (this.#length === this.#values.length) {
      const larger = this.#make(this.#values.length * 2);
      larger.set(this.#values);
      this.#values = larger;
    }
    this.#values[this.#length++] = value;
  }

  /** The values so far, as a view that the next push may leave behind. */
  get values(): Values {
    return this.#values.subarray(0, this.#length) as Values;
  }
}

export function singles(): NumberList<Float32Array> {
  return new NumberList((length) => new Float32Array(length));
}

/** For energies: added up over hours, and out of a float's range for the loudest samples a float file can hold. */
export function doubles(): NumberList<Float64Array> {
  return new NumberList((length) => new Float64Array(length));
}
