// The words of a school's pages, and of a hub's about its school, in English.

export const enRooms = {
  nav: 'Rooms',
  /** In place of the hub's. */
  link: {
    connecting: 'Looking for the school',
    live: 'School answering',
    silent: 'School not answering',
    wrongVersion: 'School is another version',
    refused: 'Not joined to this school',
  },
  title: 'Rooms',
  intro:
    'Every hub that sends to this school. Alarms sound in their room first and need no network; here they are shown as soon as they arrive.',
  none: 'No hub has been heard yet. Start one on its computer: slackwater start --school ADDRESS.',
  noSession: 'No session.',
  alarmsOf: (room: string) => `Alarms of ${room}`,
  /** More than two of them. */
  calling: (count: number) => `Alarms in ${count} rooms`,
  /** `age` is null in the first second. */
  calls: (room: string, age: string | null) =>
    age === null ? `${room}: alarm, just now` : `${room}: alarm for ${age}`,
  more: (count: number) => (count === 1 ? '1 more alarm there' : `${count} more alarms there`),
  silentSince: (room: string, time: string) =>
    `Nothing heard from ${room} since ${time}. Its alarms sound in the room only.`,
  room: 'Room',
  coachOf: 'Coach of',
  allRooms: 'all rooms',
  someRooms: 'some rooms',
  whichRooms: 'Which rooms',
  ofRooms: (rooms: string) => `For ${rooms}`,
  roomCoachMay:
    'Sees these rooms, their recordings and the weeks of who trains there, and acknowledges alarms there. Cannot let anybody in, and cannot join, export or erase anybody.',
  recordingsHint:
    'From every hub. They are changed, corrected and put into the bin at the hub that made them, and erased with everything of a person under People.',
  neverHeard: (room: string) => `Nothing heard from ${room} since the school was started.`,
};

