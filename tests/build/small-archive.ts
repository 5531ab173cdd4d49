/** A small archive of plain sounds, and one of everything that can be wrong with a file. */
import { mkdir, symlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import wavefile from 'wavefile';

/** A decaying tone: `seed` makes it a different sound. */
export function tone(seed: number, seconds = 0.8, sampleRateHz = 48_000): Float64Array {
  return Float64Array.from(
    { length: Math.round(seconds * sampleRateHz) },
    (_, i) =>
      0.5 *
      Math.sin((2 * Math.PI * (180 + 37 * seed) * i) / sampleRateHz) *
      Math.exp((-5 * i) / (seconds * sampleRateHz)),
  );
}

export function wav(samples: Float64Array, sampleRateHz = 48_000, tags: Record<string, string> = {}): Uint8Array {
  const file = new wavefile.WaveFile();
  file.fromScratch(
    1,
    sampleRateHz,
    '16',
    Array.from(samples, (sample) => Math.round(sample * 32_767)),
  );
  for (const [name, value] of Object.entries(tags)) file.setTag(name, value);
  return file.toBuffer();
}

export async function writeSmallArchive(folder: string, sounds: number): Promise<string> {
  await mkdir(join(folder, 'Boathouse'), { recursive: true });
  for (let i = 0; i < sounds; i++) {
    await writeFile(join(folder, 'Boathouse', `plate_${String(i).padStart(2, '0')}.wav`), wav(tone(i)));
  }
  return folder;
}

/** Digital silence, 16 bit, mono: a header and zeros. */
function silence(seconds: number, sampleRateHz: number): Uint8Array {
  const header = wav(new Float64Array(0), sampleRateHz);
  const bytes = new Uint8Array(header.length + seconds * sampleRateHz * 2);
  bytes.set(header);
  const view = new DataView(bytes.buffer);
  view.setUint32(4, bytes.length - 8, true);
  view.setUint32(40, bytes.length - 44, true);
  return bytes;
}

/** Path below the folder -> what the report must say of it (null: it is a sound like any other). */
export type Expectations = Record<string, RegExp | null>;

export async function writeBadArchive(folder: string): Promise<Expectations> {
  const expected: Expectations = {};
  const add = async (name: string, bytes: Uint8Array | string, says: RegExp | null): Promise<void> => {
    await mkdir(join(folder, name, '..'), { recursive: true });
    await writeFile(join(folder, name), bytes);
    expected[name] = says;
  };
  const good = wav(tone(1));
  const lie = (change: (view: DataView) => void): Uint8Array => {
    const bytes = good.slice();
    change(new DataView(bytes.buffer));
    return bytes;
  };
  await add('good.wav', wav(tone(0)), null);
  await add('letter.wav', 'Dear all, the session is on Monday.\n', /text file/);
  await add('zero.flac', new Uint8Array(0), /empty|0 bytes|zero|no bytes/i);
  await add('cut.wav', wav(tone(2)).subarray(0, 20_000), null);
  await add(
    'no channels.wav',
    lie((view) => view.setUint16(22, 0, true)),
    /channel/i,
  );
  await add(
    'no rate.wav',
    lie((view) => view.setUint32(24, 0, true)),
    /rate/i,
  );
  await add(
    'four gigabytes.wav',
    (() => {
      const bytes = wav(tone(3));
      new DataView(bytes.buffer).setUint32(40, 0xffff_fff0, true);
      return bytes;
    })(),
    null,
  );
  await add('three frames.wav', wav(Float64Array.of(0.1, -0.1, 0.1)), null);
  await add('quiet/half an hour.wav', silence(30 * 60, 8000), null);
  await add('odd/it\'s "quoted" 🔔.wav', wav(tone(4)), null);
  await add('odd/two\nlines.wav', wav(tone(5)), null);
  await add('odd/\u202Etfel-ot-thgir.wav', wav(tone(6)), null);
  await add(
    'odd/tagged.wav',
    wav(tone(7), 48_000, { INAM: '<script>alert(1)</script>', ICMT: '<img src=x onerror=alert(2)>' }),
    null,
  );
  await symlink('..', join(folder, 'odd', 'circle'));
  expected['odd/circle'] = /circle|leads back/i;
  await symlink('nowhere.wav', join(folder, 'lost.wav'));
  expected['lost.wav'] = /leads nowhere/i;
  return expected;
}
