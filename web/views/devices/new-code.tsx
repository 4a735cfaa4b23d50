// A code just made: large enough to read across a room, and as a QR code of the join link.

import type { LanView, NewJoinCodeBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { TrustSteps } from '../../components/trust-steps.tsx';
import { formatWallTime } from '../../state/format.ts';

export interface NewCodeProps {
  readonly made: NewJoinCodeBody;
  readonly lan: LanView;
  readonly athleteName: string;
}

export function NewCode({ made, lan, athleteName }: NewCodeProps) {
  const { text } = useApp();
  const words = text.devices;
  if (made.role === 'radio') return <RadioCode made={made} lan={lan} />;
  return (
    <section class="new-code" aria-label={words.codeFor(text.role[made.role], athleteName)}>
      <img
        class="new-code-qr"
        alt={words.qrAlt}
        src={`data:image/svg+xml,${encodeURIComponent(made.qrSvg)}`}
        width={240}
        height={240}
      />
      <div class="new-code-words" role="status">
        <h3>{words.codeFor(text.role[made.role], athleteName)}</h3>
        <p class="new-code-letters">{made.code}</p>
        <p>{words.scanOr(`${lan.addresses[0]}/join`)}</p>
        <p>
          {text.trust.code}: <span class="comparison-code">{lan.comparisonCode}</span>
        </p>
        <p class="hint">{words.onceUntil(formatWallTime(made.expiresWallAtMs))}</p>
      </div>
      <section class="new-code-steps">
        <h3>{text.trust.steps.title}</h3>
        <p class="hint">{lan.signedBy === 'given' ? text.trust.steps.leadGiven : text.trust.steps.lead}</p>
        <TrustSteps
          ofIphone={text.trust.steps.ofIphone}
          ofAndroid={text.trust.steps.ofAndroid}
          name="joining-device"
        />
      </section>
    </section>
  );
}

/** For a computer without a browser: the command that joins it. */
function RadioCode({ made, lan }: Omit<NewCodeProps, 'athleteName'>) {
  const { text } = useApp();
  return (
    <section class="new-code" aria-label={text.role.radio}>
      <div class="new-code-words" role="status">
        <h3>{text.role.radio}</h3>
        <p class="new-code-letters">{made.code}</p>
        <p>{text.radios.codeSteps}</p>
        <p>
          <code class="new-code-command">
            slackwater radio --to {lan.addresses[0]} --code {made.code}
          </code>
        </p>
        <p>
          {text.trust.code}: <span class="comparison-code">{lan.comparisonCode}</span>
        </p>
        <p class="hint">{text.devices.onceUntil(formatWallTime(made.expiresWallAtMs))}</p>
      </div>
    </section>
  );
}
