// The words about the handbook, in English; its chapters are Markdown in web/handbook.

export const enHelp = {
  nav: 'Help',
  title: 'Help',
  emergency: 'Somebody does not respond? Leave this page: call the emergency number now and give first aid.',
  search: 'Search the handbook',
  nothingFound: (query: string) =>
    `Nothing in the handbook has all of \u201c${query}\u201d. Fewer or shorter words find more.`,
  found: (count: number) => (count === 1 ? '1 place' : `${count} places`),
  chapters: 'Chapters',
  more: 'Also here',
  aboutLink: 'About, cautions and limits of the numbers',
  thisDeviceLink: 'What this browser allows: offline, notices, screen',
  onThisPage: 'On this page',
  before: (title: string) => `Before: ${title}`,
  next: (title: string) => `Next: ${title}`,
  allChapters: 'All chapters',
  notLoaded: 'The handbook could not be loaded from the hub.',
  noChapter: 'There is no such chapter.',
  /** Links from where a question comes up. */
  whatItMeans: 'What it means',
  whatItMeansOf: (title: string) => `What it means: ${title}`,
  toFirstSession: 'First time? The first session, step by step',
  toSensors: 'Choosing and finding sensors',
  toReading: 'How to read this page',
  toBackups: 'Backups, step by step',
  toCourse: 'A course, step by step',
  toHubSilent: 'What to do when the hub does not answer',
};
