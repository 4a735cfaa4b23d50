// A link into the handbook, from where a question comes up.

import type { ChapterName } from '../handbook/chapters.ts';

export interface HelpLinkProps {
  readonly chapter: ChapterName;
  /** Of a section; the chapter's beginning when left out. */
  readonly section?: string;
  readonly label: string;
  /** For a screen reader, where the label alone does not say of what. */
  readonly fullLabel?: string;
}

export function HelpLink({ chapter, section, label, fullLabel }: HelpLinkProps) {
  return (
    <a
      class="help-link"
      href={`/help/${chapter}${section === undefined ? '' : `#${section}`}`}
      aria-label={fullLabel}
    >
      {label}
    </a>
  );
}
