/** Ends a run with one plain line that says how many tests there were, for whoever reads the log. */
import type { Reporter, TestModule } from 'vitest/node';

export default class ClosingLine implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    const states = modules.flatMap((module) => [...module.children.allTests()].map((test) => test.result().state));
    const count = (state: string): number => states.filter((each) => each === state).length;
    const broken = modules.filter((module) => module.state() === 'failed' && count('failed') === 0).length;
    process.stdout.write(
      `\n${count('passed')} passed, ${count('failed') + broken} failed, ${count('skipped')} skipped\n`,
    );
  }
}
