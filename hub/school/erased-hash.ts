// How somebody who was erased is known again without being known: hashes of ids that are 72 random bits, which say nothing
// of anybody and cannot be found by trying (a hash of a token is as safe, hub/devices/join/device-register.ts).

import { sha256Of } from './kept-bytes.ts';

/** The same in SQL stands in archive/erased-rows.ts. */
export const athleteHash = (hub: string, athleteId: string): string =>
  sha256Of(Buffer.from(`erased athlete ${hub} ${athleteId}`));

export const recordingHash = (hub: string, sessionId: string): string =>
  sha256Of(Buffer.from(`erased recording ${hub} ${sessionId}`));
