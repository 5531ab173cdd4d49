/**
 * Everything the tool says about one sound, measured while it streams past. No sample is kept: what grows with the
 * sound are values a frame (about 150 MB an hour). The build gives it no sound longer than an hour (chapters.ts).
 *
 *   const measurer = new SoundMeasurer(format); for (const block of blocks) measurer.push(block); measurer.finish()
 *
 * Levels, loudness, true peak, envelope, stereo and faults are read at the sound's own rate; all that looks at the
 * spectrum at 48 kHz, so that it does not depend on the rate. Runs alike in Node and in a browser.
 */
import type { Measurements, Waveform } from '../sound.ts';
import { activePart } from './active-part.ts';
import { levelsAtEdges } from './edge-levels.ts';
import { EnvelopeFollower } from './envelope.ts';
import { faultKinds, findFaults } from './faults.ts';
import { FineSpectrumAnalysis } from './fine-spectrum.ts';
import { FrameFeeder } from './frames.ts';
import { LevelMeter } from './levels.ts';
import { LoudnessMeter } from './loudness.ts';
import { measureMovement } from './movement.ts';
import { PitchAnalysis } from './pitch.ts';
import { ANALYSIS_RATE_HZ, Resampler } from './resample.ts';
import { SignalWatch } from './signal-watch.ts';
import { flawsAfter, later, movementAfter, slateNotice } from './slate.ts';
import { SpectrumAnalysis } from './spectrum.ts';
import { StereoMeter } from './stereo.ts';
import { TruePeakMeter } from './true-peak.ts';
import { WaveformDrawing } from './waveform.ts';

/** Below this rate the K filter strays by more than 0.2 dB: loudness is then read at 48 kHz. */
const LOWEST_K_RATE_HZ = 11_025;
const LARGEST_SAMPLE = 1e6;
/** Meters look at this much at a time: it stays in the processor's cache from one to the next, and their buffers small. */
const PORTION_FRAMES = 8192;

export interface MeasureInput {
  sampleRateHz: number;
  channels: number;
  /** null for lossy codecs. */
  bitDepth: number | null;
  /** WAVE_FORMAT_EXTENSIBLE channel mask, or null. */
  channelMask: number | null;
  /** A spoken slate at the beginning: only the drawing shows it, all else is measured from `resumeFrame` on. */
  slate?: { endFrame: number; resumeFrame: number } | null;
  /** The note that the file names for samplers. */
  rootNote?: string | null;
  /** Expected length. Only sets how finely the waveform is gathered; the frames pushed are what counts. */
  totalFrames: number;
}

export interface MeasuredSound {
  measurements: Measurements;
  /** Minimum and maximum a column, interleaved, over the whole sound. */
  waveform: Waveform;
}

export class SoundMeasurer {
  readonly #input: MeasureInput;
  readonly #levels: LevelMeter;
  readonly #loudness: LoudnessMeter;
  readonly #loudnessAtSourceRate: boolean;
  readonly #truePeak: TruePeakMeter;
  readonly #envelope: EnvelopeFollower;
  readonly #stereo: StereoMeter;
  readonly #watch: SignalWatch;
  readonly #drawing: WaveformDrawing;
  /** null where the sound has the analysis rate already. */
  readonly #resampler: Resampler | null;
  readonly #spectrum: SpectrumAnalysis;
  readonly #fine = new FineSpectrumAnalysis();
  readonly #pitch: PitchAnalysis;
  readonly #feeder: FrameFeeder;
  #frames = 0;
  /** Of the slate, what is still to come. */
  #spokenFrames: number;

  constructor(input: MeasureInput) {
    const { sampleRateHz, channels } = input;
    this.#input = input;
    this.#levels = new LevelMeter(sampleRateHz, channels, input.bitDepth);
    this.#loudnessAtSourceRate = sampleRateHz >= LOWEST_K_RATE_HZ;
    const loudnessRateHz = this.#loudnessAtSourceRate ? sampleRateHz : ANALYSIS_RATE_HZ;
    this.#loudness = new LoudnessMeter(loudnessRateHz, channels, input.channelMask);
    this.#truePeak = new TruePeakMeter(sampleRateHz, channels);
    this.#envelope = new EnvelopeFollower(sampleRateHz, channels);
    this.#stereo = new StereoMeter(channels);
    this.#watch = new SignalWatch(sampleRateHz, channels);
    this.#drawing = new WaveformDrawing(input.totalFrames);
    this.#resampler = sampleRateHz === ANALYSIS_RATE_HZ ? null : new Resampler(channels, sampleRateHz);
    this.#spectrum = new SpectrumAnalysis(sampleRateHz);
    this.#spokenFrames = input.slate?.resumeFrame ?? 0;
    this.#pitch = new PitchAnalysis((input.totalFrames - this.#spokenFrames) / sampleRateHz);
    this.#feeder = new FrameFeeder(channels, [this.#spectrum, this.#fine, this.#pitch]);
  }

