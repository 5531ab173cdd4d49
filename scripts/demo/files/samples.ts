/** Float samples to the integers and floats of files. */

export type SampleFormat = 'int16' | 'int24' | 'float32';

/**
 * Interleaves planar floats (full scale -1..1) into bytes. Integers are rounded and kept inside their range; `bigEndian`
 * for AIFF. No dither: the archive's noise floors lie far above the last bit where it matters.
 */
export function encodeSamples(
  channels: readonly Float32Array[],
  format: SampleFormat,
  bigEndian = false,
): Uint8Array<ArrayBuffer> {
  const frames = channels[0]?.length ?? 0;
  const count = channels.length;
  const width = format === 'int16' ? 2 : format === 'int24' ? 3 : 4;
  const bytes = new Uint8Array(frames * count * width);
  const view = new DataView(bytes.buffer);
  for (const [which, channel] of channels.entries()) {
    const step = count * width;
    let at = which * width;
    if (format === 'float32') {
      for (let index = 0; index < frames; index += 1, at += step) view.setFloat32(at, channel[index], !bigEndian);
    } else if (format === 'int16') {
      for (let index = 0; index < frames; index += 1, at += step) {
        view.setInt16(at, Math.max(-32768, Math.min(32767, Math.round(channel[index] * 32768))), !bigEndian);
      }
    } else {
      const first = bigEndian ? 0 : 2;
      for (let index = 0; index < frames; index += 1, at += step) {
        const whole = Math.max(-8388608, Math.min(8388607, Math.round(channel[index] * 8388608)));
        bytes[at + first] = whole >> 16;
        bytes[at + 1] = whole >> 8;
        bytes[at + 2 - first] = whole;
      }
    }
  }
  return bytes;
}
