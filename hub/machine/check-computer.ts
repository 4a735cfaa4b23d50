// Runs every check of the computer. One that breaks is a finding of its own, and the others go on.

import { said } from '../../shared/said.ts';
import { type CheckSettings, checks } from './checks.ts';
import type { Computer } from './computer.ts';
import type { CheckName, Finding } from './finding.ts';

/** The findings, in the order of `checks`. */
export async function checkComputer(
  computer: Computer,
  settings: CheckSettings,
): Promise<readonly Finding[]> {
  const findings: Finding[] = [];
  for (const check of Object.keys(checks) as CheckName[]) {
    try {
      findings.push({ check, ...(await checks[check](computer, settings)) });
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      findings.push({ check, state: 'warning', said: said('machine.notLooked', { reason }) });
    }
  }
  return findings;
}
