/** Ogg pages for tests, after RFC 3533, with whole packets and a checksum computed bit by bit. */
import { bytes, u32, u64 } from './bytes.ts';

export interface PageFacts {
  serial?: number;
  sequence: number;
  granule: number;
  first?: boolean;
  last?: boolean;
}

/** A page with whole packets, which must fit its 255 segments. */
export function page(packets: Uint8Array[], { serial = 7, sequence, granule, first, last }: PageFacts): Uint8Array {
  const lacing = packets.flatMap(({ length }) => [...Array<number>(Math.floor(length / 255)).fill(255), length % 255]);
  const flags = (first ? 2 : 0) + (last ? 4 : 0);
  const head = bytes('OggS', [0, flags], u64(granule), u32(serial), u32(sequence), u32(0), [lacing.length], lacing);
  const whole = bytes(head, ...packets);
  whole.set(u32(checksum(whole)), 22);
  return whole;
}

/** Packets one a page; `granules` gives the position after each. */
export function stream(packets: Uint8Array[], granules: number[], serial = 7): Uint8Array {
  return bytes(
    ...packets.map((packet, sequence) =>
      page([packet], {
        serial,
        sequence,
        granule: granules[sequence],
        first: sequence === 0,
        last: sequence === packets.length - 1,
      }),
    ),
  );
}

function checksum(data: Uint8Array): number {
  let register = 0;
  for (const byte of data) {
    for (let bit = 7; bit >= 0; bit--) {
      const out = (register >>> 31) ^ ((byte >> bit) & 1);
      register = ((register << 1) ^ (out ? 0x04c1_1db7 : 0)) >>> 0;
    }
  }
  return register;
}
