/**
 * What every measured value means, as data: the text of "How it is measured". Each entry belongs to the field of
 * Measurements of that name; the modules named after the families hold the same in full.
 */
import {
  CEPSTRUM_COEFFICIENTS,
  CONTOUR_POINTS,
  type Measurements,
  PROFILE_BANDS,
  PROFILE_LOWEST_HZ,
} from '../sound.ts';
import { ACCENT_RANGE_DB } from './accents.ts';
import { AUDIBLE_RANGE_DB } from './active.ts';
import { MEL_BANDS, MEL_HIGHEST_HZ, MEL_LOWEST_HZ } from './cepstrum.ts';
import { FINE_FRAME } from './fine-spectrum.ts';
import { HIGHEST_PITCH_HZ, LOWEST_PITCH_HZ } from './pitch-track.ts';
import { PROFILE_FLOOR_DB } from './profile.ts';
import { FLATNESS_HIGHEST_HZ, FLATNESS_LOWEST_HZ, ROLLOFF_SHARE, SPECTRUM_FRAME } from './spectrum.ts';

export const FAMILIES = ['file', 'loudness', 'time', 'colour', 'pitch', 'stereo', 'faults'] as const;
export type Family = (typeof FAMILIES)[number];

export interface Descriptor {
  family: Family;
  title: string;
  /** Empty where the value has none. */
  unit: string;
  /** Least and greatest possible value, of each number in it; null for words and lists of words. */
  range: readonly [number, number] | null;
  meaning: string;
  /** How it is computed, or empty where it is read and not computed. */
  formula: string;
  /** Where the definition is from. */
  source: string;
  /** Answers for silence, mono, very short and clipped sounds. */
  edges: string;
}

const ANY_LEVEL = [-400, 400] as const;
const SHARE = [0, 1] as const;
const TIME = [0, 1e7] as const;
const AUDIBLE_HZ = [0, 24_000] as const;
const ENVELOPE = 'level in 1 ms steps, all channels that are not dead';

