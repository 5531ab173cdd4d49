/** Decoded previews: loaded when asked for, kept while they fit, the least recently heard let go first. */
import { bytesOf, loadPreviewPart, MissingData, type PreviewPart } from './receive.ts';

export interface DecodedPart {
  startSeconds: number;
  durationSeconds: number;
  /** Raised by this much against the recording. */
  gainDb: number;
  buffer: AudioBuffer;
}

/** Bytes of decoded audio kept: about three minutes of stereo at 48 kHz. */
const KEPT_BYTES = 96 * 1024 * 1024;
const DECODE_RATE_HZ = 48_000;

interface Entry {
  decoded: Promise<DecodedPart>;
  /** Known once decoded. */
  ready: DecodedPart | null;
  bytes: number;
}

export class Previews {
  private readonly entries = new Map<string, Entry>();
  private readonly waveforms = new Map<string, Int8Array>();
  private readonly load: (id: string, part: number) => Promise<PreviewPart>;
  private readonly limitBytes: number;
  private decoder: OfflineAudioContext | null = null;
  private bytes = 0;

  constructor(load: (id: string, part: number) => Promise<PreviewPart> = loadPreviewPart, limitBytes = KEPT_BYTES) {
    this.load = load;
    this.limitBytes = limitBytes;
  }

  /** One decoded part; rejects with a sentence where it is missing or damaged, and tries afresh the next time. */
  part(id: string, part: number): Promise<DecodedPart> {
    const key = `${id}.${part}`;
    const known = this.entries.get(key);
    if (known) {
      this.entries.delete(key);
      this.entries.set(key, known);
      return known.decoded;
    }
    const entry: Entry = { decoded: this.decode(id, part), ready: null, bytes: 0 };
    this.entries.set(key, entry);
    entry.decoded.then(
      (ready) => {
        entry.ready = ready;
        entry.bytes = ready.buffer.length * ready.buffer.numberOfChannels * Float32Array.BYTES_PER_ELEMENT;
        this.bytes += entry.bytes;
        this.letGo(key);
      },
      () => this.entries.delete(key),
    );
    return entry.decoded;
  }

  /** The part if it is decoded already. */
  peek(id: string, part: number): DecodedPart | null {
    return this.entries.get(`${id}.${part}`)?.ready ?? null;
  }

  /** Minimum and maximum a column, -127..127, over the whole sound; null until its first part has arrived. */
  waveform(id: string): Int8Array | null {
    return this.waveforms.get(id) ?? null;
  }

  /** Has it ready for when it is wanted; failures wait to be told until then. */
  prefetch(id: string): void {
    this.part(id, 0).catch(() => undefined);
  }

  get heldBytes(): number {
    return this.bytes;
  }

  private async decode(id: string, part: number): Promise<DecodedPart> {
    const { startSeconds, durationSeconds, gainDb = 0, mp3, waveform } = await this.load(id, part);
    try {
      if (waveform) this.waveforms.set(id, new Int8Array(bytesOf(waveform).buffer));
      this.decoder ??= new OfflineAudioContext(2, 1, DECODE_RATE_HZ);
      const buffer = await this.decoder.decodeAudioData(bytesOf(mp3).buffer);
      return { startSeconds, durationSeconds: Math.min(durationSeconds, buffer.duration), gainDb, buffer };
    } catch {
      throw new MissingData(
        `The preview of this sound (part ${part + 1}) is damaged. Copy the folder again, or build again.`,
      );
    }
  }

  private letGo(keep: string): void {
    for (const [key, entry] of this.entries) {
      if (this.bytes <= this.limitBytes) return;
      if (key === keep || !entry.ready) continue;
      this.entries.delete(key);
      this.bytes -= entry.bytes;
    }
  }
}
