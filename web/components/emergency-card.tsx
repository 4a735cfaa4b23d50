// The emergency card as it is read: whom to call, where this is, where the oxygen is, who helps.

import type { EmergencyCard } from '../../shared/course.ts';
import { useApp } from '../app/app-context.ts';
import './emergency-card.css';

export function EmergencyCardText({ card }: { readonly card: EmergencyCard }) {
  const { text } = useApp();
  const words = text.course.papers;
  const lines = [
    [words.address, card.address],
    [words.oxygenPlace, card.oxygenPlace],
  ] as const;
  return (
    <div class="emergency-card">
      {card.number === '' ? null : (
        <a class="button button--wide emergency-call" href={`tel:${card.number.replaceAll(/[^\d+*#]/g, '')}`}>
          {words.call(card.number)}
        </a>
      )}
      <dl>
        {lines.map(([label, value]) => (
          <div key={label}>
            <dt>{label}</dt>
            <dd>{value === '' ? words.notWritten : value}</dd>
          </div>
        ))}
        {card.helpers.map(({ name, phone }, index) => (
          <div key={name}>
            <dt>{index === 0 ? words.helpers : ''}</dt>
            <dd>
              {name}
              {phone === '' ? null : (
                <>
                  {' '}
                  <a href={`tel:${phone.replaceAll(/[^\d+*#]/g, '')}`}>{phone}</a>
                </>
              )}
            </dd>
          </div>
        ))}
      </dl>
    </div>
  );
}
