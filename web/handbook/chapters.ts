// The chapters of the handbook in their order; each is a Markdown file of this name for every language.

export const chapterNames = [
  'set-up',
  'first-session',
  'course',
  'alarms',
  'sensors',
  'recordings',
  'backups',
  'limits',
  'hardware',
] as const;
export type ChapterName = (typeof chapterNames)[number];

/** The languages it is written in. */
export const handbookLanguages = ['en', 'de'] as const;
export type HandbookLanguage = (typeof handbookLanguages)[number];

export interface HandbookSection {
  /** Its place in the address: `/help/alarms#floorBreached`. */
  readonly id: string;
  readonly title: string;
  /** Made by the build from our own files. */
  readonly html: string;
}

export interface HandbookChapter {
  readonly name: ChapterName;
  readonly title: string;
  /** One line for the list of chapters. */
  readonly summary: string;
  /** What stands before the first section. */
  readonly html: string;
  readonly sections: readonly HandbookSection[];
}
