// As what, and for whom, the next device is let in.

import { useSignal } from '@preact/signals';
import type { DeviceRole } from '../../../shared/schema-parts.ts';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { isSchool } from '../../app/is-school.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { ChoiceField } from '../../components/choice-field.tsx';
import { RoomsField } from './rooms-of-coach.tsx';

export interface InviteFormProps {
  readonly athletes: readonly Athlete[];
  /** `rooms`: at a school, of a coach of some of them. */
  readonly onInvite: (role: DeviceRole, athleteId: string | null, rooms?: readonly string[]) => Promise<void>;
}

const roles: readonly DeviceRole[] = ['athlete', 'coach', 'onlooker', 'radio'];

export function InviteForm({ athletes, onInvite }: InviteFormProps) {
  const { text } = useApp();
  const words = text.devices;
  const role = useSignal<DeviceRole>('athlete');
  const chosen = useSignal<string | null>(null);
  const asking = useSignal(false);
  const rooms = useSignal<readonly string[] | null>(null);
  const athleteId = chosen.value ?? athletes[0]?.athleteId ?? null;
  return (
    <form
      class="invite"
      onSubmit={(event) => {
        event.preventDefault();
        asking.value = true;
        const isCoach = role.value === 'coach';
        void onInvite(
          role.value,
          role.value === 'athlete' ? athleteId : null,
          isCoach && rooms.value !== null ? rooms.value : undefined,
        ).finally(() => {
          asking.value = false;
        });
      }}
    >
      <ChoiceField
        label={words.role}
        value={role.value}
        choices={roles
          // A school has no sensors to bring nearer.
          .filter((each) => each !== 'radio' || !isSchool())
          .map((each) => [each, text.role[each]])}
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
      {isSchool() && role.value === 'coach' ? <RoomsField chosen={rooms} /> : null}
      <button
        type="submit"
        class="button button--primary"
        disabled={
          asking.value ||
          (role.value === 'athlete' && athleteId === null) ||
          (role.value === 'coach' && rooms.value?.length === 0)
        }
      >
        {words.makeCode}
      </button>
      <p class="hint invite-what">
        {role.value === 'radio'
          ? text.radios.may
          : role.value === 'coach' && rooms.value !== null
            ? text.rooms.roomCoachMay
            : words.roleMay[role.value]}
      </p>
    </form>
  );
}
