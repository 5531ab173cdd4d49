#!/usr/bin/env node
/** The command line. Progress and messages go to stderr, results to stdout; exit code 0 done, 1 failed, 2 wrong usage. */
import { Command, CommanderError } from 'commander';
import { buildCommand } from './commands/build.ts';
import { demoCommand } from './commands/demo.ts';
import { findCommand } from './commands/find.ts';
import { measureCommand } from './commands/measure.ts';
import { reportCommand } from './commands/report.ts';
import { serveCommand } from './commands/serve.ts';
import { messageOf, WrongUsage } from './messages.ts';
import { answer, quietLibraries, tell } from './terminal.ts';

quietLibraries();

const program = new Command('takeshelf')
  .description('Measures an archive of your own recordings and builds a page that finds the sound you want.')
  .showHelpAfterError('Add --help for what can be said.')
  .configureOutput({
    writeOut: answer,
    writeErr: (text) => {
      for (const line of text.replace(/\n$/, '').split('\n')) tell(line);
    },
  })
  .exitOverride();

const commands = [buildCommand, serveCommand, measureCommand, findCommand, reportCommand, demoCommand];
for (const command of commands) program.addCommand(command().copyInheritedSettings(program));

// Whoever reads may stop reading (`... | head`): that ends the command, and is no failure.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  process.exit(error.code === 'EPIPE' ? 0 : 1);
});

try {
  await program.parseAsync();
} catch (error) {
  process.exitCode = exitCodeFor(error);
}

function exitCodeFor(error: unknown): number {
  // commander has already said what was wrong, or shown the help that was asked for.
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2;
  if (error instanceof WrongUsage) {
    tell(error.message);
    return 2;
  }
  const message = messageOf(error);
  tell(/[.!?]$/.test(message) ? message : `${message}.`);
  if (process.env.TAKESHELF_DEBUG) console.error(error);
  return 1;
}
