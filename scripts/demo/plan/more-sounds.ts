/** Sounds made up by chance beyond the written sessions: short ones mostly, named as an assistant would name them. */
import { BODIES, type BodyName } from '../synth/bodies.ts';
import type { Random } from '../synth/random.ts';
import { TOOLS, type ToolName } from '../synth/tools.ts';
import type { SoundPlan } from './file-plan.ts';
import { bars, beats, bowed, drone, fade, pulse, riser, sound, struck, swell, swiped } from './shorthand.ts';

/** What a session is about; a file keeps to one subject. */
export type Subject = 'metal' | 'glass' | 'skin' | 'wood' | 'strings' | 'breath' | 'water' | 'small things';
export const SUBJECTS: readonly Subject[] = [
  ...(['metal', 'metal', 'metal', 'glass', 'skin', 'wood', 'wood'] as const),
  ...(['strings', 'breath', 'water', 'small things'] as const),
];

const BODIES_OF: Record<'metal' | 'glass' | 'skin' | 'wood', readonly BodyName[]> = {
  metal: [
    ...(['tamTam', 'smallGong', 'boilerPlate', 'sheetSteel', 'anchor', 'sawBlade', 'cymbal', 'crackedCymbal'] as const),
    ...(['shipsBell', 'mooringRing', 'oilDrum', 'pipe', 'bronzeBar', 'stoveLid', 'stairRail', 'bucket'] as const),
  ],
  glass: ['wineGlass', 'bottle', 'windowPane', 'lampLens', 'pickleJar'],
  skin: ['frameDrum', 'bigDrum', 'tarpaulin', 'wetSail'],
  wood: ['plank', 'oar', 'woodBlock', 'hull', 'pew', 'door'],
};
const BEATERS_OF: Record<'metal' | 'glass' | 'skin' | 'wood', readonly ToolName[]> = {
  metal: ['felt', 'yarn', 'rubber', 'wood', 'steel', 'stone', 'coin', 'knuckle'],
  glass: ['yarn', 'rubber', 'wood', 'knuckle', 'coin'],
  skin: ['felt', 'yarn', 'hand', 'rubber', 'wood'],
  wood: ['felt', 'knuckle', 'hand', 'wood', 'oarEnd', 'stone'],
};
const DRAWN_OVER: Record<'metal' | 'glass' | 'skin' | 'wood', readonly ToolName[]> = {
  metal: ['chain', 'wireBrush', 'steel', 'coin', 'threadedRod', 'stone'],
  glass: ['coin', 'steel', 'stone', 'threadedRod'],
  skin: ['wireBrush', 'hand', 'stone'],
  wood: ['stone', 'threadedRod', 'chain', 'oarEnd', 'wireBrush'],
};
const TEMPI = [54, 60, 66, 72, 84, 96, 108, 120, 132] as const;
/** How hard, as a name says it, as a blow's level, and as what it takes off the recorded peak. */
const DYNAMICS = [
  { said: '', level: 0.85, quieterDb: 4 },
  { said: ', soft', level: 0.4, quieterDb: 14 },
  { said: ', very soft', level: 0.25, quieterDb: 20 },
  { said: ', hard', level: 1, quieterDb: 0 },
] as const;
const PLACES = ['', '', ' at the edge', ' near the middle', ' from below', ' from behind'] as const;

export function inventSound(subject: Subject, random: Random): SoundPlan {
  switch (subject) {
    case 'metal':
    case 'glass':
    case 'skin':
    case 'wood':
      return inventOn(subject, random);
    case 'strings':
      return inventStrings(random);
    case 'breath':
      return inventBreath(random);
    case 'water':
      return inventWater(random);
    case 'small things':
      return inventRattle(random);
  }
}