/** Who is known to a school: joined, taken along, erased. */
export const enSchoolPeople = {
  nav: 'People',
  title: 'People of the school',
  intro:
    'Everybody whom a hub of the school knows, with the rooms that they train in. Names are given at the hubs, and two of one name may be two people.',
  loading: 'Looking up who is known ...',
  failed: (message: string) => `The list could not be read: ${message}`,
  none: 'Nobody is known yet. People appear here with the first list or recording that a hub sends.',
  notFound: 'Nobody of that name.',
  search: 'Find by name or room',
  found: (count: number) => (count === 1 ? '1 person' : `${count} people`),
  more: (count: number) => `${count} more. Type a part of the name or the room.`,
  /** Where somebody trains; a name follows where it is another one there. */
  at: (room: string, hub: string) => (room === hub ? room : `${room} (${hub})`),
  atAs: (place: string, name: string) => `${place}, there as ${name}`,
  counts: (recordings: number, holds: number) =>
    `${recordings === 1 ? '1 recording' : `${recordings} recordings`}, ${holds === 1 ? '1 hold' : `${holds} holds`}`,
  /** After the word itself, where it is so of some only. */
  simulatedOf: (simulated: number, recordings: number) => `${simulated} of ${recordings}`,
  between: (from: string, until: string) => (from === until ? from : `${from} to ${until}`),
  noRecordings: 'no recordings',
  weeks: 'Weeks',
  weeksOf: (name: string) => `Weeks of ${name}`,
  takeAlong: 'Export',
  takeAlongWhat: (name: string) => `Export everything of ${name} as one file`,
  takeAlongHint:
    'Export gives one file with a session file for each recording, of whatever hub, and a list (list.json). What lies in the bin of a hub is not in it. These are readings of a person: keep the file where nobody else reads it.',
  join: 'Join',
  joinWhat: (name: string) => `Join ${name} with somebody else here`,
  erase: 'Erase ...',
  eraseWhat: (name: string) => `Erase ${name} everywhere`,
  coaches: {
    title: 'Who led',
    lead: 'As it was said when a session began. One line for each name: two people of one name stand in one.',
    none: 'No recording says who led it.',
    counts: (recordings: number) => (recordings === 1 ? '1 recording' : `${recordings} recordings`),
    recordings: 'Recordings',
    recordingsOf: (name: string) => `Recordings that ${name} led`,
    takeAlongWhat: (name: string) => `Export the list of what ${name} led`,
    eraseWhat: (name: string) => `Erase the name ${name} where it says who led`,
  },
  proposals: {
    title: 'One person or two?',
    lead: 'They have the same name. Nobody is joined unless you say so.',
    none: 'Nobody has the same name as somebody else.',
    look: 'Look at both',
    lookWhat: (name: string, one: string, other: string) =>
      `Look at both: ${name}, ${one}, and ${name}, ${other}`,
  },
  merge: {
    title: 'Join two as one person',
    with: 'Who is the same person?',
    choose: 'Choose ...',
    kept: 'Stays, with this name',
    taken: 'Becomes part of it',
    swap: 'The other way round',
    becomes: (recordings: string, when: string) => `Then: ${recordings}, in one line of weeks, ${when}.`,
    hubsKeep: 'The hubs keep their names and recordings as they are. It can be taken back.',
    overlap: (count: number) =>
      count === 1
        ? 'Once both were recorded at the same time in different sessions: then they are hardly one person.'
        : `${count} times both were recorded at the same time in different sessions: then they are hardly one person.`,
    confirm: 'Join',
    failed: (message: string) => `Not joined: ${message}`,
    done: (name: string) => `${name} is one person now.`,
  },
  merges: {
    title: 'Joined',
    none: 'Nobody has been joined.',
    by: (device: string) => (device === '' ? 'by the school\u2019s own computer' : `by ${device}`),
    undo: 'Take back',
    undoWhat: (name: string) => `Take back, and make two people of ${name} again`,
    undone: 'They are two people again, each with their own recordings.',
    failed: (message: string) => `Not taken back: ${message}`,
  },
  erasing: {
    title: 'Erase everywhere',
    goes: (name: string) => `From the archive of the school and every hub goes, for good, of ${name}:`,
    places: (places: string) => `who they are at ${places}, with their settings`,
    own: (count: number) =>
      count === 1 ? '1 recording of theirs alone, whole' : `${count} recordings of theirs alone, whole`,
    shared: (count: number) =>
      count === 1 ? 'their part of 1 recording with others' : `their part of ${count} recordings with others`,
    led: (count: number) =>
      count === 1
        ? 'the name from 1 recording that somebody of this name led'
        : `the name from ${count} recordings that somebody of this name led`,
    ledAt: (rooms: string) => `made in ${rooms}`,
    inLogs: 'where it says who acknowledged an alarm, who moved somebody, and in the logs of who did what',
    coachGoes: (name: string) => `The name ${name} goes, for good, where it says who led:`,
    coachStays:
      'The recordings stay: they are of the athletes in them. Devices that bear the name are removed under Devices.',
    coachAgain: (name: string) =>
      `The name ${name} goes now, at every hub. Press once more if whoever bears it wants that.`,
    holds: (count: number) => (count === 1 ? '1 hold' : `${count} holds`),
    documents: (count: number) =>
      count === 1 ? '1 plan run, entry or note' : `${count} plan runs, entries and notes`,
    atHubs: 'at each hub also what lies in its bin and what never reached the school',
    when: 'The archive does it at once. A hub does it between sessions, one that is off when it is back, before it sends anything more of them. Until then it stands below as waiting.',
    notTouched:
      'Copies elsewhere are not touched: downloaded files, backups of hubs, and backups of the database, which its keeper must delete. Hubs put back from a backup erase them again, as long as the school\u2019s archive is newer than this.',
    typeName: (name: string) => `Type the name to go on: ${name}`,
    again: (name: string) =>
      `Everything of ${name} goes now, at every hub, past every bin. Press once more if ${name} wants that.`,
    confirm: 'Erase everywhere',
    confirmAgain: 'Yes, erase it all',
    failed: (message: string) => `Not erased: ${message}`,
    done: (name: string) => `${name} has been erased from the archive. How far the hubs are stands below.`,
  },
  erasures: {
    title: 'Erased',
    lead: 'That somebody was erased, not who.',
    none: 'Nobody has been erased.',
    asked: 'Asked',
    askedBy: (at: string, by: string) => `${at}, ${by}`,
    atHub: (room: string) => `at ${room}`,
    archive: 'Archive',
    stream: 'Message server',
    done: (at: string) => `done ${at}`,
    waiting: 'waiting',
  },
};

/** On a hub's Devices page. */
export const enSchoolLink = {
  title: 'School',
  as: (hub: string, school: string) =>
    `At the school \u201c${school}\u201d this hub is called \u201c${hub}\u201d.`,
  link: {
    connecting: 'It is not connected; it tries again by itself.',
    connected: 'It is connected.',
    refused: 'It is not let in.',
  },
  since: (time: string) => `Since ${time}:`,
  caughtUp: 'All that is recorded here has been sent, except what is named above.',
  waiting: (count: number) =>
    count === 0
      ? 'Whether all has been sent is not known at the moment.'
      : count === 1
        ? '1 recording is not sent whole yet.'
        : `${count} recordings are not sent whole yet.`,
  keptAt: (time: string) => `Last sent: ${time}.`,
};
