/**
 * One file of the archive: plays its sounds, puts the room round them, lays them over the noise floor, and gives the bytes
 * together with what is true of them.
 */
import { encodeFile } from './files/encode-file.ts';
import type { FilePlan, SoundPlan } from './plan/file-plan.ts';
import { ROOMS } from './plan/places.ts';
import { playSource } from './sources/source.ts';
import { fadeIn, fadeOut, mixInto, normalise } from './synth/dry-take.ts';
import { noiseFloor } from './synth/noise-floor.ts';
import { createRandom, type Random } from './synth/random.ts';
import { addRoom } from './synth/room.ts';
import type { FileTruth, SoundTruth } from './truth.ts';

export interface RenderedFile {
  bytes: Uint8Array<ArrayBuffer>;
  truth: FileTruth;
}

interface PlayedSound {
  channels: Float32Array[];
  truth: SoundTruth;
}

/** Chance depends on the seed and the file's path only, so files may be rendered in any order or in parallel. */
export async function renderFile(plan: FilePlan, seed: number): Promise<RenderedFile> {
  const random = createRandom(`${seed}/${plan.path}`);
  const played = plan.sounds.map((sound, index) => playSound(sound, plan, random.branch(`sound ${index}`)));
  const { channels, sounds } = layOut(played, plan, random.branch('layout'));
  const bytes = await encodeFile(channels, plan, sounds);
  return {
    bytes,
    truth: {
      path: plan.path,
      format: plan.format,
      sampleRateHz: plan.sampleRateHz,
      channels: plan.channels,
      bitDepth: plan.format === 'MP3' || plan.format === 'Ogg Vorbis' ? null : plan.bitDepth,
      lengthSeconds: channels[0].length / plan.sampleRateHz,
      floorDbfs: plan.floorDbfs,
      division: plan.division,
      faults: plan.faults ?? [],
      error: null,
      oddities: [],
      duplicateOf: null,
      sounds,
    },
  };
}

/** The sound with its room at its level; its truth counts from frame 0. */
function playSound(sound: SoundPlan, plan: FilePlan, random: Random): PlayedSound {
  const rateHz = plan.sampleRateHz;
  const dry = playSource(sound.source, { rateHz, channels: plan.channels === 1 ? 1 : 2, random });
  const room = ROOMS[plan.room];
  const heardDb = Math.min(60, sound.peakDbfs - (plan.floorDbfs ?? -Infinity));
  const withRoom = (dropDb: number) => {
    const tail = (room.t60Seconds * Math.max(0, dropDb + room.tailDb)) / 60;
    return Math.max(dry.fallSeconds(dropDb), dry.fallSeconds(10) + tail);
  };
  const drySeconds = dry.channels[0].length / rateHz;
  const seconds = Math.max(drySeconds, withRoom(heardDb + 12));
  const channels = addRoom(dry.channels, room, { rateHz, seconds, random: random.branch('room') });
  normalise(channels, 10 ** (sound.peakDbfs / 20));
  fadeOut(channels, rateHz, 0.05);
  return {
    channels,
    truth: {
      startSeconds: 0,
      lengthSeconds: Math.min(seconds, withRoom(heardDb)),
      accentSeconds: dry.accentSeconds,
      gesture: dry.gesture,
      pitchHz: dry.pitchHz,
      name: sound.name,
      keywords: sound.keywords,
    },
  };
}

/** The sounds one after another over the floor, with a little room tone before, between and after. */
function layOut(played: readonly PlayedSound[], plan: FilePlan, random: Random) {
  const rateHz = plan.sampleRateHz;
  const alone = plan.division === 'single';
  let frame = Math.round(rateHz * (alone ? random.range(0.03, 0.3) : random.range(0.5, 1.4)));
  const starts = played.map((sound) => {
    const start = frame;
    frame += Math.round(
      rateHz * (sound.truth.lengthSeconds + (alone ? random.range(0.15, 0.5) : random.range(0.9, 2.4))),
    );
    return start;
  });
  const channels = noiseFloor(frame, plan, random.branch('floor'));
  fadeIn(channels, rateHz, 0.01);
  fadeOut(channels, rateHz, 0.05);
  const sounds = played.map((sound, index) => {
    mixInto(channels, sound.channels, starts[index], 1);
    return { ...sound.truth, startSeconds: starts[index] / rateHz };
  });
  return { channels, sounds };
}
