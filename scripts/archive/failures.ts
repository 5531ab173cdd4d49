/**
 * Whose failure it is. A file whose content cannot be used is remembered, since trying again would give the same answer.
 * All else (the drive, memory, another program writing at the same time, an error in this program) may be different at the
 * next build: it is told and never kept.
 */

import { isSystemError, messageOf, reasonOf } from '../messages.ts';
import { isMemoryError } from './decode/memory-error.ts';

/** What a person is told of a file that is missing on the page although nothing may be wrong with it. */
export interface MachineFailure {
  found: string;
  expected: string;
  remedy: string;
  /** It may be otherwise in a moment: worth another try in the same build. */
  worthAnotherTry: boolean;
}

/** The file was written, replaced or renamed between the first look at it and the last. */
export class ChangedWhileRead extends Error {
  override readonly name = 'ChangedWhileRead';
  constructor() {
    super('it changed while it was read');
  }
}

/** `error`: anything thrown over a file that is no UnreadableAudio. */
export function machineFailure(error: unknown): MachineFailure {
  if (error instanceof ChangedWhileRead) {
    return {
      found: 'The file changed while it was read.',
      expected: 'A file that stays as it is during a build.',
      remedy: 'Build again when nothing writes to it any more.',
      worthAnotherTry: true,
    };
  }
  if (isSystemError(error)) {
    const moved = error.code === 'ENOENT';
    return {
      found: `The file cannot be read: ${reasonOf(error, 'read')}.`,
      expected: 'A file that can be read to its end.',
      remedy: moved
        ? 'Build again: if it was moved or renamed, it is found at its new place.'
        : 'Check the drive and the permissions, then build again.',
      worthAnotherTry: false,
    };
  }
  if (isMemoryError(error)) return outOfMemory('Memory ran out while the file was measured.');
  return {
    found: `Measuring the file was stopped by ${messageOf(error)}.`,
    expected: 'A file that is measured to its end.',
    remedy: 'Build again. If that is of no use, the fault is in this program: the file itself may be in order.',
    worthAnotherTry: false,
  };
}

/** `error`: with which a measuring thread ended, or its exit code. */
export function threadFailure(error: Error | number, heapMegabytes: number): MachineFailure {
  if (error instanceof Error && 'code' in error && error.code === 'ERR_WORKER_OUT_OF_MEMORY') {
    return outOfMemory(`Measuring the file took more than the ${heapMegabytes} MB of memory that a thread may use.`);
  }
  const how = typeof error === 'number' ? `it ended with code ${error}` : messageOf(error);
  return {
    found: `Measuring the file brought its thread down: ${how}.`,
    expected: 'A file that is measured to its end.',
    remedy: 'Build again. If that is of no use, export the file again as WAV or FLAC, or take it out of the archive.',
    worthAnotherTry: false,
  };
}

function outOfMemory(found: string): MachineFailure {
  return {
    found,
    expected: 'A file that is measured in the memory there is.',
    remedy: 'Close other programs or build with --threads 1. If that is of no use, cut the file into shorter ones.',
    worthAnotherTry: false,
  };
}
