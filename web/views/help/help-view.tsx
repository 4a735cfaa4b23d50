// Where the handbook begins: whom to call first, a search, the chapters, and what else explains something.

import { useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import type { HandbookChapter } from '../../handbook/chapters.ts';
import { searchHandbook } from '../../handbook/search-handbook.ts';
import { NotLoaded } from './not-loaded.tsx';
import { useHandbook } from './use-handbook.ts';
import './help.css';

export function HelpView() {
  const { text } = useApp();
  const words = text.help;
  const handbook = useHandbook();
  const query = useSignal('');
  useDocumentTitle(words.title);
  const wanted = query.value.trim();
  return (
    <article class="sheet help">
      <h1>{words.title}</h1>
      <p class="problem">{words.emergency}</p>
      {handbook.chapters === null ? (
        <NotLoaded {...handbook} />
      ) : (
        <>
          <label class="field">
            <span>{words.search}</span>
            <input
              type="search"
              autocomplete="off"
              value={query.value}
              onInput={(event) => (query.value = event.currentTarget.value)}
            />
          </label>
          {wanted === '' ? (
            <ChapterList chapters={handbook.chapters} />
          ) : (
            <SearchResults chapters={handbook.chapters} query={wanted} />
          )}
        </>
      )}
      <section>
        <h2>{words.more}</h2>
        <ul class="help-links">
          <li>
            <a href="/about">{words.aboutLink}</a>
          </li>
          <li>
            <a href="/about#this-device">{words.thisDeviceLink}</a>
          </li>
        </ul>
      </section>
    </article>
  );
}

function ChapterList({ chapters }: { readonly chapters: readonly HandbookChapter[] }) {
  const { text } = useApp();
  return (
    <section>
      <h2>{text.help.chapters}</h2>
      <ol class="help-links">
        {chapters.map(({ name, title, summary }) => (
          <li key={name}>
            <a href={`/help/${name}`}>{title}</a>
            <span class="hint">{summary}</span>
          </li>
        ))}
      </ol>
    </section>
  );
}

function SearchResults(props: { readonly chapters: readonly HandbookChapter[]; readonly query: string }) {
  const { text } = useApp();
  const words = text.help;
  const found = searchHandbook(props.chapters, props.query);
  return (
    <section>
      <p class="hint" role="status">
        {found.length === 0 ? words.nothingFound(props.query) : words.found(found.length)}
      </p>
      <ol class="help-links">
        {found.map(({ chapter, chapterTitle, id, title, excerpt }) => (
          <li key={`${chapter} ${id ?? ''}`}>
            <a href={`/help/${chapter}${id === null ? '' : `#${id}`}`}>{title}</a>
            {id === null ? null : <span class="help-where">{chapterTitle}</span>}
            <span class="hint">{excerpt}</span>
          </li>
        ))}
      </ol>
    </section>
  );
}
