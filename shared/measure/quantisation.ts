/**
 * The step of material that was kept in few bits, whatever it is kept in now: the smallest sample other than 0 that it has,
 * full scale = 1. Found from the samples, as a file of 16 bits or of floats does not tell that its sound was once in 8.
 */

/** Nothing is kept in fewer than 7 bits: a smallest sample above this is a short or loud sound, and no step. */
const COARSEST_STEP = 1 / 64;

/** `smallest`: the smallest absolute value other than 0 among the samples looked at. 0 where it says nothing of a step. */
export function quantisationStep(smallest: number): number {
  return smallest <= COARSEST_STEP ? smallest : 0;
}
