// Who did what on this hub, newest first, for coaches; and the whole of it as a file.

import { useSignal } from '@preact/signals';
import type { AuditEntry } from '../../../shared/audit.ts';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { formatWallTime, isolated } from '../../state/format.ts';

export function AuditList({ athletes }: { readonly athletes: readonly Athlete[] }) {
  const { text, http } = useApp();
  const words = text.audit;
  const entries = useSignal<readonly AuditEntry[] | null>(null);
  const problem = useSignal<string | null>(null);
  const load = async () => {
    const answer = await http.audit();
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (answer.ok) entries.value = answer.value.entries;
  };
  const who = ({ device, address, afar }: AuditEntry): string =>
    afar !== undefined
      ? words.afar(afar.by || text.devices.unnamed, afar.school)
      : address !== undefined
        ? words.from(address)
        : device === null
          ? words.ownPerson
          : `${device.name || text.devices.unnamed} (${text.role[device.role]})`;
  const about = ({ athleteId, floorPercent, room, count = 1 }: AuditEntry): string => {
    const known = athletes.find((athlete) => athlete.athleteId === athleteId)?.name;
    const name = athleteId === null ? '' : isolated(known ?? words.athleteGone);
    const floor = floorPercent === null ? '' : words.floor(floorPercent.before, floorPercent.after);
    const where = room === undefined ? '' : words.inRoom(room);
    return [name, where, floor, count === 1 ? '' : words.times(count)]
      .filter((part) => part !== '')
      .join(', ');
  };
  return (
    <details class="step audit" onToggle={(event) => void (event.currentTarget.open && load())}>
      <summary>
        <h2>{words.title}</h2>
      </summary>
      {problem.value === null ? null : <p class="notice notice--strong">{problem.value}</p>}
      {entries.value === null ? null : entries.value.length === 0 ? (
        <p class="hint">{words.none}</p>
      ) : (
        <ol class="device-list">
          {entries.value.map((entry, index) => (
            <li key={index}>
              <span class="device-what">
                <strong>{words.action[entry.action]}</strong>
                {about(entry) === '' ? null : <span>{about(entry)}</span>}
                <span>{`${formatWallTime(entry.atWallMs)}, ${who(entry)}`}</span>
              </span>
            </li>
          ))}
        </ol>
      )}
      <p>
        <a class="button" href={http.auditFilePath} download>
          {words.file}
        </a>
      </p>
      <p class="hint">{words.kept}</p>
    </details>
  );
}
