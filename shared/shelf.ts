/**
 * All sounds of a site as columns: what search, likeness, list and map read. `packSounds` writes it in the build,
 * `Shelf` reads it in the page and in the terminal. In a numeric column NaN stands for null and is read with
 * `value()`, which gives null back.
 */
import { decodePack, encodePack, type NumberArray, type Pack, TextColumn } from './pack.ts';
import {
  type Accent,
  CONTOUR_POINTS,
  FAULT_KINDS,
  type FaultDetail,
  type FaultKind,
  GESTURES,
  type Gesture,
  type Place,
  PROFILE_BANDS,
  type Sound,
} from './sound.ts';

export const NUMERIC_FIELDS = [
  'durationSeconds',
  'sampleRateHz',
  'channels',
  'bitDepth',
  'integratedLufs',
  'momentaryMaxLufs',
  'shortTermMaxLufs',
  'loudnessRangeLu',
  'truePeakDbtp',
  'samplePeakDbfs',
  'noiseFloorDbfs',
  'crestDb',
  'slateEndSeconds',
  'activeStartSeconds',
  'activeSeconds',
  'attackSeconds',
  'decaySeconds',
  'temporalCentroid',
  'climaxSeconds',
  'centroidHz',
  'spreadHz',
  'flatness',
  'rolloffHz',
  'pitchHz',
  'pitchConfidence',
  'centsOff',
  'pulseBpm',
  'tremoloHz',
  'brightnessSlope',
  'stereoWidth',
  'correlation',
  'clippedSamples',
  'dcOffset',
  'roughness',
  'mapX',
  'mapY',
  'previewParts',
] as const;
export type NumericField = (typeof NUMERIC_FIELDS)[number];

export const TEXT_FIELDS = [
  'id',
  'name',
  'session',
  'tags',
  'description',
  'file',
  'format',
  'rights',
  'owner',
  'recordedOn',
  'note',
  'rootNote',
] as const;
export type TextField = (typeof TEXT_FIELDS)[number];

/** Between the tags of one sound in the `tags` column. */
export const TAG_SEPARATOR = '\n';
const NO_GESTURE = 255;
const NULL_FLAG = 255;

/** Name of a region of the map and where it stands, in map units. */
export interface MapPlace {
  label: string;
  x: number;
  y: number;
  sounds: number;
}

/** What holds for the whole site rather than for one sound. */
export interface ShelfParameters {
  folders: string[];
  seconds: number;
  unreadableFiles: number;
  mapPlaces: MapPlace[];
  /** Median of each vector dimension and its scale, as used. */
  vectorCentre: number[];
  vectorScale: number[];
}

export interface PackInput {
  sounds: readonly Sound[];
  /** Likeness vectors, row by row; NaN throughout for silence, which is like nothing. */
  vectors: Float32Array;
  vectorSize: number;
  parameters: ShelfParameters;
}

export function packSounds({ sounds, vectors, vectorSize, parameters }: PackInput): Uint8Array {
  const count = sounds.length;
  const columns = new Map<string, NumberArray | TextColumn>();
  for (const field of NUMERIC_FIELDS) {
    columns.set(
      field,
      Float32Array.from(sounds, (sound) => sound[field] ?? Number.NaN),
    );
  }
  const text: Record<TextField, (sound: Sound) => string> = {
    id: (sound) => sound.id,
    name: (sound) => sound.name,
    session: (sound) => sound.session,
    tags: (sound) => sound.tags.join(TAG_SEPARATOR),
    description: (sound) => sound.description,
    file: (sound) => sound.places[0]?.file ?? '',
    format: (sound) => sound.format,
    rights: (sound) => sound.rights ?? '',
    owner: (sound) => sound.owner ?? '',
    recordedOn: (sound) => sound.recordedOn ?? '',
    note: (sound) => sound.note ?? '',
    rootNote: (sound) => sound.rootNote ?? '',
  };
  for (const field of TEXT_FIELDS) columns.set(field, TextColumn.from(sounds.map(text[field])));
  columns.set('places', TextColumn.from(sounds.map((sound) => JSON.stringify(sound.places))));
  columns.set(
    'faultDetails',
    TextColumn.from(sounds.map((sound) => (sound.faultDetails.length > 0 ? JSON.stringify(sound.faultDetails) : ''))),
  );
  columns.set(
    'gesture',
    Uint8Array.from(sounds, (sound) => (sound.gesture === null ? NO_GESTURE : GESTURES.indexOf(sound.gesture))),
  );
  columns.set(
    'inharmonic',
    Uint8Array.from(sounds, (sound) => (sound.inharmonic === null ? NULL_FLAG : Number(sound.inharmonic))),
  );
  columns.set(
    'faults',
    Uint16Array.from(sounds, (sound) =>
      sound.faults.reduce((bits, kind) => bits | (1 << FAULT_KINDS.indexOf(kind)), 0),
    ),
  );
  columns.set('accentOffset', accentOffsets(sounds));
  columns.set(
    'accentSeconds',
    Float32Array.from(sounds.flatMap((sound) => sound.accents.map((accent) => accent.seconds))),
  );
  columns.set(
    'accentStrengthDb',
    Float32Array.from(sounds.flatMap((sound) => sound.accents.map((accent) => accent.strengthDb))),
  );
  columns.set(
    'contour',
    rows(sounds, CONTOUR_POINTS, (sound, at) => Math.round(sound.contour[at] * 255)),
  );
  columns.set(
    'profile',
    rows(sounds, PROFILE_BANDS, (sound, at) => (sound.profile === null ? 255 : Math.round(-sound.profile[at] * 3))),
  );
  columns.set('vector', vectors);
  return encodePack({ count, parameters: { ...parameters, vectorSize }, columns });
}

