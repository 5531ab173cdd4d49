/** A body struck once or several times. */
import type { Gesture } from '../../../shared/sound.ts';
import { BODIES, type BodyName } from '../synth/bodies.ts';
import { exampleOf } from '../synth/body-modes.ts';
import { type DryTake, fadeOut, mixInto, normalise, type Studio, silence } from '../synth/dry-take.ts';
import { type Blow, blowForce, contactShare, tapNoise } from '../synth/excitation.ts';
import { type Fall, tabled } from '../synth/fall.ts';
import { addModes, type Mode, modesFallSeconds } from '../synth/modal-bank.ts';
import { TOOLS, type ToolName } from '../synth/tools.ts';

export interface StruckSource {
  kind: 'struck';
  body: BodyName;
  tool: ToolName;
  /** One full blow at 0 when left out. */
  blows?: Blow[];
  /** A hand damps the body so long after the last blow. */
  dampSeconds?: number;
  /** 2 = twice as big, an octave lower. */
  size?: number;
  /** The recording is faded out by then at the latest. */
  maxSeconds?: number;
}

/** A bounce follows its blow within this time and at least so much weaker. */
const BOUNCE_SECONDS = 0.5;
const BOUNCE_DB = 4;
/** Fewer repeats than this make no pulse. */
const PULSE_BLOWS = 4;

/** One blow, with whatever bounces after it, is a hit; four and more in a steady or repeated row a pulse; else a phrase. */
export function blowsGesture(blows: readonly Blow[]): Gesture {
  const strongest = blows.reduce((best, blow) => (blow.level > best.level ? blow : best));
  const bounces = blows.filter((blow) => blow !== strongest);
  const together = bounces.every(
    (blow) =>
      Math.abs(blow.seconds - strongest.seconds) < BOUNCE_SECONDS &&
      20 * Math.log10(blow.level / strongest.level) <= -BOUNCE_DB,
  );
  if (together) return 'hit';
  return blows.length >= PULSE_BLOWS && returns(blows) ? 'pulse' : 'phrase';
}

/** True where the blows come in equal steps of time, taken singly or in pairs, to 8 % of the step. */
function returns(blows: readonly Blow[]): boolean {
  return [1, 2].some((stride) => {
    const steps = blows.slice(stride).map((blow, index) => blow.seconds - blows[index].seconds);
    const mean = steps.reduce((sum, step) => sum + step, 0) / steps.length;
    return steps.every((step) => Math.abs(step - mean) < 0.08 * mean);
  });
}

/** A hand laid on the body takes the ring away at this rate. */
const DAMP_T60_SECONDS = 0.2;
/** Contact that stands for the jump of energy into a gong's upper modes, whatever the beater. */
const CASCADE_CONTACT_SECONDS = 0.0004;
const CASCADE_LEVEL = 0.6;

export function playStruck(source: StruckSource, studio: Studio): DryTake {
  const { rateHz } = studio;
  const blows = source.blows ?? [{ seconds: 0, level: 1 }];
  const { modes, pitchHz } = exampleOf(BODIES[source.body], {
    size: source.size ?? 1,
    making: studio.making.branch(`${source.body} ${source.size ?? 1}`),
    take: studio.random.branch('touch'),
  });
  const lastBlow = Math.max(...blows.map((blow) => blow.seconds));
  const damp = source.dampSeconds;
  const free = ringAfter(modes, source.tool);
  const ring = (dropDb: number) =>
    damp === undefined ? free(dropDb) : Math.min(free(dropDb), damp + (DAMP_T60_SECONDS * dropDb) / 60);
  const end = Math.min(source.maxSeconds ?? 30, lastBlow + ring(72) + 0.1);
  const channels = silence(studio, end);
  addStrike(channels, modes, blows, source.tool, studio);
  if (damp !== undefined) dampFrom(channels, rateHz, lastBlow + damp);
  fadeOut(channels, rateHz, Math.min(0.3 * end, 1.5));
  const loudest = blows.reduce((best, blow) => (blow.level > best.level ? blow : best));
  return {
    channels,
    gesture: blowsGesture(blows),
    accentSeconds: loudest.seconds,
    pitchHz: heardPitch(pitchHz, modes, source.tool),
    fallSeconds: (dropDb) => Math.min(end, lastBlow + ring(dropDb)),
  };
}

/** Fall of a body after a full blow of this tool. */
export function ringAfter(modes: readonly Mode[], toolName: ToolName): Fall {
  const reached = reachedBy(modes, toolName);
  return tabled((dropDb) => modesFallSeconds(reached, dropDb));
}

/** The modes as a full blow of the tool excites them: the longer it touches, the less the high ones. */
function reachedBy(modes: readonly Mode[], toolName: ToolName): Mode[] {
  const { contactSeconds } = TOOLS[toolName];
  return modes.map((mode) => {
    const share =
      mode.riseSeconds > 0
        ? CASCADE_LEVEL * contactShare(mode.hz, CASCADE_CONTACT_SECONDS)
        : contactShare(mode.hz, contactSeconds);
    return { ...mode, gain: share * mode.gain };
  });
}

/** Below the strongest mode by more than this, a body's named mode is not what one hears. */
const HIDDEN_PITCH_DB = 9;

/** The body's pitch, or null where the tool brings out some other mode much more. */
function heardPitch(pitchHz: number | null, modes: readonly Mode[], toolName: ToolName): number | null {
  if (pitchHz === null) return null;
  const reached = reachedBy(modes, toolName);
  const strongest = Math.max(...reached.map((mode) => mode.gain));
  const named = Math.max(
    0,
    ...reached.filter((mode) => Math.abs(mode.hz / pitchHz - 1) < 0.01).map((mode) => mode.gain),
  );
  return 20 * Math.log10(named / strongest) < -HIDDEN_PITCH_DB ? null : pitchHz;
}

/** Adds the blows and the body's answer, peak 1, into the channels. */
export function addStrike(
  channels: readonly Float32Array[],
  modes: readonly Mode[],
  blows: readonly Blow[],
  toolName: ToolName,
  studio: Studio,
): void {
  const { rateHz, random } = studio;
  const tool = TOOLS[toolName];
  const struck = channels.map((channel) => new Float32Array(channel.length));
  const force = blowForce(blows, tool.contactSeconds, rateHz, random);
  addModes(
    struck,
    modes.filter((mode) => mode.riseSeconds === 0),
    force,
    rateHz,
  );
  // Energy reaches the late modes through the body's own unevenness, more than in proportion to the blow.
  const cascade = blows.map((blow) => ({ ...blow, level: CASCADE_LEVEL * blow.level ** 1.8 }));
  const late = blowForce(cascade, CASCADE_CONTACT_SECONDS, rateHz, random);
  addModes(
    struck,
    modes.filter((mode) => mode.riseSeconds > 0),
    late,
    rateHz,
  );
  normalise(struck, 1);
  mixInto(struck, [tapNoise(blows, tool, rateHz, random)], 0, tool.tap * 0.4);
  mixInto(channels, struck, 0, 1);
}

function dampFrom(channels: readonly Float32Array[], rateHz: number, seconds: number): void {
  const start = Math.round(seconds * rateHz);
  const perFrame = 10 ** (-3 / (DAMP_T60_SECONDS * rateHz));
  for (const channel of channels) {
    let gain = 1;
    for (let index = start; index < channel.length; index += 1) {
      gain *= perFrame;
      channel[index] *= gain;
    }
  }
}
