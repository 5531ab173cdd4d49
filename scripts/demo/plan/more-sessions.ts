/** Further sessions made up by chance, for archives larger than the written one. */
import { createRandom, type Random } from '../synth/random.ts';
import type { FileFormat } from '../truth.ts';
import type { AudioFilePlan, EmbeddedPlan, SoundPlan } from './file-plan.ts';
import { inventSound, SUBJECTS, type Subject } from './more-sounds.ts';
import { RECORDERS, type RoomName } from './places.ts';

const HAUNTS: readonly { said: string; room: RoomName }[] = [
  { said: 'boathouse', room: 'boathouse' },
  { said: 'net loft', room: 'netLoft' },
  { said: 'slipway', room: 'slipway' },
  { said: 'quay', room: 'quay' },
  { said: 'kitchen', room: 'kitchen' },
  { said: 'lighthouse', room: 'lighthouseStair' },
  { said: 'chapel hall', room: 'chapelHall' },
  { said: 'pump house', room: 'pumpHouse' },
  { said: 'ice cellar', room: 'cellar' },
  { said: 'watch hut', room: 'watchHut' },
];
const DAYS = ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday'] as const;
const FILES_A_SESSION = 6;

/** Files with exactly `count` sounds in all. */
export function moreSessions(count: number, seed: number): AudioFilePlan[] {
  const random = createRandom(`${seed}/more sessions`);
  const plans: AudioFilePlan[] = [];
  const namesUsed = new Map<string, number>();
  for (let left = count; left > 0; ) {
    const session = Math.floor(plans.length / FILES_A_SESSION);
    const own = random.branch(`file ${plans.length}`);
    const haunt = random.branch(`session ${session}`).pick(HAUNTS);
    const subject = own.pick(SUBJECTS);
    const wanted = Math.min(left, own.unit() < 0.2 ? 1 : own.whole(5, 16));
    const sounds = Array.from({ length: wanted }, (_, index) =>
      numbered(inventSound(subject, own.branch(`sound ${index}`)), namesUsed),
    );
    plans.push(inventFile(session, plans.length, haunt, subject, sounds, random));
    left -= wanted;
  }
  return plans;
}

/** The second sound of a name is "take 2", as on a recordist's sheet. */
function numbered(plan: SoundPlan, namesUsed: Map<string, number>): SoundPlan {
  const uses = (namesUsed.get(plan.name) ?? 0) + 1;
  namesUsed.set(plan.name, uses);
  return uses === 1 ? plan : { ...plan, name: `${plan.name}, take ${uses}` };
}

function inventFile(
  session: number,
  file: number,
  haunt: (typeof HAUNTS)[number],
  subject: Subject,
  sounds: SoundPlan[],
  allRandom: Random,
): AudioFilePlan {
  const sessionRandom = allRandom.branch(`session ${session} habits`);
  const random = allRandom.branch(`file ${file} settings`);
  const day = sessionRandom.pick(DAYS);
  const tidy = sessionRandom.unit() < 0.5;
  const number = String(session + 6).padStart(2, '0');
  const folder = tidy
    ? `${number} ${haunt.said}, ${day}`
    : `${haunt.said.replace(' ', '_')}_${day.slice(0, 3).toLowerCase()}${number}`;
  const format = random.pick<FileFormat>(['WAV', 'WAV', 'WAV', 'WAV', 'WAV', 'AIFF', 'FLAC', 'MP3', 'Ogg Vorbis']);
  const extension = { WAV: 'wav', AIFF: 'aif', FLAC: 'flac', MP3: 'mp3', 'Ogg Vorbis': 'ogg' }[format];
  const name = tidy
    ? `${haunt.said} ${subject} ${file + 1}`
    : random.pick([
        `Audio ${number}-${file + 1}`,
        `new recording ${file + 1}`,
        `TRACK_${file + 1}`,
        `${subject} ${file + 1} copy`,
      ]);
  const marked = format === 'WAV' && tidy;
  return {
    kind: 'audio',
    path: `${folder}/${name}.${extension}`,
    format,
    sampleRateHz: random.pick([44100, 48000, 48000]),
    bitDepth: random.pick([16, 16, 24]),
    channels: random.pick([1, 1, 2]),
    room: haunt.room,
    floorDbfs: Math.round(sessionRandom.range(-82, -56)),
    division: sounds.length === 1 ? 'single' : marked ? random.pick(['regions', 'points']) : 'gaps',
    embedded: inventText(haunt.said, subject, session, tidy, random),
    sounds,
  };
}

function inventText(place: string, subject: Subject, session: number, tidy: boolean, random: Random): EmbeddedPlan {
  if (!tidy) return {};
  const date = new Date(Date.UTC(2025, 3, 1 + session)).toISOString().slice(0, 10);
  const two = (value: number) => String(value).padStart(2, '0');
  return {
    originator: random.pick(RECORDERS),
    description: `${subject}, ${place}`,
    date,
    time: `${two(random.whole(8, 18))}:${two(random.whole(0, 59))}:00`,
    keywords: true,
  };
}
