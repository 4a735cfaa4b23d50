// Pictured steps, one list a kind of device; and the code that people compare, with the whole fingerprint one tap away.

import { useSignal } from '@preact/signals';
import { useApp } from '../app/app-context.ts';
import type { TrustStep } from '../i18n/en-appliance.ts';
import { StepPicture } from './step-picture.tsx';

export interface TrustStepsProps {
  readonly ofIphone: readonly TrustStep[];
  readonly ofAndroid: readonly TrustStep[];
  /** The name of the choice among inputs of the page. */
  readonly name: string;
}

export function TrustSteps({ ofIphone, ofAndroid, name }: TrustStepsProps) {
  const { text } = useApp();
  const words = text.trust.steps;
  const system = useSignal<'iphone' | 'android'>('iphone');
  return (
    <>
      <fieldset class="choice-row">
        <legend>{words.which}</legend>
        {(['iphone', 'android'] as const).map((each) => (
          <label key={each} class="choice">
            <input
              type="radio"
              name={name}
              checked={system.value === each}
              onChange={() => {
                system.value = each;
              }}
            />
            <span>{words[each]}</span>
          </label>
        ))}
      </fieldset>
      <ol class="trust-steps">
        {(system.value === 'iphone' ? ofIphone : ofAndroid).map((step) => (
          <li key={step.picture}>
            <StepPicture picture={step.picture} />
            <p>{step.text}</p>
          </li>
        ))}
      </ol>
    </>
  );
}

export interface ComparisonCodeProps {
  readonly code: string;
  readonly fingerprintSha256: string;
}

export function ComparisonCode({ code, fingerprintSha256 }: ComparisonCodeProps) {
  const { text } = useApp();
  return (
    <>
      <p class="comparison-code">{code}</p>
      <details class="explain">
        <summary>{text.trust.whole}</summary>
        <p class="fingerprint">{fingerprintSha256}</p>
      </details>
    </>
  );
}
