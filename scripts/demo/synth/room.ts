/**
 * Rooms: a handful of early reflections and a dense tail from a feedback delay network of sixteen lines mixed by a
 * Householder matrix (Jot and Chaigne, AES preprint 3030, 1991). Left and right read the lines with different signs, so that
 * the tail is decorrelated as between two spaced microphones.
 */
import type { Random } from './random.ts';

export interface Room {
  /** Tail's fall by 60 dB at middle frequencies; 0 = no tail (out of doors, contact microphone). */
  t60Seconds: number;
  /** Decay time at the top of the spectrum as a share of `t60Seconds`, 0..1: small = soft walls, much air. */
  highShare: number;
  /** Reflections lose what lies above this, in Hz. */
  wallHz: number;
  /** Size as the mean path between walls, in metres; sets the reflections' spacing. */
  pathMetres: number;
  /** Level of early reflections and of the tail's beginning against the direct sound, in dB. */
  earlyDb: number;
  tailDb: number;
}

export interface RoomOptions {
  rateHz: number;
  /** Length wanted, tail included. */
  seconds: number;
  random: Random;
}

const LINES = 16;
const SOUND_METRES_A_SECOND = 343;

/** The dry channels with the room round them, `seconds` long. The direct sound keeps its time and level. */
export function addRoom(dry: readonly Float32Array[], room: Room, options: RoomOptions): Float32Array[] {
  const { rateHz, random } = options;
  const frames = Math.max(1, Math.round(options.seconds * rateHz));
  const outputs = dry.map((channel) => {
    const output = new Float32Array(frames);
    output.set(channel.subarray(0, frames));
    return output;
  });
  const inputs = dry.map((channel) => channel.subarray(0, frames));
  if (room.earlyDb > -60) addEarlyReflections(outputs, inputs, room, rateHz, random);
  if (room.t60Seconds > 0) addTail(outputs, inputs, room, rateHz, random);
  return outputs;
}

/** Walls, floor and roof: nine copies a channel, each later, weaker and duller than the direct sound. */
function addEarlyReflections(
  outputs: readonly Float32Array[],
  inputs: readonly Float32Array[],
  room: Room,
  rateHz: number,
  random: Random,
): void {
  const path = room.pathMetres / SOUND_METRES_A_SECOND;
  const dull = inputs.map((input) => dulled(input, room.wallHz, rateHz));
  for (const [channel, output] of outputs.entries()) {
    for (let order = 0; order < 9; order += 1) {
      const delay = Math.round(path * (0.35 + 0.28 * order * random.range(0.8, 1.2)) * rateHz);
      const gain = (10 ** (room.earlyDb / 20) * random.range(0.5, 1) * random.sign()) / (1 + 0.4 * order);
      const input = dull[order % 3 === 2 ? dull.length - 1 - channel : channel];
      const count = Math.min(input.length, output.length - delay);
      for (let index = 0; index < count; index += 1) output[delay + index] += gain * input[index];
    }
  }
}

function dulled(input: Float32Array, hz: number, rateHz: number): Float32Array {
  const smoothing = Math.exp((-2 * Math.PI * hz) / rateHz);
  let smooth = 0;
  return input.map((value) => {
    smooth = value + smoothing * (smooth - value);
    return smooth;
  });
}

function addTail(
  outputs: readonly Float32Array[],
  inputs: readonly Float32Array[],
  room: Room,
  rateHz: number,
  random: Random,
): void {
  const { lengths, offsets, gains, poles, store } = delayLines(room, rateHz, random);
  const frames = outputs[0].length;
  const positions = new Int32Array(LINES);
  const states = new Float64Array(LINES);
  const level = 10 ** (room.tailDb / 20);
  const left = inputs[0];
  const right = inputs[inputs.length - 1];
  const leftOut = outputs[0];
  const rightOut = outputs.length > 1 ? outputs[1] : null;
  for (let index = 0; index < frames; index += 1) {
    let sum = 0;
    let sumLeft = 0;
    let sumRight = 0;
    for (let line = 0; line < LINES; line += 1) {
      const value = store[offsets[line] + positions[line]] * gains[line];
      const state = value + poles[line] * (states[line] - value);
      states[line] = state;
      sum += state;
      if ((line & 1) === 0) sumLeft += (line & 2) === 0 ? state : -state;
      else sumRight += (line & 2) === 0 ? state : -state;
    }
    // Householder mixing: every line hears all others; energy is kept.
    const shared = (2 / LINES) * sum;
    const inLeft = index < left.length ? left[index] : 0;
    const inRight = index < right.length ? right[index] : 0;
    for (let line = 0; line < LINES; line += 1) {
      const position = positions[line];
      store[offsets[line] + position] = states[line] - shared + ((line & 4) === 0 ? inLeft : inRight);
      positions[line] = position + 1 === lengths[line] ? 0 : position + 1;
    }
    leftOut[index] += level * (rightOut === null ? 0.7 * (sumLeft + sumRight) : sumLeft);
    if (rightOut !== null) rightOut[index] += level * sumRight;
  }
}

/** The lines in one buffer, with the loss that gives the wanted decay at the bottom and the top of the spectrum. */
function delayLines(room: Room, rateHz: number, random: Random) {
  const path = room.pathMetres / SOUND_METRES_A_SECOND;
  const lengths = new Int32Array(LINES);
  const offsets = new Int32Array(LINES);
  const gains = new Float64Array(LINES);
  const poles = new Float64Array(LINES);
  let total = 0;
  for (let line = 0; line < LINES; line += 1) {
    const seconds = Math.max(0.006, path * (0.6 + (1.5 * (line + random.range(0.1, 0.9))) / LINES));
    lengths[line] = Math.round(seconds * rateHz) | 1;
    offsets[line] = total;
    total += lengths[line];
    gains[line] = 10 ** ((-3 * lengths[line]) / (rateHz * room.t60Seconds));
    // Jot's one-pole absorbent filter: the same decay ratio top to bottom whatever the line's length.
    const pole = (Math.LN10 / 4) * Math.log10(gains[line]) * (1 - 1 / room.highShare ** 2);
    poles[line] = Math.min(0.97, Math.max(0, pole));
  }
  return { lengths, offsets, gains, poles, store: new Float32Array(total) };
}
