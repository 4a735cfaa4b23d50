// One athlete's part of a recording given to another: in the head, in every entry and in corrections. Packets name sensors, not
// people, and stay as they are.

import { entryChecksum } from './row-checksums.ts';
import { type CorrectionRow, correctionChecksum, type EntryRow, type SessionBody } from './rows.ts';

/** Who takes the part over, and their name as it is now. */
export interface TakingOver {
  readonly athleteId: string;
  readonly name: string;
}

export function headReassigned(body: SessionBody, from: string, to: TakingOver): SessionBody {
  const { binned } = body;
  return {
    ...body,
    athletes: body.athletes.map((athlete) =>
      athlete.athleteId === from ? { ...athlete, athleteId: to.athleteId, name: to.name } : athlete,
    ),
    ...(binned !== undefined && {
      binned: binned.map((each) => (each.athleteId === from ? { ...each, athleteId: to.athleteId } : each)),
    }),
  };
}

/** The entry as it is to be, where it is of theirs; one that is damaged stays as it is, to be found damaged still. */
export function entryReassigned(entry: EntryRow, from: string, to: string): EntryRow | undefined {
  if (entry.athlete_id !== from || entry.checksum !== entryChecksum(entry)) return undefined;
  const stored = JSON.parse(entry.body) as { athleteId?: string; mark?: { athleteId?: string } };
  const body = JSON.stringify({
    ...stored,
    ...(stored.athleteId === from && { athleteId: to }),
    ...(stored.mark?.athleteId === from && { mark: { ...stored.mark, athleteId: to } }),
  });
  const key = entry.entry_key;
  const changed = {
    ...entry,
    athlete_id: to,
    // Holds and alarms are kept by athlete and id.
    entry_key: key?.startsWith(`${from}/`) === true ? `${to}/${key.slice(from.length + 1)}` : key,
    body,
  };
  return { ...changed, checksum: entryChecksum(changed) };
}

export function correctionReassigned(
  correction: CorrectionRow,
  from: string,
  to: string,
): CorrectionRow | undefined {
  if (correction.athlete_id !== from || correction.checksum !== correctionChecksum(correction))
    return undefined;
  const body = JSON.stringify({ ...JSON.parse(correction.body), athleteId: to });
  const changed = { ...correction, athlete_id: to, body };
  return { ...changed, checksum: correctionChecksum(changed) };
}