export const DESCRIPTORS: Readonly<Record<keyof Measurements, Descriptor>> = {
  durationSeconds: {
    family: 'file',
    title: 'Length',
    unit: 's',
    range: TIME,
    meaning: 'Length of the whole sound, silence at its ends included.',
    formula: 'frames / sample rate',
    source: 'By definition.',
    edges: 'Always given.',
  },
  sampleRateHz: {
    family: 'file',
    title: 'Sample rate',
    unit: 'Hz',
    range: [1, 10_000_000],
    meaning: 'Samples a second in the file.',
    formula: '',
    source: 'Read from the file.',
    edges: 'Always given. It does not change what is measured: everything that looks at the spectrum looks at 48 kHz.',
  },
  channels: {
    family: 'file',
    title: 'Channels',
    unit: '',
    range: [1, 65_535],
    meaning: 'Number of channels in the file.',
    formula: '',
    source: 'Read from the file.',
    edges: 'Always given.',
  },
  bitDepth: {
    family: 'file',
    title: 'Bit depth',
    unit: 'bit',
    range: [1, 64],
    meaning: 'Bits a sample.',
    formula: '',
    source: 'Read from the file.',
    edges: 'None for MP3, Vorbis and Opus, which have no such thing.',
  },
  integratedLufs: {
    family: 'loudness',
    title: 'Integrated loudness',
    unit: 'LUFS',
    range: [-70, 400],
    meaning: 'How loud the sound is as a whole, its quiet stretches left out.',
    formula:
      'L = -0.691 + 10 log10 sum G z, z = mean square of a K-weighted channel, G = 1 (1.41 at the sides, 0 for LFE); 400 ms blocks every 100 ms, those above -70 LUFS, of these those above their own level - 10 LU',
    source: 'ITU-R BS.1770-5, Annex 1; EBU R 128.',
    edges: 'None for silence, for all below -70 LUFS, and below 400 ms, where no whole block exists. Mono counts once.',
  },
  momentaryMaxLufs: {
    family: 'loudness',
    title: 'Loudest moment',
    unit: 'LUFS',
    range: ANY_LEVEL,
    meaning: 'Loudness of the loudest 400 ms.',
    formula: 'L as for the integrated loudness, ungated, over 400 ms every 10 ms; its maximum',
    source: 'EBU Tech 3341. Below 400 ms our own rule, not BS.1770: silence is appended.',
    edges: 'None for silence.',
  },
  shortTermMaxLufs: {
    family: 'loudness',
    title: 'Loudest three seconds',
    unit: 'LUFS',
    range: ANY_LEVEL,
    meaning: 'Loudness of the loudest 3 s.',
    formula: 'L as for the integrated loudness, ungated, over 3 s every 10 ms; its maximum',
    source: 'EBU Tech 3341. Below 3 s our own rule: silence is appended, as a meter would read the sound alone.',
    edges: 'None for silence.',
  },
  loudnessRangeLu: {
    family: 'loudness',
    title: 'Loudness range',
    unit: 'LU',
    range: [0, 400],
    meaning: 'How far loudness varies over seconds. Little meaning for single sounds; for long recordings.',
    formula:
      '95th minus 10th percentile of the 3 s loudness every 100 ms, above -70 LUFS and above its own mean - 20 LU; 1.5 s of silence appended',
    source: 'EBU Tech 3342. Not stable in the first minute, by its own word.',
    edges: 'None for silence and below 3 s.',
  },
  truePeakDbtp: {
    family: 'loudness',
    title: 'True peak',
    unit: 'dBTP',
    range: ANY_LEVEL,
    meaning: 'Highest point of the wave between the samples: what a converter has to put out.',
    formula:
      '20 log10 max |x|, 8 times oversampled (4 times from 96 kHz, not at all from 192 kHz on) by a windowed sinc of 32 taps a phase',
    source: 'ITU-R BS.1770-5, Annex 2; tolerances of EBU Tech 3341.',
    edges: 'None for silence. Above 0 for clipped sounds and overs.',
  },
  samplePeakDbfs: {
    family: 'loudness',
    title: 'Sample peak',
    unit: 'dBFS',
    range: ANY_LEVEL,
    meaning: 'Highest sample of any channel.',
    formula: '20 log10 max |x|',
    source: 'By definition; full scale = 1.',
    edges: 'None for silence. Above 0 only in float and lossy files.',
  },
  noiseFloorDbfs: {
    family: 'loudness',
    title: 'Noise floor',
    unit: 'dBFS',
    range: [-120, 400],
    meaning: 'The level at which the recording rests at its ends or between events.',
    formula: `a crowd at the lower end of all 50 ms levels that is flat in time (${ENVELOPE})`,
    source: 'Common practice, no published rule.',
    edges: 'None where the sound never rests, as a drone or a tail cut off, and where it rests in digital silence.',
  },
  crestDb: {
    family: 'loudness',
    title: 'Crest',
    unit: 'dB',
    range: [0, 400],
    meaning: 'How far peaks stand out: 3 dB for a sine, 20 dB and more for a click.',
    formula: 'sample peak over root mean square, of the channel with the highest peak, over the whole sound',
    source: 'By definition.',
    edges: 'None for silence. Small for clipped sounds.',
  },
  slateEndSeconds: {
    family: 'time',
    title: 'End of the spoken slate',
    unit: 's',
    range: TIME,
    meaning:
      'Where the voice ends that says what comes. Whatever else is measured, but the length, is measured after it.',
    formula:
      'at the beginning, 0.5 to 6 s of speech, then 0.15 to 4 s of pause, then something else. Speech: periodic at 75 to 330 Hz for a quarter of the time and more, with a pitch that glides and partials in plenty; 1.2 to 8 rises and falls a second; a spectrum that moves; words that swell as they die; and what is periodic either lasts or is rich: the mean length of its runs times the share of power outside the strongest partial is 0.011 s or more',
    source:
      'Syllable rate: Houtgast & Steeneken, JASA 77(3), 1985; Scheirer & Slaney, ICASSP 1997 (from memory). The bounds are ours.',
    edges:
      'None where no slate was found, and for silence. Strict: a slate in much noise, or run into the sound, is missed.',
  },
  activeStartSeconds: {
    family: 'time',
    title: 'Start of the active part',
    unit: 's',
    range: TIME,
    meaning: 'Where the sound itself begins, after the silence or noise before it.',
    formula: `first moment above the noise floor and at most ${AUDIBLE_RANGE_DB} dB below the loudest 20 ms`,
    source: 'Where decay and background meet, as ISO 3382-1 cuts decays; thresholds are ours.',
    edges: 'None for silence.',
  },
  activeSeconds: {
    family: 'time',
    title: 'Active length',
    unit: 's',
    range: TIME,
    meaning:
      'From the beginning of the active part to its end: the length one hears, which is shown, asked for and compared.',
    formula: 'last moment minus first moment, by the rule of the active start',
    source: 'As the active start.',
    edges: 'None for silence.',
  },
  attackSeconds: {
    family: 'time',
    title: 'Attack',
    unit: 's',
    range: TIME,
    meaning: 'How long the sound takes to rise: milliseconds for a hit, its whole rise for a riser.',
    formula: 'time from 20 % to 90 % of the maximum of the amplitude envelope',
    source: 'Fixed thresholds of Peeters, A large set of audio features, 2004; MPEG-7 LogAttackTime is its log10.',
    edges: 'None for silence.',
  },
  decaySeconds: {
    family: 'time',
    title: 'Decay',
    unit: 's',
    range: TIME,
    meaning: 'How long the sound takes from its climax to die away by 20 dB.',
    formula: 'from the climax until the level stays 20 dB below it, or the active part ends',
    source: 'An exponential decay of amplitude time constant tau takes 2.303 tau. The threshold is ours.',
    edges: 'None for silence.',
  },
  temporalCentroid: {
    family: 'time',
    title: 'Centre of gravity in time',
    unit: '',
    range: SHARE,
    meaning: 'Where the weight of the sound lies in its active part: near 0 at the start, near 1 at the end.',
    formula: 'sum t a(t) / sum a(t), over the active length; a = amplitude less the noise floor',
    source: 'MPEG-7 Audio (ISO/IEC 15938-4) TemporalCentroid, as a share.',
    edges: 'None for silence.',
  },
  climaxSeconds: {
    family: 'time',
    title: 'Main accent',
    unit: 's',
    range: TIME,
    meaning: 'The one moment a sound is about: what one puts on the beat, asks for, and sees under the large wedge.',
    formula:
      'the strike that stands out among those as loud at once as the sound ever gets (within 2 dB, weak ones within 0.5); where a rise breaks off; else the middle of the loudest stretch, over a fourteenth of the sound',
    source: 'Ours.',
    edges: 'None for silence.',
  },
  accents: {
    family: 'time',
    title: 'Accents',
    unit: 's, dB',
    range: [0, 1e7],
    meaning: 'The moments where the sound strikes, and how far each rises above what went just before.',
    formula: `sudden rises in the whole or in one of three bands, within ${ACCENT_RANGE_DB} dB of the loudest 20 ms; strength = loudest 15 ms after over the 50 ms before`,
    source: 'Ours; checked against sounds with known strikes.',
    edges: 'An empty list for silence and for sounds without a strike.',
  },
  gesture: {
    family: 'time',
    title: 'Gesture',
    unit: '',
    range: null,
    meaning: 'How loudness moves: hit, swell, riser, drone, pulse, phrase or fade.',
    formula:
      'told from the main accent, what leads up to it, how it falls away, the strikes, and gaps of 10 dB (over 40 ms): a riser falls far sooner than it rose, a drone has no gap, two parts 0.17 s apart make a phrase, four even strikes a pulse',
    source: 'Ours.',
    edges: 'None for silence. Below 0.2 s always a hit.',
  },
  contour: {
    family: 'time',
    title: 'Contour',
    unit: '',
    range: SHARE,
    meaning: `Outline of loudness over the whole sound in ${CONTOUR_POINTS} points; 1 is the loudest.`,
    formula: '(amplitude / largest amplitude)^0.6, the loudest moment of each stretch',
    source: 'Stevens, The measurement of loudness, JASA 27, 1955: 10 dB less is half as loud.',
    edges: 'All zero for silence.',
  },
  pulseBpm: {
    family: 'time',
    title: 'Pulse',
    unit: 'bpm',
    range: [0.1, 6_000],
    meaning: 'Rate of an even beat.',
    formula:
      '60 / interval that nearly all strikes keep, or beat of the even grid they lie on: that multiple by 1, 2, 4 or 8 (3 or 6 only where the strong strikes agree far better) on which strong strikes agree, near 120 a minute, whole in a loop',
    source: 'Preferred rate after Moelants 2002 (from memory); the rest is ours.',
    edges: 'None where nothing is even, below four beats, where two rates do as well, and for silence.',
  },
  tremoloHz: {
    family: 'time',
    title: 'Tremolo',
    unit: 'Hz',
    range: [0.5, 20],
    meaning: 'Rate of a regular trembling of the level of a held sound.',
    formula: 'strongest line between 0.5 and 20 Hz in the spectrum of the amplitude over its slow course',
    source: 'Ours.',
    edges:
      'None below four periods, where no line stands out or another is nearly as strong, and for sounds that do not hold.',
  },
  centroidHz: {
    family: 'colour',
    title: 'Brightness',
    unit: 'Hz',
    range: AUDIBLE_HZ,
    meaning: 'Centre of gravity of the spectrum: low is dark, high is bright.',
    formula: `sum f P / sum P of each frame (Hann, ${SPECTRUM_FRAME} samples at 48 kHz), weighted by energy over the active part`,
    source: 'Spectral centroid of MPEG-7 and Peeters 2004, on power.',
    edges: 'None for silence. Channels are added in power: an inverted channel cancels nothing.',
  },
  spreadHz: {
    family: 'colour',
    title: 'Width of the spectrum',
    unit: 'Hz',
    range: AUDIBLE_HZ,
    meaning: 'How far the energy spreads about the centroid: 0 for a sine, 6 928 Hz for white noise.',
    formula: 'root of sum (f - centroid)^2 P / sum P of each frame, squares weighted by energy',
    source: 'Spectral spread of Peeters 2004, on power.',
    edges: 'None for silence.',
  },
  flatness: {
    family: 'colour',
    title: 'Flatness',
    unit: '',
    range: SHARE,
    meaning: 'Tone or noise: near 0 for tones, 0.56 for white noise.',
    formula: `geometric over arithmetic mean of P between ${FLATNESS_LOWEST_HZ} and ${FLATNESS_HIGHEST_HZ} Hz (0.45 of a low rate), of each frame`,
    source: 'Spectral flatness of MPEG-7 and Peeters 2004, one band. White noise: e^-0.577.',
    edges: 'None for silence.',
  },
  rolloffHz: {
    family: 'colour',
    title: 'Rolloff',
    unit: 'Hz',
    range: AUDIBLE_HZ,
    meaning: `The frequency below which ${100 * ROLLOFF_SHARE} % of the energy lies.`,
    formula: `least f with sum to f of P >= ${ROLLOFF_SHARE} sum P, of each frame, weighted by energy`,
    source: 'Peeters 2004; 85 % as in most software.',
    edges: 'None for silence.',
  },
  brightnessSlope: {
    family: 'colour',
    title: 'Change of brightness',
    unit: 'oct/s',
    range: [-10_000, 10_000],
    meaning: 'Whether the sound grows brighter (positive) or darker (negative), and how fast.',
    formula: 'slope of log2 centroid over time, least squares weighted by energy, over the active part',
    source: 'Ours.',
    edges: 'None for silence and below three frames (about 50 ms).',
  },
  roughness: {
    family: 'colour',
    title: 'Roughness',
    unit: '',
    range: SHARE,
    meaning: 'Beating partials and grain: 0 is smooth, 0.2 white noise, 0.9 a tone fully modulated at 70 Hz.',
    formula:
      'sum a m^1.6 / sum a over narrow bands; m = depth of level changes at 20 to 300 Hz, greatest weight at 70 Hz; a = root of energy. Single attacks are left out.',
    source: 'Modulation model after Fastl & Zwicker, Psychoacoustics, chapter 11 (from memory); not in asper.',
    edges: 'None for silence and below 50 ms.',
  },
  profile: {
    family: 'colour',
    title: 'Profile',
    unit: 'dB',
    range: [PROFILE_FLOOR_DB, 0],
    meaning: `Energy in ${PROFILE_BANDS} bands of a semitone from ${PROFILE_LOWEST_HZ} Hz (A0) on, below the strongest.`,
    formula: `10 log10 (energy of the band / strongest), transforms of ${FINE_FRAME} samples at 48 kHz, over the active part`,
    source: 'By definition. Below about 200 Hz the window is wider than a semitone.',
    edges: 'None for silence.',
  },
  cepstrumMean: {
    family: 'colour',
    title: 'Cepstrum, mean',
    unit: 'dB',
    range: [-5_000, 5_000],
    meaning: `Shape of the spectrum in ${CEPSTRUM_COEFFICIENTS} numbers, coarse to fine: what likeness compares.`,
    formula: `mean over active frames of the cosine transform of ${MEL_BANDS} mel bands in dB, ${MEL_LOWEST_HZ} to ${MEL_HIGHEST_HZ} Hz; the first relative to the loudest frame`,
    source: 'Davis & Mermelstein, IEEE Trans. ASSP 28(4), 1980 (from memory).',
    edges: 'None for silence. Level does not change it.',
  },
  cepstrumSpread: {
    family: 'colour',
    title: 'Cepstrum, movement',
    unit: 'dB',
    range: [0, 5_000],
    meaning: 'How far each of these numbers moves in the course of the sound.',
    formula: 'standard deviation over active frames within 60 dB of the loudest',
    source: 'Common practice.',
    edges: 'None for silence; 0 for a single frame.',
  },
  pitchHz: {
    family: 'pitch',
    title: 'Pitch',
    unit: 'Hz',
    range: [LOWEST_PITCH_HZ, HIGHEST_PITCH_HZ],
    meaning: 'The one pitch of the sound, where it has one.',
    formula:
      'period of the normalised square difference 2 sum x[j] x[j+l] / sum (x[j]^2 + x[j+l]^2) of each frame; frames vote, weighted by loudness (energy^0.3), a vibrato with its whole swing. The power of the partials in its harmonic row and the certainty must reach 1.65 together (0.6 of the power is enough where the partials are not inharmonic; under vibrato 0.7, each partial sought where the pitch goes). A fundamental down to 26 dB under its partials makes the octave; a foreign partial below unmakes the note. Else the one partial 15 dB over all others, weighed by curve A, or the lowest, 13 dB over the others, in more than half of the sound',
    source:
      'McLeod & Wyvill, A smarter way to find pitch, ICMC 2005; curve A: IEC 61672-1. What the partials must hold is ours.',
    edges: 'None for silence, noise, sounds with several pitches, and inharmonic sounds without a ruling partial.',
  },
  pitchConfidence: {
    family: 'pitch',
    title: 'Certainty of the pitch',
    unit: '',
    range: SHARE,
    meaning: 'Share of the loudness that agrees with the pitch, times how periodic it is there.',
    formula:
      'sum of loudness (energy^0.3) * height of the period over the frames within half a semitone, or within the swing of a vibrato, over all loudness; of a ruling partial the share of loudness (energy^0.3) over the frames where it rules',
    source: 'Ours.',
    edges: 'None for silence. Given also where it is too small for a pitch.',
  },
  note: {
    family: 'pitch',
    title: 'Note',
    unit: '',
    range: null,
    meaning: 'The nearest note of equal temperament, C4 = middle C.',
    formula: 'round(69 + 12 log2(f / 440)) as a name',
    source: 'ISO 16: A4 = 440 Hz.',
    edges: 'None without a pitch.',
  },
  centsOff: {
    family: 'pitch',
    title: 'Cents off',
    unit: 'cent',
    range: [-50, 50],
    meaning: 'How far the pitch lies above (positive) or below that note.',
    formula: '100 (69 + 12 log2(f / 440) - nearest whole number)',
    source: 'By definition.',
    edges: 'None without a pitch.',
  },
  rootNote: {
    family: 'pitch',
    title: 'Root note in the file',
    unit: '',
    range: null,
    meaning: 'The note that the file itself names for samplers: what somebody said it is, not what is heard.',
    formula: 'MIDI note of the smpl, inst or INST chunk as a name, 60 = C4',
    source: 'Multimedia Programming Interface 1.0, update of 1994; AIFF 1.3.',
    edges: 'None where the file names none, or holds several sounds.',
  },
  inharmonic: {
    family: 'pitch',
    title: 'Inharmonic',
    unit: '',
    range: null,
    meaning: 'Strong partials that stand in no one harmonic row: bells, plates, several notes at once.',
    formula:
      'less than 85 % of the partials (root of power) in the best row n f0 sqrt(1 + B n^2); the row of a stiff string counts as harmonic',
    source:
      'Stiff string: Fletcher & Rossing, The Physics of Musical Instruments (from memory). The threshold is ours.',
    edges: 'None for silence and where no clear partials stand out, as in noise.',
  },
  stereoWidth: {
    family: 'stereo',
    title: 'Stereo width',
    unit: '',
    range: SHARE,
    meaning: 'How much of the energy lies in the side: 0 is mono, 0.5 unrelated channels or one side only, 1 inverted.',
    formula: 'sum S^2 / sum (M^2 + S^2), M = (L+R)/2, S = (L-R)/2, constant offsets removed',
    source: 'Common practice.',
    edges: 'None for mono and silence. Of more than two channels, the front pair.',
  },
  correlation: {
    family: 'stereo',
    title: 'Correlation',
    unit: '',
    range: [-1, 1],
    meaning: 'How alike the channels are: 1 the same, 0 unrelated, -1 upside down.',
    formula: 'sum LR / sqrt(sum L^2 sum R^2), constant offsets removed (Pearson)',
    source: 'By definition.',
    edges: 'None for mono, for silence, and where one channel is silent.',
  },
  clippedSamples: {
    family: 'faults',
    title: 'Clipped samples',
    unit: '',
    range: [0, 1e12],
    meaning: 'Samples that were cut off flat, in the file or before it was turned down.',
    formula: 'samples in runs of three or more at the highest or lowest value of a channel, arrived at or left steeply',
    source: 'Common practice.',
    edges: '0 for silence and for tops below -40 dBFS.',
  },
  dcOffset: {
    family: 'faults',
    title: 'Constant offset',
    unit: '',
    range: [-1e12, 1e12],
    meaning: 'How far the wave stands off centre; full scale is 1.',
    formula: 'mean of the samples, of the channel where it is farthest from zero',
    source: 'By definition.',
    edges: '0 for silence.',
  },
  faults: {
    family: 'faults',
    title: 'Faults',
    unit: '',
    range: null,
    meaning: 'The kinds of fault that were found.',
    formula: 'see the details',
    source: 'Common practice.',
    edges: 'Silence is the one fault of a silent sound.',
  },
  faultDetails: {
    family: 'faults',
    title: 'Fault details',
    unit: '',
    range: TIME,
    meaning: 'What is wrong, how serious it is, and where it first happens.',
    formula:
      "clipping (runs at the ceiling), offset (three quarters of 20 ms means off centre the same way as the mean, by more than a step and a half of the material), dropouts (holes left and entered by several of the material's own steps, blocks played twice), hum (steady lines on multiples of 50 or 60 Hz), dead, equal and inverted channels, low peak, noise heard alone beside the sound and close below it, a tail cut off that is neither faded nor about to end; and, no fault, a spoken slate",
    source: 'Common practice; every bound leans towards saying nothing.',
    edges: 'An empty list where nothing was found.',
  },
};
