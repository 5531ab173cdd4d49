import { describe, expect, test } from 'vitest';
import { decodePack, encodePack, type NumberArray, PACK_MAGIC, TextColumn, UnreadablePack } from '../../shared/pack.ts';

function sample(): Uint8Array {
  const columns = new Map<string, NumberArray | TextColumn>([
    ['level', Float32Array.of(-23, Number.NaN, 0.5)],
    ['kind', Uint8Array.of(1, 2, 255)],
    ['name', TextColumn.from(['', 'Tam-tam, große Kette', '\u202Ebell 🔔\n<script>'])],
    ['big', Uint32Array.of(4_294_967_295)],
  ]);
  return encodePack({ count: 3, parameters: { seed: 7 }, columns });
}

describe('pack', () => {
  test('gives back what was put in, wherever the bytes lie in memory', () => {
    const bytes = sample();
    for (const shift of [0, 1, 3, 8]) {
      const moved = new Uint8Array(bytes.length + shift);
      moved.set(bytes, shift);
      const pack = decodePack(moved.subarray(shift));
      expect(pack.count).toBe(3);
      expect(pack.parameters).toEqual({ seed: 7 });
      expect([...(pack.columns.get('level') as Float32Array)]).toEqual([-23, Number.NaN, 0.5]);
      expect([...(pack.columns.get('kind') as Uint8Array)]).toEqual([1, 2, 255]);
      expect([...(pack.columns.get('big') as Uint32Array)]).toEqual([4_294_967_295]);
      const names = pack.columns.get('name') as TextColumn;
      expect([0, 1, 2].map((i) => names.at(i))).toEqual(['', 'Tam-tam, große Kette', '\u202Ebell 🔔\n<script>']);
    }
  });

  test('begins with its magic and version, little-endian, as the format says', () => {
    const bytes = sample();
    expect(String.fromCharCode(...bytes.subarray(0, 8))).toBe(PACK_MAGIC);
    expect([...bytes.subarray(8, 12)]).toEqual([1, 0, 0, 0]);
  });

  test('says what is wrong with bytes it cannot read', () => {
    const bytes = sample();
    expect(() => decodePack(new Uint8Array(4))).toThrow(/does not begin with TAKESHLF/);
    const other = bytes.slice();
    other[8] = 9;
    expect(() => decodePack(other)).toThrow(/format version 9, expected 1/);
    expect(() => decodePack(bytes.subarray(0, bytes.length - 8))).toThrow(/Column big ends at byte/);
    expect(() => decodePack(bytes.subarray(0, 40))).toThrow(UnreadablePack);
  });
});
