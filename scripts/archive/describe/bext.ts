/** The broadcast extension chunk, versions 0 to 2 (EBU Tech 3285 v2, May 2011). */
import type { Findings } from './findings.ts';
import { dateFrom, decodeField, timeFrom } from './text.ts';

const FIXED_BYTES = 602;
/** Loudness fields that carry no value (EBU Tech 3285 v2, section 2.3). */
const UNUSED = 0x7fff;

export function readBext(bytes: Uint8Array): Findings {
  // Some writers cut the reserved bytes off; the text in front of them still counts.
  if (bytes.length < 346) return bytes.length < 256 ? {} : { description: decodeField(bytes.subarray(0, 256)) };
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const field = (start: number, length: number): string => decodeField(bytes.subarray(start, start + length));
  const timeReference = view.getUint32(338, true) + view.getUint32(342, true) * 4_294_967_296;
  return {
    description: field(0, 256),
    originator: field(256, 32),
    date: dateFrom(field(320, 10)),
    time: timeFrom(field(330, 8)),
    timeReferenceSamples: Number.isSafeInteger(timeReference) ? timeReference : null,
    ...claimedLoudness(view),
  };
}

/** Five signed numbers of 1/100 from byte 412 on, in version 2 only. */
function claimedLoudness(view: DataView): Findings {
  if (view.byteLength < FIXED_BYTES - 180 || view.getUint16(346, true) < 2) return {};
  const fields = [412, 414, 416, 418, 420].map((at) => view.getInt16(at, true));
  // A version 2 header that was never filled in holds zeros throughout; no sound measures so.
  if (fields.every((value) => value === 0)) return {};
  const said = (value: number | undefined): number | null =>
    value === undefined || value === UNUSED || Math.abs(value) > 9999 ? null : value / 100;
  return { claimedIntegratedLufs: said(fields[0]), claimedTruePeakDbtp: said(fields[2]) };
}
