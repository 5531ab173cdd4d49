/** The form of `split` in the catalogue's archive.yaml. By itself, so that what only measures need not load the checker. */
import { z } from 'zod';
import type { Seconds } from '../../shared/sound.ts';
import { SLATE_MEANS, SPLIT_MEANS, type SplitSettings } from './split-settings.ts';

/** An hour: longer than any pause, so more is a slip of the keyboard. */
const LONGEST_SECONDS: Seconds = 3600;
const seconds = z.number().min(0).max(LONGEST_SECONDS).optional();
const rules = {
  by: z.enum(SPLIT_MEANS).optional(),
  slates: z.enum(SLATE_MEANS).optional(),
  leastPauseSeconds: seconds,
  longestPauseSeconds: seconds,
  longestBeatSeconds: seconds,
  leastTakeSeconds: seconds,
};

const inOrder = ({ leastPauseSeconds = 0, longestPauseSeconds = LONGEST_SECONDS }: Rules): boolean =>
  leastPauseSeconds <= longestPauseSeconds;
const WRONG_ORDER = 'leastPauseSeconds is more than longestPauseSeconds';
type Rules = { [key in keyof SplitSettings]?: SplitSettings[key] | undefined };

const partSchema = z
  .object({ files: z.string().min(1), ...rules })
  .strict()
  .refine(inOrder, WRONG_ORDER);

export const folderSplitSchema = z.preprocess(
  (value) => (typeof value === 'string' ? { by: value } : value),
  z
    .object({ ...rules, within: z.array(partSchema).optional() })
    .strict()
    .refine(inOrder, WRONG_ORDER),
);

export type FolderSplit = z.infer<typeof folderSplitSchema>;
