// What the build makes of the Markdown of a language (web/vite.config.ts).

declare module 'virtual:handbook/en' {
  export const chapters: readonly import('./chapters.ts').HandbookChapter[];
}
declare module 'virtual:handbook/de' {
  export const chapters: readonly import('./chapters.ts').HandbookChapter[];
}