  /** One array a channel, all of one length; any length. The arrays are only read during the call. */
  push(block: readonly Float32Array[]): void {
    const frames = block[0]?.length ?? 0;
    for (let from = 0; from < frames; from += PORTION_FRAMES) {
      this.#pushPortion(block.map((samples) => samples.subarray(from, from + PORTION_FRAMES)));
    }
  }

  #pushPortion(portion: readonly Float32Array[]): void {
    const clean = sound(portion);
    const frames = clean[0].length;
    this.#frames += frames;
    this.#drawing.push(clean);
    const spoken = Math.min(frames, this.#spokenFrames);
    this.#spokenFrames -= spoken;
    if (spoken === 0) this.#meter(clean);
    else if (spoken < frames) this.#meter(clean.map((samples) => samples.subarray(spoken)));
  }

  #meter(clean: readonly Float32Array[]): void {
    this.#levels.push(clean);
    if (this.#loudnessAtSourceRate) this.#loudness.push(clean);
    this.#truePeak.push(clean);
    this.#envelope.push(clean);
    this.#stereo.push(clean);
    this.#watch.push(clean);
    this.#analyse(this.#resampler?.push(clean) ?? clean);
  }

  #analyse(block: readonly Float32Array[]): void {
    if (!this.#loudnessAtSourceRate) this.#loudness.push(block);
    this.#feeder.push(block);
  }

  finish(): MeasuredSound {
    if (this.#resampler !== null) this.#analyse(this.#resampler.finish());
    this.#feeder.finish();
    const { sampleRateHz, channels, bitDepth } = this.#input;
    const durationSeconds = this.#frames / sampleRateHz;
    const { slate = null, rootNote = null } = this.#input;
    const delaySeconds = Math.min(this.#frames, slate?.resumeFrame ?? 0) / sampleRateHz;
    const envelope = this.#envelope.finish();
    const movement = measureMovement(envelope, durationSeconds - delaySeconds);
    const active = activePart(movement.activeStartSeconds, movement.activeSeconds);
    const { firstClipSeconds, quantisationStep, ...levels } = this.#levels.finish();
    const loudness = this.#loudness.finish();
    const { differenceShare, ...stereo } = this.#stereo.finish();
    const { hum, ...fine } = this.#fine.finish(active);
    const slateEndSeconds = slate === null ? null : Math.min(this.#frames, slate.endFrame) / sampleRateHz;
    const faultDetails = findFaults({
      durationSeconds,
      bitDepth,
      levels: { ...levels, quantisationStep, firstClipSeconds: later(firstClipSeconds, delaySeconds) },
      loudness,
      movement,
      stereo: { ...stereo, differenceShare },
      flaws: flawsAfter(delaySeconds, this.#watch.finish()),
      hum,
      edges: levelsAtEdges(envelope, movement),
    });
    faultDetails.push(...slateNotice(slateEndSeconds));
    return {
      measurements: {
        durationSeconds,
        sampleRateHz,
        channels,
        bitDepth,
        ...loudness,
        ...levels,
        truePeakDbtp: this.#truePeak.finish(),
        slateEndSeconds,
        ...movementAfter(delaySeconds, movement, durationSeconds),
        ...this.#spectrum.finish(active),
        ...fine,
        ...this.#pitch.finish(active, this.#fine.partialsVerdict(active, fine.inharmonic)),
        rootNote,
        ...stereo,
        faults: faultKinds(faultDetails),
        faultDetails,
      },
      waveform: this.#drawing.finish(),
    };
  }
}

/** Measures a sound that is whole in memory. */
export function measureBlocks(
  blocks: Iterable<readonly Float32Array[]>,
  input: Omit<MeasureInput, 'totalFrames'> & { totalFrames?: number },
): MeasuredSound {
  const kept = [...blocks];
  const totalFrames = input.totalFrames ?? kept.reduce((sum, block) => sum + (block[0]?.length ?? 0), 0);
  const measurer = new SoundMeasurer({ ...input, totalFrames });
  for (const block of kept) measurer.push(block);
  return measurer.finish();
}

/**
 * Broken numbers in float files (NaN, infinities, and what lies 120 dB over full scale) count as silence, so that one
 * of them does not spoil the rest.
 */
function sound(block: readonly Float32Array[]): readonly Float32Array[] {
  return block.every(isSound)
    ? block
    : block.map((samples) => samples.map((x) => (Math.abs(x) <= LARGEST_SAMPLE ? x : 0)));
}

function isSound(samples: Float32Array): boolean {
  // One sum for all is much faster than a look at each; where it is too large by itself, each is looked at.
  let sum = 0;
  for (let frame = 0; frame < samples.length; frame++) sum += Math.abs(samples[frame]);
  return sum <= LARGEST_SAMPLE;
}
