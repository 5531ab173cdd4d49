/**
 * Prints what was predicted for sounds at other speeds beside what they measure when played so.
 * Run: npx node tests/bench/varispeed-table.ts [EVERY SO MANY OF THE SAMPLES, usually 8]
 */
import {
  type Comparison,
  compare,
  declared,
  madeSounds,
  measured,
  realSounds,
  tableOf,
} from '../query/varispeed-sounds.ts';

const SHIFTS = [-24, -12, -7, 12];
const rows = [...(await realSounds(Number(process.argv[2] ?? 8))), ...madeSounds()].flatMap((sound) => {
  const recorded = measured(sound);
  return SHIFTS.map((shift) => {
    const { played, semitones } = declared(sound, shift);
    return compare(sound.name, recorded, measured(played), semitones);
  });
});
console.log(tableOf(rows));

const sizes = (of: (row: Comparison) => number | null): number[] =>
  rows
    .flatMap((row) => Math.abs(of(row) ?? Number.NaN))
    .filter(Number.isFinite)
    .sort((a, b) => a - b);
const shown = (name: string, values: readonly number[], unit: string, times: number) => {
  const at = (share: number) => ((values[Math.floor(share * (values.length - 1))] ?? 0) * times).toFixed(2);
  console.log(
    `${name.padEnd(10)} ${values.length} compared: half within ${at(0.5)} ${unit}, 95 % ${at(0.95)}, worst ${at(1)}`,
  );
};
console.log();
shown(
  'length',
  sizes((row) => row.lengthShare),
  '%',
  100,
);
shown(
  'centroid',
  sizes((row) => row.centroidShare),
  '%',
  100,
);
shown(
  'pitch',
  sizes((row) => row.pitchCents),
  'cents',
  1,
);
shown(
  'profile',
  sizes((row) => row.profileDb),
  'dB',
  1,
);
shown(
  'sounding',
  sizes((row) => row.activeShare),
  '%',
  100,
);
shown(
  'attack',
  sizes((row) => row.attackShare),
  '%',
  100,
);
shown(
  'decay',
  sizes((row) => row.decayShare),
  '%',
  100,
);
const told = rows.filter(({ pitched }) => pitched[0]);
console.log(
  `pitched    ${told.length} told to have a pitch, ${told.filter(({ pitched }) => pitched[1]).length} have one, ` +
    `${told.filter(({ pitchCents }) => pitchCents !== null && Math.abs(pitchCents) <= 10).length} within 10 cents; ` +
    `${rows.filter(({ pitched }) => !pitched[0] && pitched[1]).length} have one untold`,
);
console.log(`centroid   not told for ${rows.filter((row) => row.centroidShare === null).length} of ${rows.length}`);
