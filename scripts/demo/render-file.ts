/**
 * One file of the archive: plays its sounds, puts the room round them, lays them over the noise floor, and gives the bytes
 * together with what is true of them.
 */
import { encodeFile } from './files/encode-file.ts';
import type { AudioFilePlan, FilePlan, SoundPlan } from './plan/file-plan.ts';
import { ROOMS } from './plan/places.ts';
import { playSource } from './sources/source.ts';
import { fadeIn, fadeOut, mixInto, normalise, type Studio } from './synth/dry-take.ts';
import { fallThrough } from './synth/fall.ts';
import { putFault } from './synth/faults.ts';
import { filterInPlace } from './synth/filter.ts';
import { MICROPHONE, throughContact } from './synth/microphone.ts';
import { noiseFloor } from './synth/noise-floor.ts';
import { createRandom, type Random } from './synth/random.ts';
import { addRoom } from './synth/room.ts';
import type { FileFormat, FileTruth, SoundTruth } from './truth.ts';

export interface RenderedFile {
  bytes: Uint8Array<ArrayBuffer>;
  truth: FileTruth;
}

/** A played sound with its room at its level; its truth counts from frame 0. */
interface PlayedSound {
  channels: Float32Array[];
  truth: SoundTruth;
}

/** Chance depends on the seed and the file's path only, so files may be rendered in any order or in parallel. */
export async function renderFile(plan: FilePlan, seed: number): Promise<RenderedFile> {
  if (plan.kind === 'text') return { bytes: new TextEncoder().encode(plan.text), truth: textTruth(plan.path) };
  const source = plan.audioOf ?? plan.path;
  const random = createRandom(`${seed}/${source}`);
  const making = createRandom(`${seed}/making/${source.split('/')[0]}`);
  const played = plan.sounds.map((sound, index) => playSound(sound, plan, random.branch(`sound ${index}`), making));
  const laid =
    plan.loopSeconds === undefined
      ? layOut(played, plan, random.branch('layout'))
      : foldLoop(played, plan.sampleRateHz, plan.loopSeconds);
  const first = laid.sounds[0];
  const fullSeconds = first === undefined ? 0 : first.startSeconds + (first.accentSeconds ?? 0.5) + 0.1;
  const fullFrame = Math.round(fullSeconds * plan.sampleRateHz);
  for (const fault of plan.faults ?? []) putFault(laid.channels, fault, plan.sampleRateHz, fullFrame);
  const bytes = await encodeFile(laid.channels, plan, laid.sounds);
  return cutShort(bytes, plan, audioTruth(plan, laid.channels[0].length, laid.sounds));
}

/** Envelopes are compared with the floor's RMS; a sound's RMS at its top is taken to lie this far below its peak. */
const CREST_DB = 9;
/** A growing sound is heard when it stands this far above the floor, over HEARD_WITHIN_SECONDS. */
const HEARD_DB = 6;
const HEARD_WITHIN_SECONDS = 0.02;
/** Where the floor lies lower than that: when it comes this near to its own top. */
const NEAR_TOP_DB = 54;

function playSound(sound: SoundPlan, plan: AudioFilePlan, random: Random, making: Random): PlayedSound {
  const rateHz = plan.sampleRateHz;
  const studio: Studio = { rateHz, channels: plan.channels === 1 ? 1 : 2, random, making };
  const dry = playSource(sound.source, studio);
  if (plan.microphone === 'contact') throughContact(dry.channels, rateHz, random.branch('contact'));
  // Four microphones: a second pair hears the same thing happen, from behind and not alike in detail.
  const back =
    plan.channels === 4 ? playSource(sound.source, { ...studio, random: random.branch('back') }).channels : [];
  const frames = Math.max(dry.channels[0].length, ...back.map((channel) => channel.length));
  const room = ROOMS[plan.room];
  const heardDb = Math.min(60, sound.peakDbfs - CREST_DB - (plan.floorDbfs ?? -Infinity));
  const roomFall = (dropDb: number) => (room.t60Seconds * Math.max(0, dropDb + room.tailDb)) / 60;
  const fallWithRoom = fallThrough(dry.fallSeconds, roomFall);
  const seconds = Math.max(frames / rateHz, fallWithRoom(heardDb + 8));
  const options = { rateHz, seconds, random: random.branch('room') };
  const channels = [...addRoom(dry.channels, room, options), ...(back.length > 0 ? addRoom(back, room, options) : [])];
  for (const channel of channels) filterInPlace(channel, rateHz, MICROPHONE);
  normalise(channels, 10 ** (sound.peakDbfs / 20));
  fadeOut(channels, rateHz, 0.05);
  return {
    channels,
    truth: {
      startSeconds: 0,
      heardFromSeconds: heardFrom(channels, rateHz, plan.floorDbfs),
      lengthSeconds: Math.min(seconds, fallWithRoom(heardDb)),
      accentSeconds: dry.accentSeconds,
      gesture: dry.gesture,
      pitchHz: dry.pitchHz,
      name: sound.name,
      keywords: sound.keywords,
    },
  };
}

