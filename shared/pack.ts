/**
 * The columnar format the site's data travels in: one file, many named columns, each a typed array.
 *
 * Layout, little-endian: magic `TAKESHLF` (8 bytes) · format version u32 · header length in bytes u32 · header (UTF-8
 * JSON: count, parameters as used, columns with name, type, length and byte offset) · the columns' bytes, each
 * starting at a multiple of 8. Offsets count from the first byte after the header's padding. Text columns hold u32
 * offsets (length + 1 of them) and then UTF-8, so that a reader decodes only what it shows.
 */

export const PACK_MAGIC = 'TAKESHLF';
export const PACK_VERSION = 1;

export type NumberArray = Float32Array | Float64Array | Uint8Array | Int8Array | Uint16Array | Uint32Array;
export type ColumnType = 'f32' | 'f64' | 'u8' | 'i8' | 'u16' | 'u32' | 'text';

interface ColumnHeader {
  name: string;
  type: ColumnType;
  /** Elements (numbers or texts). */
  length: number;
  offset: number;
  bytes: number;
}

export interface Pack {
  /** Rows: sounds. A column may hold several elements a row. */
  count: number;
  /** Parameters as used, not as given. */
  parameters: Record<string, unknown>;
  columns: Map<string, NumberArray | TextColumn>;
}

const TYPES = {
  f32: Float32Array,
  f64: Float64Array,
  u8: Uint8Array,
  i8: Int8Array,
  u16: Uint16Array,
  u32: Uint32Array,
} as const;

function typeOf(array: NumberArray): keyof typeof TYPES {
  for (const [type, arrayClass] of Object.entries(TYPES)) {
    if (array instanceof arrayClass) return type as keyof typeof TYPES;
  }
  throw new TypeError('pack: a column must be one of f32, f64, u8, i8, u16, u32');
}

/** Texts kept as bytes and decoded one at a time. */
export class TextColumn {
  readonly length: number;
  private readonly offsets: Uint32Array;
  private readonly bytes: Uint8Array;
  private static readonly decoder = new TextDecoder();

  constructor(offsets: Uint32Array, bytes: Uint8Array) {
    this.offsets = offsets;
    this.bytes = bytes;
    this.length = offsets.length - 1;
  }

  static from(texts: readonly string[]): TextColumn {
    const encoder = new TextEncoder();
    const encoded = texts.map((text) => encoder.encode(text));
    const offsets = new Uint32Array(texts.length + 1);
    for (let i = 0; i < encoded.length; i++) offsets[i + 1] = offsets[i] + encoded[i].length;
    const bytes = new Uint8Array(offsets[texts.length]);
    for (let i = 0; i < encoded.length; i++) bytes.set(encoded[i], offsets[i]);
    return new TextColumn(offsets, bytes);
  }

  at(index: number): string {
    return TextColumn.decoder.decode(this.bytes.subarray(this.offsets[index], this.offsets[index + 1]));
  }

  toBytes(): Uint8Array {
    const out = new Uint8Array(this.offsets.byteLength + this.bytes.length);
    out.set(new Uint8Array(this.offsets.buffer, this.offsets.byteOffset, this.offsets.byteLength));
    out.set(this.bytes, this.offsets.byteLength);
    return out;
  }
}

/** Thrown when bytes are not a pack this version can read; the message says what was found and what to do. */
export class UnreadablePack extends Error {
  override readonly name = 'UnreadablePack';
}

const align = (bytes: number): number => Math.ceil(bytes / 8) * 8;
const PREAMBLE_BYTES = 16;

export function encodePack(pack: Pack): Uint8Array {
  const headers: ColumnHeader[] = [];
  const bodies: Uint8Array[] = [];
  let offset = 0;
  for (const [name, column] of pack.columns) {
    const text = column instanceof TextColumn;
    const body = text ? column.toBytes() : new Uint8Array(column.buffer, column.byteOffset, column.byteLength);
    headers.push({ name, type: text ? 'text' : typeOf(column), length: column.length, offset, bytes: body.length });
    bodies.push(body);
    offset += align(body.length);
  }
  const header = new TextEncoder().encode(
    JSON.stringify({ count: pack.count, parameters: pack.parameters, columns: headers }),
  );
  const start = align(PREAMBLE_BYTES + header.length);
  const out = new Uint8Array(start + offset);
  out.set(new TextEncoder().encode(PACK_MAGIC));
  const view = new DataView(out.buffer);
  view.setUint32(8, PACK_VERSION, true);
  view.setUint32(12, header.length, true);
  out.set(header, PREAMBLE_BYTES);
  for (let i = 0; i < bodies.length; i++) out.set(bodies[i], start + headers[i].offset);
  return out;
}

/** Reads a pack; typed columns are views into `bytes` (copied first where `bytes` does not start on 8). */
export function decodePack(bytes: Uint8Array): Pack {
  const data = bytes.byteOffset % 8 === 0 ? bytes : bytes.slice();
  const magic = new TextDecoder('latin1').decode(data.subarray(0, 8));
  if (data.length < PREAMBLE_BYTES || magic !== PACK_MAGIC) {
    throw new UnreadablePack(`The data does not begin with ${PACK_MAGIC}; it is damaged or not ours. Build again.`);
  }
  const view = new DataView(data.buffer, data.byteOffset, data.byteLength);
  const version = view.getUint32(8, true);
  if (version !== PACK_VERSION) {
    throw new UnreadablePack(`The data has format version ${version}, expected ${PACK_VERSION}. Build again.`);
  }
  const headerLength = view.getUint32(12, true);
  if (PREAMBLE_BYTES + headerLength > data.length) {
    throw new UnreadablePack(`The data ends inside its header (${data.length} bytes). Build again.`);
  }
  const header = JSON.parse(new TextDecoder().decode(data.subarray(PREAMBLE_BYTES, PREAMBLE_BYTES + headerLength))) as {
    count: number;
    parameters: Record<string, unknown>;
    columns: ColumnHeader[];
  };
  const start = align(PREAMBLE_BYTES + headerLength);
  const columns = new Map<string, NumberArray | TextColumn>();
  for (const { name, type, length, offset, bytes: size } of header.columns) {
    const at = start + offset;
    if (at + size > data.length) {
      throw new UnreadablePack(
        `Column ${name} ends at byte ${at + size}, the data at ${data.length}. Copy it again or build again.`,
      );
    }
    if (type === 'text') {
      const offsets = new Uint32Array(data.buffer, data.byteOffset + at, length + 1);
      columns.set(name, new TextColumn(offsets, data.subarray(at + offsets.byteLength, at + size)));
    } else {
      columns.set(name, new TYPES[type](data.buffer as ArrayBuffer, data.byteOffset + at, length));
    }
  }
  return { count: header.count, parameters: header.parameters, columns };
}
