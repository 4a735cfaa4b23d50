// What this is and is not, the cautions, and what the numbers cannot tell.

import { protocolVersion } from '../../../shared/protocol-version.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { CautionsList } from '../../components/cautions-list.tsx';
import { ThisDevice } from './this-device.tsx';

export function AboutView() {
  const { text, hub } = useApp();
  const words = text.about;
  useDocumentTitle(words.title);
  return (
    <article class="sheet sheet--reading">
      <a class="button button--quiet back-link" href="/help">
        {text.help.allChapters}
      </a>
      <h1>{words.title}</h1>
      <p class="lead">{words.what}</p>
      <p>
        <strong>{words.label}</strong>
      </p>
      <h2>{words.cautionsTitle}</h2>
      <CautionsList />
      <h2>{words.limitsTitle}</h2>
      <ul class="cautions">
        {words.limits.map((limit) => (
          <li key={limit}>{limit}</li>
        ))}
      </ul>
      <ThisDevice />
      <h2>{words.coloursTitle}</h2>
      <p>{words.colours}</p>
      {hub.hub.value === null ? null : (
        <p class="hint">{words.versions(hub.hub.value.version, protocolVersion)}</p>
      )}
    </article>
  );
}
