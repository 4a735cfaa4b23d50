// The files by which a device is made to trust the hub's authority, with its code, the steps, the risk and the way back.

import type { HubCertificate } from '../../shared/http.ts';
import { useApp } from '../app/app-context.ts';
import { formatWallTime } from '../state/format.ts';
import { ComparisonCode, TrustSteps } from './trust-steps.tsx';

export interface AuthorityFilesProps {
  readonly authority: NonNullable<HubCertificate['authority']>;
}

export function AuthorityFiles({ authority }: AuthorityFilesProps) {
  const { text, http } = useApp();
  const words = text.trust.authority;
  return (
    <div class="authority-files">
      <p>{words.lead}</p>
      <h3>{words.code}</h3>
      <ComparisonCode code={authority.comparisonCode} fingerprintSha256={authority.fingerprintSha256} />
      <p class="hint">{words.until(formatWallTime(authority.endsWallAtMs))}</p>
      <h3>{words.files}</h3>
      <p class="button-row">
        {(['mobileconfig', 'der', 'pem'] as const).map((form) => (
          <a key={form} class="button" href={http.authorityFilePath(form)} download>
            {form === 'mobileconfig' ? words.profile : words[form]}
          </a>
        ))}
      </p>
      <TrustSteps ofIphone={words.ofIphone} ofAndroid={words.ofAndroid} name="authority-device" />
      <h3>{words.risk}</h3>
      <ul class="plain-sentences">
        {words.risks.map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ul>
      <h3>{words.remove}</h3>
      <ul class="plain-sentences">
        {words.removing.map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ul>
    </div>
  );
}
