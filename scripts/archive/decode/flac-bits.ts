/** Reads bits, most significant first, from bytes; every read that runs past the end throws RangeError. */
export class BitReader {
  readonly #bytes: Uint8Array;
  readonly #view: DataView;
  readonly #endBit: number;
  #bit: number;

  constructor(bytes: Uint8Array, offset: number) {
    this.#bytes = bytes;
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
    this.#endBit = bytes.length * 8;
    this.#bit = offset * 8;
  }

  /** The first byte not yet touched. */
  alignedByte(): number {
    return (this.#bit + 7) >> 3;
  }

  /** An unsigned number of up to 24 bits. */
  unsigned(width: number): number {
    const bit = this.#bit;
    if (bit + width > this.#endBit) throw new RangeError('The bits are at their end.');
    const at = bit >> 3;
    const bytes = this.#bytes;
    const word = (bytes[at] << 24) | (bytes[at + 1] << 16) | (bytes[at + 2] << 8) | bytes[at + 3];
    this.#bit = bit + width;
    return width === 0 ? 0 : (word << (bit & 7)) >>> (32 - width);
  }

  /** A number of up to 33 bits in two's complement. */
  signed(width: number): number {
    const low = Math.min(width, 16);
    const high = this.unsigned(width - low);
    const value = high * 2 ** low + this.unsigned(low);
    return value >= 2 ** (width - 1) ? value - 2 ** width : value;
  }

  /** How many zeros stand before the next one; takes both. */
  unary(): number {
    const start = this.#bit;
    const bytes = this.#bytes;
    let at = start >> 3;
    let byte = bytes[at] & (0xff >> (start & 7));
    while (byte === 0 && at < bytes.length) byte = bytes[++at];
    if (at >= bytes.length) throw new RangeError('The bits are at their end.');
    const one = at * 8 + Math.clz32(byte) - 24;
    this.#bit = one + 1;
    return one - start;
  }

  /** Rice codes with `parameter` low bits into samples[from .. to): quotient in unary, remainder, sign folded in. */
  rice(samples: Int32Array | Float64Array, from: number, to: number, parameter: number): void {
    const view = this.#view;
    const bytes = this.#bytes;
    // The quick path loads five bytes at once and must not run past the end.
    const quickEnd = this.#endBit - 40;
    let bit = this.#bit;
    for (let index = from; index < to; index++) {
      if (bit <= quickEnd) {
        const at = bit >> 3;
        const shift = bit & 7;
        const word = (view.getUint32(at) << shift) | (bytes[at + 4] >> (8 - shift));
        const quotient = Math.clz32(word);
        const length = quotient + 1 + parameter;
        if (length <= 32) {
          const remainder = parameter === 0 ? 0 : (word << (quotient + 1)) >>> (32 - parameter);
          const folded = (quotient << parameter) | remainder;
          samples[index] = (folded >>> 1) ^ -(folded & 1);
          bit += length;
          continue;
        }
      }
      this.#bit = bit;
      samples[index] = this.#longRice(parameter);
      bit = this.#bit;
    }
    this.#bit = bit;
  }

  #longRice(parameter: number): number {
    const quotient = this.unary();
    const low = Math.min(parameter, 16);
    const high = this.unsigned(parameter - low);
    const folded = quotient * 2 ** parameter + high * 2 ** low + this.unsigned(low);
    if (folded >= 2 ** 32) throw new Error('A residual larger than 32 bits.');
    return folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2;
  }
}
