// The words of a school's pages, in English.

export const enRooms = {
  nav: 'Rooms',
  title: 'Rooms',
  intro:
    'Every hub of the school that sends. Alarms sound in their room first and need no network; here they are shown as soon as they arrive.',
  none: 'No hub has been heard yet. On its computer: slackwater start --school ADDRESS.',
  noSession: 'No session.',
  alarmsOf: (room: string) => `Alarms of ${room}`,
  calls: (room: string, age: string) => `${room}, for ${age}`,
  more: (count: number) => (count === 1 ? '1 more alarm there' : `${count} more alarms there`),
  silentSince: (room: string, time: string) =>
    `Nothing heard from ${room} since ${time}. Its alarms sound in the room only.`,
  neverHeard: (room: string) => `Nothing heard from ${room} since the school was started.`,
};
