// As what, and for whom, the next device is let in.

import { useSignal } from '@preact/signals';
import type { DeviceRole } from '../../../shared/schema-parts.ts';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { ChoiceField } from '../../components/choice-field.tsx';

export interface InviteFormProps {
  readonly athletes: readonly Athlete[];
  readonly onInvite: (role: DeviceRole, athleteId: string | null) => Promise<void>;
}

const roles: readonly DeviceRole[] = ['athlete', 'coach', 'onlooker', 'radio'];

export function InviteForm({ athletes, onInvite }: InviteFormProps) {
  const { text } = useApp();
  const words = text.devices;
  const role = useSignal<DeviceRole>('athlete');
  const chosen = useSignal<string | null>(null);
  const asking = useSignal(false);
  const athleteId = chosen.value ?? athletes[0]?.athleteId ?? null;
  return (
    <form
      class="invite"
      onSubmit={(event) => {
        event.preventDefault();
        asking.value = true;
        void onInvite(role.value, role.value === 'athlete' ? athleteId : null).finally(() => {
          asking.value = false;
        });
      }}
    >
      <ChoiceField
        label={words.role}
        value={role.value}
        choices={roles.map((each) => [each, text.role[each]])}
        onChange={(chosenRole) => (role.value = chosenRole)}
      />
      {role.value === 'athlete' ? (
        <AthleteField
          label={words.whose}
          athletes={athletes}
          athleteId={athleteId ?? ''}
          onChange={(id) => (chosen.value = id)}
        />
      ) : null}
      <button
        type="submit"
        class="button button--primary"
        disabled={asking.value || (role.value === 'athlete' && athleteId === null)}
      >
        {words.makeCode}
      </button>
      <p class="hint invite-what">{role.value === 'radio' ? text.radios.may : words.roleMay[role.value]}</p>
    </form>
  );
}
