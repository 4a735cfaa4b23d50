// Whether this is the hub that the person means: what the page can say of it, what it cannot, and how its authority is
// installed.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { HubCertificate } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { lazyView } from '../../app/lazy-view.tsx';

/** Most who join never open it. */
const AuthorityFiles = lazyView(() =>
  import('../../components/authority-files.tsx').then((file) => file.AuthorityFiles),
);

export function RightHub() {
  const { text, http } = useApp();
  const words = text.trust.join;
  const certificate = useSignal<HubCertificate | null>(null);
  const installs = useSignal(false);
  useEffect(() => {
    void http.hubCertificate().then((answer) => {
      if (answer.ok) certificate.value = answer.value;
    });
  }, []);
  const shown = certificate.value;
  if (shown === null) return null;
  return (
    <section class="step">
      <h2>{words.title}</h2>
      <p>{words.pageSays}</p>
      <p class="join-comparison">{shown.comparisonCode}</p>
      <p>{words.other}</p>
      <p>{words.same}</p>
      <details class="explain">
        <summary>{text.trust.whole}</summary>
        <p class="join-fingerprint">{shown.fingerprintSha256}</p>
      </details>
      {shown.signedBy === 'itself' ? null : <p class="hint">{words.noWarning}</p>}
      {shown.authority === null ? null : (
        <details class="explain" onToggle={(event) => (installs.value ||= event.currentTarget.open)}>
          <summary>{text.trust.authority.title}</summary>
          {installs.value ? <AuthorityFiles authority={shown.authority} /> : null}
        </details>
      )}
    </section>
  );
}