function inventOn(material: 'metal' | 'glass' | 'skin' | 'wood', random: Random): SoundPlan {
  const body = random.pick(BODIES_OF[material]);
  const { noun } = BODIES[body];
  const size = random.pick([0.7, 0.85, 1, 1, 1.2, 1.5]);
  const peakDbfs = random.range(-14, -4);
  const chance = random.unit();
  if (chance < 0.55) {
    const beater = random.pick(BEATERS_OF[material]);
    const dynamic = random.pick(DYNAMICS);
    const damped = random.unit() < 0.25;
    return sound(
      `${noun}, ${TOOLS[beater].noun}${random.pick(PLACES)}${dynamic.said}${damped ? ', damped' : ''}`,
      peakDbfs - dynamic.quieterDb,
      struck(body, beater, {
        blows: [{ seconds: 0, level: dynamic.level }],
        size,
        maxSeconds: random.range(1.6, 3),
        ...(damped ? { dampSeconds: random.range(0.05, 0.3) } : {}),
      }),
    );
  }
  if (chance < 0.65) {
    const beater = random.pick(BEATERS_OF[material]);
    const count = random.whole(2, 5);
    const tempo = random.pick(TEMPI);
    const blows = beats(
      count,
      tempo,
      random.pick([
        [1, 0.6],
        [1, 0.8, 0.7],
        [0.6, 0.8, 1],
      ]),
    );
    const name = `${noun}, ${TOOLS[beater].noun}, ${COUNTED[count]} at ${tempo}`;
    return sound(name, peakDbfs, struck(body, beater, { blows, size, maxSeconds: (count * 60) / tempo + 1.5 }));
  }
  if (chance < 0.85) {
    const drawn = random.pick(DRAWN_OVER[material]);
    const tempo = random.pick(TEMPI);
    const count = random.whole(1, 4);
    const top = bars(1, tempo, count);
    const last = { size, maxSeconds: top + 1.5 };
    const said = `${noun}, ${TOOLS[drawn].noun}`;
    const kind = random.pick(['riser', 'riser', 'swell', 'fade'] as const);
    if (kind === 'riser') {
      const accent = random.pick(BEATERS_OF[material]);
      const name = `${said} drawn to a blow, ${count === 4 ? 'one bar' : `${COUNTED[count]} ${count === 1 ? 'beat' : 'beats'}`} at ${tempo}`;
      return sound(name, peakDbfs, swiped(body, drawn, riser(top, random.range(1, 2.4)), { ...last, accent }), 'rough');
    }
    const shape = kind === 'swell' ? swell(top, random.range(0.3, 0.75)) : fade(top);
    const way =
      kind === 'swell' ? random.pick(['up and away', 'across', 'round']) : random.pick(['let go', 'pulled away']);
    return sound(`${said} ${way}`, peakDbfs - 4, swiped(body, drawn, shape, last), 'rough');
  }
  const rubbed = random.pick(material === 'glass' ? (['finger'] as const) : (['bow', 'ball'] as const));
  const said = { finger: 'wet finger', bow: 'bowed', ball: 'rubber ball' }[rubbed];
  const seconds = random.range(0.9, 2.4);
  const { way, shape } = inventShape(seconds, random);
  const pressure = random.logRange(0.4, 2);
  const source = bowed(body, shape, { with: rubbed, pressure, size, maxSeconds: seconds + 1.2 });
  return sound(`${noun}, ${said}, ${way}`, peakDbfs - 5, source);
}

const COUNTED = ['none', 'one', 'two', 'three', 'four', 'five'] as const;

/** `steady` leaves out what few and chance events cannot make clear: a cut, a pulse. */
function inventShape(seconds: number, random: Random, steady = false) {
  const any = [
    { way: 'swelling', shape: swell(seconds, random.range(0.35, 0.75)) },
    { way: 'held', shape: drone(seconds, random.range(0.1, 0.4)) },
    { way: 'to a cut', shape: riser(seconds, random.range(1, 2)) },
    { way: 'dying', shape: fade(seconds) },
    { way: 'pulsing', shape: pulse(seconds, random.pick([120, 144, 160, 192])) },
  ];
  return random.pick(steady ? any.filter(({ shape }) => shape.kind !== 'riser' && shape.kind !== 'pulse') : any);
}

