/**
 * Measures a file or a recording in the page, by the code of the build, in a worker so that the page stays at hand.
 * Nothing is fetched and nothing leaves the machine: the worker's text is a script of the site that is loaded when it is
 * first needed, and starts from a Blob because a page opened from file:// may start no file as a worker.
 */
import { MEASURED_SECONDS, type MeasuredHere, type MeasureNews, type MeasureOrder } from '../../shared/measure-here.ts';
import { take } from './receive.ts';

/** What keeps a sound from being measured, as sentences for a person. */
export class CannotMeasure extends Error {
  override readonly name = 'CannotMeasure';
}

export interface Watch {
  /** 0..1 of the work; null while the browser decodes, which tells no progress. */
  onProgress: (share: number | null) => void;
  /** Aborting gives up at once. */
  signal: AbortSignal;
}

/** Measures the first minute of a file. Rejects with CannotMeasure, or with an AbortError when given up. */
export async function measureFile(file: Blob, watch: Watch): Promise<MeasuredHere> {
  const news = await order({ kind: 'file', file }, watch);
  if (news.kind === 'measured') return news.measured;
  watch.onProgress(null);
  const decoded = await decode(await file.slice(0, news.bytes).arrayBuffer(), news.sampleRateHz).catch(() => {
    throw new CannotMeasure(
      `This is ${news.words} that this browser cannot decode; it may be damaged. Export the sound again, best as WAV or FLAC.`,
    );
  });
  const measured = await measureDecoded(decoded, false, watch);
  return news.bytes < file.size ? { ...measured, fileSeconds: null } : measured;
}

/** Measures what a microphone heard, without the silence before and after it. */
export async function measureRecording(recording: Blob, sampleRateHz: number, watch: Watch): Promise<MeasuredHere> {
  const decoded = await decode(await recording.arrayBuffer(), sampleRateHz).catch(() => {
    throw new CannotMeasure('The recording cannot be read by this browser. Drop a file instead.');
  });
  return measureDecoded(decoded, true, watch);
}

async function measureDecoded(decoded: AudioBuffer, trim: boolean, watch: Watch): Promise<MeasuredHere> {
  const { sampleRate, numberOfChannels } = decoded;
  const most = Math.round(MEASURED_SECONDS * sampleRate);
  const samples = Array.from({ length: numberOfChannels }, (_, channel) =>
    decoded.getChannelData(channel).slice(0, most),
  );
  const news = await order({ kind: 'samples', samples, sampleRateHz: sampleRate, trim }, watch);
  if (news.kind !== 'measured') throw new Error('Samples were handed back.');
  return { ...news.measured, fileSeconds: decoded.duration };
}

/** What browsers must be able to decode at without asking (Web Audio API, 1.1: at least 8 to 96 kHz). */
const USUAL_RATE_HZ = 48_000;

/** At its own rate, so that nothing is resampled; at 48 kHz where that is unknown or the browser refuses it. */
async function decode(bytes: ArrayBuffer, sampleRateHz: number | null): Promise<AudioBuffer> {
  let context: OfflineAudioContext;
  try {
    context = new OfflineAudioContext(1, 1, sampleRateHz ?? USUAL_RATE_HZ);
  } catch {
    context = new OfflineAudioContext(1, 1, USUAL_RATE_HZ);
  }
  return context.decodeAudioData(bytes);
}

type Answer = Extract<MeasureNews, { kind: 'measured' | 'decode' }>;

/** One worker for one order: giving up means ending it. */
async function order(what: MeasureOrder, { onProgress, signal }: Watch): Promise<Answer> {
  const address = await workerAddress();
  signal.throwIfAborted();
  const worker = new Worker(address);
  try {
    return await new Promise<Answer>((resolve, reject) => {
      signal.addEventListener('abort', () => reject(signal.reason), { once: true });
      worker.addEventListener('error', ({ message }) => reject(new CannotMeasure(`Measuring stopped: ${message}.`)));
      worker.addEventListener('message', ({ data }: MessageEvent<MeasureNews>) => {
        if (data.kind === 'progress') onProgress(data.share);
        else if (data.kind === 'failed') reject(new CannotMeasure(`${data.found} ${data.remedy}`));
        else resolve(data);
      });
      worker.postMessage(what, what.kind === 'samples' ? what.samples.map(({ buffer }) => buffer) : []);
    });
  } finally {
    worker.terminate();
  }
}

const WORKER_SCRIPT = 'takeshelf-measure.js';
let address: Promise<string> | null = null;

function workerAddress(): Promise<string> {
  address ??= new Promise<string>((resolve, reject) => {
    const script = document.createElement('script');
    const fail = () => {
      address = null;
      reject(new CannotMeasure(`${WORKER_SCRIPT} is missing or damaged. Copy the whole folder, or build again.`));
    };
    script.addEventListener('error', fail);
    script.addEventListener('load', () => {
      script.remove();
      const text = take<string>('measure');
      if (text === undefined) fail();
      else resolve(URL.createObjectURL(new Blob([text], { type: 'text/javascript' })));
    });
    script.src = WORKER_SCRIPT;
    document.head.append(script);
  });
  return address;
}
