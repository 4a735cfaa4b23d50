// One chapter of the handbook: what is on the page, its sections, and the way on. An address with a place goes there.

import { useLayoutEffect } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import type { HandbookChapter } from '../../handbook/chapters.ts';
import { NotLoaded } from './not-loaded.tsx';
import { useHandbook } from './use-handbook.ts';
import './help.css';

export function HelpChapterView({ chapterName }: { readonly chapterName: string }) {
  const { text } = useApp();
  const words = text.help;
  const handbook = useHandbook();
  const index = handbook.chapters?.findIndex(({ name }) => name === chapterName) ?? -1;
  const chapter = handbook.chapters?.[index];
  useDocumentTitle(chapter?.title ?? words.title);
  return (
    <article class="sheet help">
      <a class="button button--quiet back-link" href="/help">
        {words.allChapters}
      </a>
      {handbook.chapters === null ? (
        <NotLoaded {...handbook} />
      ) : chapter === undefined ? (
        <p class="empty">{words.noChapter}</p>
      ) : (
        <>
          <Chapter chapter={chapter} />
          <nav class="help-turn" aria-label={words.chapters}>
            <Turn chapter={handbook.chapters[index - 1]} label={words.before} />
            <Turn chapter={handbook.chapters[index + 1]} label={words.next} />
          </nav>
        </>
      )}
    </article>
  );
}

function Chapter({ chapter }: { readonly chapter: HandbookChapter }) {
  const { text } = useApp();
  // Before the paint, so that nobody is taken back from where they have gone since; after the frame has put the focus on the view.
  useLayoutEffect(() => {
    queueMicrotask(() => {
      const place = document.getElementById(decodeURIComponent(location.hash.slice(1)));
      if (place === null) return;
      // Pictures above it have their size already, so that it stays where it is.
      place.scrollIntoView();
      place.focus({ preventScroll: true });
    });
  }, []);
  return (
    <>
      <h1>{chapter.title}</h1>
      <p class="lead">{chapter.summary}</p>
      <Markup html={chapter.html} />
      <nav class="help-contents" aria-label={text.help.onThisPage}>
        <h2>{text.help.onThisPage}</h2>
        <ul>
          {chapter.sections.map(({ id, title }) => (
            <li key={id}>
              <a href={`#${id}`}>{title}</a>
            </li>
          ))}
        </ul>
      </nav>
      {chapter.sections.map(({ id, title, html }) => (
        <section key={id} id={id} class="help-section" tabIndex={-1}>
          <h2>{title}</h2>
          <Markup html={html} />
        </section>
      ))}
    </>
  );
}

/** Made by the build from the handbook's own files. */
function Markup({ html }: { readonly html: string }) {
  if (html === '') return null;
  return <div class="help-text" dangerouslySetInnerHTML={{ __html: html }} />;
}

function Turn(props: {
  readonly chapter: HandbookChapter | undefined;
  readonly label: (title: string) => string;
}) {
  if (props.chapter === undefined) return null;
  return (
    <a class="button" href={`/help/${props.chapter.name}`}>
      {props.label(props.chapter.title)}
    </a>
  );
}
