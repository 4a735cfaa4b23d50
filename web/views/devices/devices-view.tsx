// A coach lets other devices in and out: a code with its QR code, unused codes, and who has joined and is present. Sensors
// that pair are answered here too.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { DevicesBody, DeviceView, NewJoinCodeBody } from '../../../shared/http.ts';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { isSchool } from '../../app/is-school.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { useInOrder } from '../../app/use-in-order.ts';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatWallTime } from '../../state/format.ts';
import { AuditList } from './audit-list.tsx';
import { HubTrust } from './hub-trust.tsx';
import { InviteForm } from './invite-form.tsx';
import { NewCode } from './new-code.tsx';
import { Radios } from './radios.tsx';
import { RoomsOfCoach } from './rooms-of-coach.tsx';
import { SchoolLinkState } from './school-link.tsx';
import { SensorPairing } from './sensor-pairing.tsx';
import './devices.css';
import { Name } from '../../components/name.tsx';
import { isolated } from '../../state/format.ts';

export function DevicesView() {
  const { text, hub, http, say } = useApp();
  const words = text.devices;
  useDocumentTitle(words.title);
  const body = useSignal<DevicesBody | null>(null);
  const athletes = useSignal<readonly Athlete[]>([]);
  const problem = useSignal<string | null>(null);
  const made = useSignal<NewJoinCodeBody | null>(null);
  const removing = useSignal<DeviceView | null>(null);

  const ask = useInOrder();
  const load = async () => {
    const isNews = ask();
    const shown = made.value;
    const [devices, known] = await Promise.all([http.devices(), http.athletes()]);
    if (!isNews()) return;
    if (devices.ok) body.value = devices.value;
    if (known.ok) athletes.value = known.value.athletes;
    problem.value = devices.ok ? null : words.failed(devices.reason);
    // A code that has let its device in is of no more use to anyone. One made since the hub was asked it did not know yet.
    if (
      devices.ok &&
      shown === made.value &&
      !devices.value.codes.some((code) => code.codeId === made.value?.codeId)
    )
      made.value = null;
  };
  const live = hub.link.value === 'live';
  // Joining, leaving, opening and closing a page all change who is present.
  const presence = hub.presence.value;
  useEffect(() => {
    if (live) void load();
  }, [live, presence]);

  const nameOf = (athleteId: string | null) =>
    isolated(athletes.value.find((athlete) => athlete.athleteId === athleteId)?.name ?? '');
  const change = async (asked: Promise<{ ok: true } | { ok: false; reason: string }>) => {
    const answer = await asked;
    await load();
    if (!answer.ok) problem.value = answer.reason;
  };
  const loaded = body.value;
  return (
    <article class="sheet devices">
      <h1>{words.title}</h1>
      <ProblemNotice problem={problem.value} />
      <SensorPairing />
      {loaded === null ? null : loaded.lan === null ? (
        <section class="step">
          <p class="notice">{words.lanOff}</p>
        </section>
      ) : (
        <section class="step">
          <h2>{words.invite}</h2>
          {loaded.lan.notices.map(say).map((sentence) => (
            <p key={sentence} class="notice">
              {sentence}
            </p>
          ))}
          <InviteForm
            athletes={athletes.value}
            onInvite={async (role, athleteId, rooms) => {
              const answer = await http.makeJoinCode(role, athleteId, rooms);
              if (answer.ok) made.value = answer.value;
              await load();
              if (!answer.ok) problem.value = answer.reason;
            }}
          />
          {made.value === null ? null : (
            <NewCode made={made.value} lan={loaded.lan} athleteName={nameOf(made.value.athleteId)} />
          )}
          <HubTrust lan={loaded.lan} />
        </section>
      )}
      {loaded === null || loaded.codes.length === 0 ? null : (
        <section class="step">
          <h2>{words.openCodes}</h2>
          <ul class="device-list">
            {loaded.codes.map((code) => (
              <li key={code.codeId}>
                <span class="device-what">
                  <strong>{words.codeFor(text.role[code.role], nameOf(code.athleteId))}</strong>
                  <RoomsOfCoach hubs={code.rooms} />
                  <span>{words.goodUntil(formatWallTime(code.expiresWallAtMs))}</span>
                </span>
                <button
                  type="button"
                  class="button"
                  onClick={() => void change(http.withdrawJoinCode(code.codeId))}
                >
                  {words.withdraw}
                </button>
              </li>
            ))}
          </ul>
        </section>
      )}
      <section class="step">
        <h2>{words.joined}</h2>
        {loaded?.devices.length === 0 ? <p class="hint">{words.none}</p> : null}
        <ul class="device-list">
          {(loaded?.devices ?? []).map((device) => (
            <li key={device.deviceId}>
              <span class="device-what">
                <strong>
                  <Name>{device.name || words.unnamed}</Name>
                  <small class="tag">{words.codeFor(text.role[device.role], nameOf(device.athleteId))}</small>
                  {device.deviceId === hub.deviceId.value ? (
                    <small class="tag tag--strong">{words.thisOne}</small>
                  ) : null}
                </strong>
                <RoomsOfCoach hubs={device.rooms} />
                <DevicePresence deviceId={device.deviceId} />
                <span>{words.goodUntil(formatWallTime(device.expiresWallAtMs))}</span>
              </span>
              <button type="button" class="button" onClick={() => (removing.value = device)}>
                {words.remove}
              </button>
            </li>
          ))}
        </ul>
      </section>
      <Radios />
      <SchoolLinkState />
      {isSchool() ? null : (
        <p class="button-row">
          <a class="button" href="/devices/computer">
            {text.computer.link}
          </a>
          <a class="button" href="/devices/profiles">
            {text.profiles.link}
          </a>
        </p>
      )}
      <AuditList athletes={athletes.value} />
      {removing.value === null ? null : (
        <Dialog
          title={words.removeTitle(removing.value.name || words.unnamed)}
          closeLabel={text.cancel}
          onClose={() => (removing.value = null)}
          actions={
            <button
              type="button"
              class="button button--primary"
              onClick={() => {
                const { deviceId } = removing.value!;
                removing.value = null;
                void change(http.removeDevice(deviceId));
              }}
            >
              {words.removeConfirm}
            </button>
          }
        >
          <p>{words.removeText}</p>
        </Dialog>
      )}
    </article>
  );
}

/** What the device's pages are doing now; each page on its own when there are several. */
function DevicePresence({ deviceId }: { readonly deviceId: string }) {
  const { text, hub } = useApp();
  const words = text.devices;
  const pages = hub.presence.value.filter((page) => page.deviceId === deviceId);
  return (
    <>
      {pages.map((page) => (
        <span key={page.pageId} class={`device-state device-state--${page.state}`}>
          {words.state[page.state]}
          {page.state === 'absent' || page.role === 'onlooker'
            ? ''
            : `, ${page.soundReady ? words.soundReady : words.soundNotReady}`}
        </span>
      ))}
    </>
  );
}
