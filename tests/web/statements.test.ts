// What athletes have said of themselves as it stands, and what a session's start tells of it.

import { expect, test } from 'vitest';
import type { Participant, Statement } from '../../shared/course.ts';
import { wallMs } from '../../shared/units.ts';
import { en } from '../../web/i18n/en.ts';
import { byMatter, missingStatements, standingStatement } from '../../web/state/statements.ts';

const statement = (kind: Statement['kind'], isGiven: boolean, onDay: string): Statement => ({
  kind,
  isGiven,
  onDay,
  writtenWallAtMs: wallMs(0),
  by: '',
});
const mira = (...statements: Statement[]): Participant => ({ athleteId: 'mira', name: 'Mira', statements });

test('the last of a kind stands, and nothing after it was taken back', () => {
  const said = mira(statement('consent', true, '2026-05-01'), statement('fitness', true, '2026-05-02'));
  expect(standingStatement(said, 'consent')?.onDay).toBe('2026-05-01');
  const back = mira(...said.statements, statement('consent', false, '2026-05-03'));
  expect(standingStatement(back, 'consent')).toBeUndefined();
  expect(standingStatement(back, 'fitness')?.onDay).toBe('2026-05-02');
});

test('who has said nothing is told of, and a word of fitness grows old after a week', () => {
  expect(missingStatements([mira()], '2026-05-12').map(({ what }) => what)).toEqual(['consent', 'fitness']);
  const both = mira(statement('consent', true, '2020-01-01'), statement('fitness', true, '2026-05-05'));
  expect(missingStatements([both], '2026-05-12')).toEqual([]);
  expect(missingStatements([both], '2026-05-13')).toEqual([
    { name: 'Mira', what: 'old', onDay: '2026-05-05' },
  ]);
});

test('what several have not said is one sentence with all their names', () => {
  const teo = { ...mira(statement('fitness', true, '2026-05-01')), athleteId: 'teo', name: 'Teo' };
  const matters = byMatter(missingStatements([mira(), teo, { ...mira(), name: 'Sana' }], '2026-05-12'));
  expect(matters).toEqual([
    { what: 'consent', names: ['Mira', 'Teo', 'Sana'], onDay: '' },
    { what: 'fitness', names: ['Mira', 'Sana'], onDay: '' },
    { what: 'old', names: ['Teo'], onDay: '2026-05-01' },
  ]);
  const { missing } = en.course.papers;
  expect(missing.fitness('Mira and Sana', 2, '')).toBe(
    'Mira and Sana have not said that they are fit to train.',
  );
  expect(missing.fitness('Mira', 1, '')).toBe('Mira has not said that they are fit to train.');
});
