// What is kept of athletes between sessions: the list of them and the sensors each is known by.

import type { Athlete } from '../../../shared/views.ts';

export interface Athletes {
  /** In the order they were first saved. */
  listAthletes(): readonly Athlete[];
  saveAthlete(athlete: Athlete): void;
  /** Takes an athlete off the list, with the remembered sensors. Recordings keep their own copy and stay. */
  removeAthlete(athleteId: string): void;
  /**
   * Removes an athlete and everything of theirs from every recording, down to the bytes of the file: sessions of
   * theirs alone are deleted, from shared ones their packets, marks, holds and alarms. Not while recording.
   */
  eraseAthlete(athleteId: string): void;
  /** Remembered assignment of a sensor to an athlete. */
  assignSensor(sensorId: string, athleteId: string | null): void;
  sensorAssignments(): ReadonlyMap<string, string>;
}
