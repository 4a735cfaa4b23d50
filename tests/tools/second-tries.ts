// Writes down which tests passed only when tried again, and says so loudly. Such a test has found a fault: of the page, which a
// quick hand on a busy machine meets too, or of its own waiting. It counts as passed, and is to be looked into.

import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';
import type { Reporter, TestCase } from 'vitest/node';

export const secondTriesPath = new URL('../../artefacts/second-tries.json', import.meta.url).pathname;

export default class SecondTries implements Reporter {
  readonly #names: string[] = [];

  onTestCaseResult(test: TestCase): void {
    if (test.diagnostic()?.flaky !== true) return;
    const name = `${test.module.relativeModuleId} > ${test.fullName}`;
    this.#names.push(name);
    const [first] = test.result().errors ?? [];
    console.log(`PASSED ONLY WHEN TRIED AGAIN  ${name}\n  at first: ${first?.message ?? 'no reason given'}`);
  }

  onTestRunEnd(): void {
    mkdirSync(dirname(secondTriesPath), { recursive: true });
    writeFileSync(secondTriesPath, JSON.stringify(this.#names));
  }
}
