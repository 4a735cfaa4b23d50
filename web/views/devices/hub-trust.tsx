// How other devices come to trust this hub, for the coach who lets them in: addresses, the code to compare, and the authority.

import type { LanView } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { AuthorityFiles } from '../../components/authority-files.tsx';
import { ComparisonCode } from '../../components/trust-steps.tsx';

export function HubTrust({ lan }: { readonly lan: LanView }) {
  const { text } = useApp();
  const words = text.trust;
  return (
    <>
      <dl class="lan-facts">
        <dt>{text.devices.addresses}</dt>
        {lan.addresses.map((address) => (
          <dd key={address}>{address}</dd>
        ))}
        <dt>{words.code}</dt>
        <dd>
          <ComparisonCode code={lan.comparisonCode} fingerprintSha256={lan.fingerprintSha256} />
        </dd>
      </dl>
      <p class="hint">{words.what}</p>
      <details class="explain">
        <summary>{words.howMuch}</summary>
        {words.protects.map((sentence) => (
          <p key={sentence}>{sentence}</p>
        ))}
      </details>
      {lan.signedBy === 'given' ? null : (
        <details class="explain trust-authority">
          <summary>{words.authority.title}</summary>
          {lan.authority === null ? (
            <p>{words.authority.off}</p>
          ) : (
            <>
              <p>{words.authority.where(lan.addresses[0] ?? '')}</p>
              <AuthorityFiles authority={lan.authority} />
            </>
          )}
        </details>
      )}
    </>
  );
}
