// Two whose signals look exchanged, and putting it right with one press.

import type { SensorView, SupervisionAlarm } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { isolated } from '../../state/format.ts';
import type { Taking } from './people-view.tsx';

export function ExchangedPairs({ take }: Taking) {
  const { hub } = useApp();
  return (
    <>
      {hub.watching.value
        .filter(({ kind }) => kind === 'signalsExchanged')
        .map((alarm) => (
          <ExchangedPair key={alarm.alarmId} alarm={alarm} take={take} />
        ))}
    </>
  );
}

function ExchangedPair({ alarm, take }: Taking & { readonly alarm: SupervisionAlarm }) {
  const { text, hub, http } = useApp();
  const words = text.course.people;
  const [one, other] = alarm.session?.athletes ?? [];
  if (one === undefined || other === undefined) return null;
  const of = (athleteId: string, kind: SensorView['kinds'][number]) =>
    hub.sensorsOf(athleteId).filter(({ kinds }) => kinds.includes(kind));
  const exchange = (kind: SensorView['kinds'][number]) =>
    take(
      http.course.assignSensors([
        ...of(one.athleteId, kind).map(({ sensorId }) => ({ sensorId, athleteId: other.athleteId })),
        ...of(other.athleteId, kind).map(({ sensorId }) => ({ sensorId, athleteId: one.athleteId })),
      ]),
    );
  return (
    <section class="step">
      <h2>{words.exchanged(isolated(one.name), isolated(other.name))}</h2>
      <p>{words.exchangedHelp}</p>
      <div class="recording-actions">
        {(['oximeter', 'heartRate'] as const).map((kind) => (
          <button key={kind} type="button" class="button" onClick={() => void exchange(kind)}>
            {words.exchange[kind]}
          </button>
        ))}
      </div>
    </section>
  );
}