/** From its first frame until the sound alone, in its loudest channel, is heard over the floor. */
function heardFrom(channels: readonly Float32Array[], rateHz: number, floorDbfs: number | null): number {
  const step = Math.max(1, Math.round(HEARD_WITHIN_SECONDS * rateHz));
  const levels: number[] = [];
  for (let start = 0; start < channels[0].length; start += step) {
    const powers = channels.map((channel) => {
      const part = channel.subarray(start, start + step);
      return part.reduce((sum, x) => sum + x * x, 0) / part.length;
    });
    levels.push(10 * Math.log10(Math.max(...powers)));
  }
  const top = levels.reduce((most, level) => Math.max(most, level), Number.NEGATIVE_INFINITY);
  const wanted = Math.max((floorDbfs ?? Number.NEGATIVE_INFINITY) + HEARD_DB, top - NEAR_TOP_DB);
  return (
    (Math.max(
      0,
      levels.findIndex((level) => level >= wanted),
    ) *
      step) /
    rateHz
  );
}

/** The sounds one after another over the floor, with a little room tone before, between and after. */
function layOut(played: readonly PlayedSound[], plan: AudioFilePlan, random: Random) {
  const rateHz = plan.sampleRateHz;
  const alone = plan.division === 'single';
  const stopped = plan.faults?.includes('truncated-tail') === true;
  let frame = Math.round(rateHz * (alone ? random.range(0.03, 0.25) : random.range(0.4, 1.1)));
  const starts = played.map((sound) => {
    const start = frame;
    // Between takes the floor is heard; the take's last, inaudible part may lie under it.
    const after = alone
      ? random.range(0.12, 0.4)
      : plan.division === 'gaps'
        ? random.range(2, 3.2)
        : random.range(0.6, 1.3);
    frame += Math.round(rateHz * (stopped ? 0.3 * sound.truth.lengthSeconds : sound.truth.lengthSeconds + after));
    return start;
  });
  if (played.length === 0) frame += Math.round(3 * rateHz);
  const channels = noiseFloor(frame, rateHz, plan, random.branch('floor'));
  fadeIn(channels, rateHz, 0.01);
  const sounds = played.map((sound, index) => {
    mixInto(channels, sound.channels, starts[index], 1);
    const startSeconds = starts[index] / rateHz;
    const lengthSeconds = Math.min(sound.truth.lengthSeconds, frame / rateHz - startSeconds);
    return { ...sound.truth, startSeconds, lengthSeconds };
  });
  if (!stopped) fadeOut(channels, rateHz, 0.04);
  return { channels, sounds };
}

/** A loop of an exact length: what would ring on past its end is folded back onto its start. */
function foldLoop(played: readonly PlayedSound[], rateHz: number, seconds: number) {
  const frames = Math.round(seconds * rateHz);
  const channels = played[0].channels.map((channel) => {
    const folded = new Float32Array(frames);
    for (let index = 0; index < channel.length; index += 1) folded[index % frames] += channel[index];
    return folded;
  });
  return { channels, sounds: [{ ...played[0].truth, lengthSeconds: frames / rateHz }] };
}

const EXTENSIONS: Record<FileFormat, readonly string[]> = {
  WAV: ['.wav'],
  AIFF: ['.aif', '.aiff'],
  FLAC: ['.flac'],
  MP3: ['.mp3'],
  'Ogg Vorbis': ['.ogg'],
};

function audioTruth(plan: AudioFilePlan, frames: number, sounds: SoundTruth[]): FileTruth {
  const lossy = plan.format === 'MP3' || plan.format === 'Ogg Vorbis';
  const named = EXTENSIONS[plan.format].some((extension) => plan.path.endsWith(extension));
  return {
    path: plan.path,
    format: plan.format,
    sampleRateHz: plan.sampleRateHz,
    channels: plan.channels,
    bitDepth: lossy ? null : plan.bitDepth,
    lengthSeconds: frames / plan.sampleRateHz,
    floorDbfs: plan.floorDbfs,
    division: plan.division,
    faults: plan.faults ?? [],
    error: null,
    oddities: named ? [] : ['wrong-extension'],
    duplicateOf: plan.audioOf ?? null,
    sounds,
  };
}

function textTruth(path: string): FileTruth {
  return {
    path,
    format: null,
    sampleRateHz: null,
    channels: null,
    bitDepth: null,
    lengthSeconds: null,
    floorDbfs: null,
    division: null,
    faults: [],
    error: 'not-audio',
    oddities: [],
    duplicateOf: null,
    sounds: [],
  };
}

/** A WAV file whose last part never reached the card, though its header promises it. */
function cutShort(bytes: Uint8Array<ArrayBuffer>, plan: AudioFilePlan, truth: FileTruth): RenderedFile {
  if (plan.keptShare === undefined) return { bytes, truth };
  const frameBytes = (plan.channels * plan.bitDepth) / 8;
  const allFrames = Math.round((truth.lengthSeconds ?? 0) * plan.sampleRateHz);
  const keptFrames = Math.floor(allFrames * plan.keptShare);
  const lengthSeconds = keptFrames / plan.sampleRateHz;
  const sounds = truth.sounds.map((sound) => ({
    ...sound,
    lengthSeconds: Math.min(sound.lengthSeconds, lengthSeconds - sound.startSeconds),
  }));
  return {
    // Such a file has nothing behind its samples, so what is cut from the end is samples only.
    bytes: bytes.slice(0, bytes.length - (allFrames - keptFrames) * frameBytes),
    truth: { ...truth, lengthSeconds, sounds, oddities: [...truth.oddities, 'data-cut-short'] },
  };
}