function inventStrings(random: Random): SoundPlan {
  const technique = random.pick(['sustain', 'tremolo', 'ponticello', 'flautando', 'glissando'] as const);
  const said = {
    sustain: 'held tone',
    tremolo: 'tremolo',
    ponticello: 'by the bridge',
    flautando: 'flautando',
    glissando: 'sliding',
  };
  const section = random.pick([
    { noun: 'Violins', from: 196, to: 880 },
    { noun: 'Violas', from: 130.8, to: 523 },
    { noun: 'Low strings', from: 55, to: 196 },
  ]);
  const { way, shape } = inventShape(random.range(1, 3), random);
  const hz = Array.from({ length: random.whole(1, 3) }, () => random.logRange(section.from, section.to));
  const glideRatio = random.pick([0.5, 0.67, 1.5, 2]);
  const name = `${section.noun}, ${said[technique]} ${hz.length === 1 ? `on ${noteName(hz[0])}` : `from ${noteName(Math.min(...hz))}`}, ${way}`;
  return sound(name, random.range(-20, -8), {
    kind: 'strings',
    technique,
    hz,
    ...(technique === 'glissando' ? { glideRatio } : {}),
    players: random.whole(2, 4),
    shape,
  });
}

/** The nearest note, middle C being C4. */
function noteName(hz: number): string {
  const midi = Math.round(69 + 12 * Math.log2(hz / 440));
  const names = ['C', 'C sharp', 'D', 'E flat', 'E', 'F', 'F sharp', 'G', 'A flat', 'A', 'B flat', 'B'];
  return `${names[midi % 12]}${Math.floor(midi / 12) - 1}`;
}

function inventBreath(random: Random): SoundPlan {
  const vessel = random.pick(['bottle', 'pipe', 'whistle', 'reed', 'air'] as const);
  const named = { bottle: 'Bottle, blown', pipe: 'Organ pipe', whistle: 'Whistle', reed: 'Reed', air: 'Breath' };
  const lowestHz = { bottle: 110, pipe: 98, whistle: 800, reed: 82, air: 500 }[vessel];
  const { way, shape } = inventShape(random.range(0.7, 2.2), random);
  const flutterHz = random.unit() < 0.15 ? random.range(17, 26) : 0;
  const hz = random.logRange(lowestHz, 3 * lowestHz);
  const tone =
    vessel === 'air' ? random.pick([' near', ' far', ' through teeth', ' in the pipe']) : ` near ${noteName(hz)}`;
  const name = `${named[vessel]}${tone}, ${way}${flutterHz > 0 ? ', fluttered' : ''}`;
  return sound(name, random.range(-24, -11), { kind: 'breath', vessel, hz, shape, flutterHz });
}

function inventWater(random: Random): SoundPlan {
  const what = random.pick(['drips', 'drips', 'pour', 'wave', 'bubbles'] as const);
  const named = { drips: 'Drips', pour: 'Water poured', wave: 'Small wave', bubbles: 'Bubbles' };
  const vessel = random.pick(['into the basin', 'in the bilge', 'on slate', 'in the cistern', 'under the quay']);
  const { way, shape } = inventShape(random.range(1.2, 3), random, what === 'drips' || what === 'bubbles');
  const size = random.logRange(0.7, 2.5);
  const kind = size > 1.8 ? 'deep' : size < 1 ? 'small' : 'plain';
  return sound(`${named[what]} ${vessel}, ${kind}, ${way}`, random.range(-22, -11), {
    kind: 'water',
    what,
    shape,
    size,
  });
}

function inventRattle(random: Random): SoundPlan {
  const things = random.pick(['heavy chain', 'light chain', 'cutlery', 'shingle', 'shells', 'rivets'] as const);
  const noun = things.charAt(0).toUpperCase() + things.slice(1);
  const where = random.pick(['on boards', 'in the bucket', 'on stone', 'in the hand', 'in a tin']);
  const perSecond = random.logRange(25, 180);
  const { way, shape } = inventShape(random.range(0.6, 2.2), random, perSecond < 90);
  const pace = perSecond > 110 ? ', quick' : perSecond < 45 ? ', slow' : '';
  return sound(`${noun} ${where}${pace}, ${way}`, random.range(-20, -7), { kind: 'rattle', things, perSecond, shape });
}
