/**
 * Listens to the microphone for a few seconds. The browser's speech processing is off, for it would flatten a sound's
 * dynamics; what was heard is kept without loss where the browser can (PCM in WebM), else as Opus at a high rate. Nothing
 * is played back and nothing leaves the page.
 */

export const LONGEST_LISTENING_SECONDS = 10;

/** Why there is no microphone, as sentences for a person. */
export class NoMicrophone extends Error {
  override readonly name = 'NoMicrophone';
}

export interface Heard {
  recording: Blob;
  /** Rate to decode it at. */
  sampleRateHz: number;
}

/** In order of preference: without loss, then by what browsers offer. */
const CONTAINERS = ['audio/webm;codecs=pcm', 'audio/webm;codecs=opus', 'audio/ogg;codecs=opus', 'audio/mp4'];
const CODED_BITS_PER_SECOND = 256_000;
/** Opus knows no other rate. */
const OPUS_RATE_HZ = 48_000;
const METER_SAMPLES = 2048;
const QUIETEST_DB = -60;

export class Listening {
  /** Settles when it was stopped, or has lasted LONGEST_LISTENING_SECONDS; null when it was given up. */
  readonly heard: Promise<Heard | null>;
  private readonly stream: MediaStream;
  private readonly recorder: MediaRecorder;
  private readonly context = new AudioContext();
  private readonly analyser: AnalyserNode;
  private readonly samples = new Float32Array(METER_SAMPLES);
  private readonly startedAt = performance.now();
  private wanted = true;

  /** Asks for the microphone. Throws NoMicrophone. */
  static async start(): Promise<Listening> {
    // Missing where the page was opened over an insecure address.
    const devices = navigator.mediaDevices as MediaDevices | undefined;
    if (devices === undefined || !window.isSecureContext) throw new NoMicrophone(INSECURE);
    if (typeof MediaRecorder === 'undefined') throw new NoMicrophone(TOO_OLD);
    let stream: MediaStream | null = null;
    try {
      stream = await devices.getUserMedia({
        audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false },
      });
      return new Listening(stream);
    } catch (problem) {
      for (const track of stream?.getTracks() ?? []) track.stop();
      throw new NoMicrophone(whyNot(problem));
    }
  }

  private constructor(stream: MediaStream) {
    this.stream = stream;
    const type = CONTAINERS.find((container) => MediaRecorder.isTypeSupported(container));
    this.recorder = new MediaRecorder(stream, {
      ...(type ? { mimeType: type } : {}),
      audioBitsPerSecond: CODED_BITS_PER_SECOND,
    });
    this.analyser = new AnalyserNode(this.context, { fftSize: METER_SAMPLES });
    this.context.createMediaStreamSource(stream).connect(this.analyser);
    const parts: Blob[] = [];
    this.recorder.addEventListener('dataavailable', ({ data }) => parts.push(data));
    const ownRate = stream.getAudioTracks()[0]?.getSettings().sampleRate;
    const sampleRateHz = type?.endsWith('pcm') && ownRate ? ownRate : OPUS_RATE_HZ;
    this.heard = new Promise((resolve) => {
      this.recorder.addEventListener('stop', () => {
        this.release();
        resolve(this.wanted ? { recording: new Blob(parts, type ? { type } : {}), sampleRateHz } : null);
      });
    });
    this.recorder.start();
    // A microphone pulled out ends what it heard.
    stream.getAudioTracks()[0]?.addEventListener('ended', () => this.stop());
    const limit = window.setTimeout(() => this.stop(), LONGEST_LISTENING_SECONDS * 1000);
    void this.heard.then(() => window.clearTimeout(limit));
  }

  stop(): void {
    if (this.recorder.state !== 'inactive') this.recorder.stop();
  }

  /** Stops and keeps nothing. */
  giveUp(): void {
    this.wanted = false;
    this.stop();
  }

  secondsLeft(): number {
    return Math.max(0, LONGEST_LISTENING_SECONDS - (performance.now() - this.startedAt) / 1000);
  }

  /** Sample peak just now, -60..0 dBFS. */
  levelDb(): number {
    this.analyser.getFloatTimeDomainData(this.samples);
    let peak = 0;
    for (const sample of this.samples) peak = Math.max(peak, Math.abs(sample));
    return peak > 0 ? Math.max(QUIETEST_DB, Math.min(0, 20 * Math.log10(peak))) : QUIETEST_DB;
  }

  private release(): void {
    for (const track of this.stream.getTracks()) track.stop();
    void this.context.close();
  }
}

const INSECURE =
  'This page came over an insecure address, where browsers lend no microphone. Open it from its folder or over https, or drop a file here.';
const TOO_OLD = 'This browser cannot record. Drop a file here.';

/** Names of errors as in Media Capture and Streams, 10.3 (getUserMedia). */
function whyNot(problem: unknown): string {
  const name = problem instanceof DOMException ? problem.name : '';
  if (name === 'NotAllowedError' || name === 'SecurityError')
    return 'The microphone was refused. Allow it beside the browser’s address bar, or drop a file here.';
  if (name === 'NotFoundError' || name === 'OverconstrainedError')
    return 'No microphone was found. Connect one, or drop a file here.';
  if (name === 'NotReadableError' || name === 'AbortError')
    return 'The microphone cannot be opened; another program may hold it. Free it, or drop a file here.';
  return 'The microphone could not be used. Drop a file here.';
}