function accentOffsets(sounds: readonly Sound[]): Uint32Array {
  const offsets = new Uint32Array(sounds.length + 1);
  for (let i = 0; i < sounds.length; i++) offsets[i + 1] = offsets[i] + sounds[i].accents.length;
  return offsets;
}

function rows(sounds: readonly Sound[], width: number, value: (sound: Sound, at: number) => number): Uint8Array {
  const out = new Uint8Array(sounds.length * width);
  for (let i = 0; i < sounds.length; i++) {
    for (let at = 0; at < width; at++) out[i * width + at] = Math.min(255, Math.max(0, value(sounds[i], at)));
  }
  return out;
}

export class Shelf {
  readonly count: number;
  readonly parameters: ShelfParameters;
  readonly vectorSize: number;
  /** Index into GESTURES a sound; 255 for none. */
  readonly gesture: Uint8Array;
  /** CONTOUR_POINTS values 0..255 a sound. */
  readonly contours: Uint8Array;
  readonly vectors: Float32Array;
  /** Accents of all sounds in a row: those of sound i stand at offsets[i] up to offsets[i + 1]. */
  readonly accentColumns: { readonly offsets: Uint32Array; readonly seconds: Float32Array };
  private readonly pack: Pack;
  private readonly indexOfId = new Map<string, number>();

  constructor(bytes: Uint8Array) {
    this.pack = decodePack(bytes);
    this.count = this.pack.count;
    const { vectorSize, ...parameters } = this.pack.parameters as unknown as ShelfParameters & { vectorSize: number };
    this.parameters = parameters;
    this.vectorSize = vectorSize;
    this.gesture = this.array('gesture', Uint8Array);
    this.contours = this.array('contour', Uint8Array);
    this.vectors = this.array('vector', Float32Array);
    this.accentColumns = {
      offsets: this.array('accentOffset', Uint32Array),
      seconds: this.array('accentSeconds', Float32Array),
    };
    for (let i = 0; i < this.count; i++) this.indexOfId.set(this.text('id', i), i);
  }

  /** The whole column; NaN where a sound has no such value. */
  number(field: NumericField): Float32Array {
    return this.array(field, Float32Array);
  }

  /** One value, null where it has no meaning. */
  value(field: NumericField, index: number): number | null {
    const value = this.number(field)[index];
    return Number.isNaN(value) ? null : value;
  }

  text(field: TextField, index: number): string {
    return this.textColumn(field).at(index);
  }

  tags(index: number): string[] {
    const tags = this.text('tags', index);
    return tags === '' ? [] : tags.split(TAG_SEPARATOR);
  }

  places(index: number): Place[] {
    return JSON.parse(this.textColumn('places').at(index)) as Place[];
  }

  /** Nowhere it lies could be looked into at the last build. */
  isAway(index: number): boolean {
    const places = this.places(index);
    return places.length > 0 && places.every(({ away }) => away === true);
  }

  gestureOf(index: number): Gesture | null {
    return GESTURES[this.gesture[index]] ?? null;
  }

  inharmonic(index: number): boolean | null {
    const flag = this.array('inharmonic', Uint8Array)[index];
    return flag === NULL_FLAG ? null : flag === 1;
  }

  faults(index: number): FaultKind[] {
    const bits = this.array('faults', Uint16Array)[index];
    return FAULT_KINDS.filter((_, bit) => (bits >> bit) & 1);
  }

  faultDetails(index: number): FaultDetail[] {
    const text = this.textColumn('faultDetails').at(index);
    return text === '' ? [] : (JSON.parse(text) as FaultDetail[]);
  }

  accents(index: number): Accent[] {
    const { offsets, seconds } = this.accentColumns;
    const strength = this.array('accentStrengthDb', Float32Array);
    const out: Accent[] = [];
    for (let i = offsets[index]; i < offsets[index + 1]; i++) {
      out.push({ seconds: seconds[i], strengthDb: strength[i] });
    }
    return out;
  }

  /** CONTOUR_POINTS values 0..255. */
  contour(index: number): Uint8Array {
    return this.contours.subarray(index * CONTOUR_POINTS, (index + 1) * CONTOUR_POINTS);
  }

  /** PROFILE_BANDS steps of a third of a decibel below the strongest band; null for silence. */
  profile(index: number): Uint8Array | null {
    const row = this.array('profile', Uint8Array).subarray(index * PROFILE_BANDS, (index + 1) * PROFILE_BANDS);
    return row[0] === NULL_FLAG ? null : row;
  }

  vector(index: number): Float32Array {
    return this.vectors.subarray(index * this.vectorSize, (index + 1) * this.vectorSize);
  }

  /** Nothing is heard in it: it is like no other sound and stands nowhere on the map, but has a name and tags as any. */
  isSilent(index: number): boolean {
    return this.faults(index).includes('silent');
  }

  /** Index of a sound by its id; -1 when the shelf has no such sound. */
  find(id: string): number {
    return this.indexOfId.get(id) ?? -1;
  }

  private array<T extends NumberArray>(name: string, type: abstract new (...args: never[]) => T): T {
    const column = this.pack.columns.get(name);
    if (column instanceof type) return column;
    throw new Error(`The site's data lacks the column ${name}. Build again.`);
  }

  private textColumn(name: string): TextColumn {
    const column = this.pack.columns.get(name);
    if (column instanceof TextColumn) return column;
    throw new Error(`The site's data lacks the text column ${name}. Build again.`);
  }
}
