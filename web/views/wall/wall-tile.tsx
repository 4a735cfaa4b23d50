// One athlete on the wall: the live trace, the numbers, the hold, the sensors, the alarm, and marks on their behalf.

import { useComputed, useSignal } from '@preact/signals';
import type { AlarmView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { alarmTitle } from '../../components/alarm-title.ts';
import { alarmWords } from '../../components/alarm-words.ts';
import { Beacon } from '../../components/beacon.tsx';
import { feelingWords } from '../../components/hold-feeling.tsx';
import { LiveTrace } from '../../components/live-trace.tsx';
import { Name } from '../../components/name.tsx';
import { useMargin, useReading } from '../../components/use-reading.ts';
import { orderAlarms } from '../../state/alarm-order.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatDuration, formatSigned, isolated } from '../../state/format.ts';
import { NoteDialog } from './note-dialog.tsx';
import { tileClassOf } from './tile-class.ts';

const tileWindowMs = 3 * 60_000;

export function WallTile({ model }: { readonly model: AthleteModel }) {
  const { text, hub, commands, router, outbox } = useApp();
  const words = text.wall;
  const { athleteId } = model;
  const name = model.athlete.value.name;
  const noting = useSignal(false);
  const spo2 = useReading(model, 'spo2');
  const heartRate = useReading(model, 'heartRate');
  const margin = useMargin(model, spo2.freshness);
  const marginText = useComputed(() =>
    margin.value === null ? text.readout.marginUnknownShort : formatSigned(margin.value),
  );
  // What is of the room and not of this athlete is said once, in the frame.
  const alarms = useComputed(() =>
    orderAlarms(model.alarms.value.filter(({ kind }) => kind !== 'pageUnresponsive')),
  );
  const boundary = useComputed(() => {
    outbox.pending.value;
    model.holds.value;
    return commands.nextBoundary(athleteId);
  });
  const open = () => router.go(`/live/${athleteId}`);
  const troubled = useComputed(() =>
    outbox.pending.value.find((mark) => mark.athleteId === athleteId && mark.state !== 'sent'),
  );
  // Keys act on the tile that holds the focus only, so they need no switch (WCAG 2.2, 2.1.4).
  const onKey = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (event.target instanceof Element && event.target.closest('dialog')) return;
    const actions: Readonly<Record<string, () => void>> = {
      h: () => commands.mark(athleteId, boundary.peek()),
      c: () => commands.mark(athleteId, 'contraction'),
      a: () => commands.acknowledge(athleteId),
      n: () => (noting.value = true),
    };
    const action = hub.mayAct.value && !hub.fromAfar ? actions[event.key.toLowerCase()] : undefined;
    if (action === undefined) return;
    event.preventDefault();
    action();
  };
  const first = alarms.value[0];
  return (
    <article class={`tile ${tileClassOf(model.phase.value, first)}`} aria-label={name} onKeyDown={onKey}>
      <header class="tile-head">
        <h2>
          {hub.fromAfar ? (
            <span class="tile-name">
              <Name>{name}</Name>
            </span>
          ) : (
            <button
              type="button"
              class="tile-name"
              aria-label={words.openName(isolated(name))}
              onClick={open}
            >
              <Name>{name}</Name>
            </button>
          )}
        </h2>
        <span class="tile-phase">{text.phase[model.phase.value]}</span>
      </header>
      <div class="tile-body">
        <div class={spo2.className}>
          <span class="reading-label">
            {text.readout.spo2Short} {text.unitPercent}
          </span>
          <output class="reading-number" aria-live="off">
            <span class="reading-digits">{spo2.number}</span>
          </output>
        </div>
        <dl class="tile-facts">
          <div class={heartRate.className}>
            <dt>
              {text.readout.heartRateShort} {text.unitBpm}
            </dt>
            <dd>
              <span class="reading-digits">{heartRate.number}</span>
              <StaleWord freshness={heartRate.freshness.value} />
            </dd>
          </div>
          <HoldFacts model={model} />
          <div>
            <dt>{text.readout.marginShort(model.athlete.value.settings.floorSpo2Percent)}</dt>
            <dd>{marginText}</dd>
          </div>
        </dl>
        <div class={useComputed(() => `tile-age ${spo2.className.value}`)}>
          <span class="reading-note">{spo2.note}</span>
        </div>
        <div class="tile-slot">
          {first === undefined ? null : (
            <TileAlarm model={model} first={first} moreCount={alarms.value.length - 1} />
          )}
          <div class="tile-trace">
            <LiveTrace model={model} quantity="spo2" windowMs={tileWindowMs} compact />
          </div>
        </div>
      </div>
      <p class="tile-said">
        {troubled.value === undefined ? null : (
          <span class="mark-trouble" role="status">
            {(troubled.value.state === 'waiting' ? text.live.waiting : text.live.unconfirmed)(
              text.markKind[troubled.value.kind],
              formatDuration(troubled.value.atMs),
            )}
          </span>
        )}
        <TileDevices model={model} />
        <TileSaid model={model} />
      </p>
      <TileSensors model={model} />
      {hub.mayAct.value && !hub.fromAfar ? (
        <div class="tile-actions">
          <button
            type="button"
            class={`button tile-boundary--${boundary.value}`}
            onClick={() => commands.mark(athleteId, boundary.peek())}
          >
            {boundary.value === 'holdStart' ? text.live.holdStart : text.live.holdEnd}
          </button>
          <button type="button" class="button" onClick={() => commands.mark(athleteId, 'contraction')}>
            {text.live.contraction}
          </button>
          <button
            type="button"
            class="button"
            aria-label={words.noteFor(isolated(name))}
            onClick={() => (noting.value = true)}
          >
            {words.note}
          </button>
        </div>
      ) : null}
      {noting.value ? <NoteDialog model={model} onClose={() => (noting.value = false)} /> : null}
    </article>
  );
}

/** Takes its room from the trace, so that nothing else has to give way for it. */
function TileAlarm(props: {
  readonly model: AthleteModel;
  readonly first: AlarmView;
  readonly moreCount: number;
}) {
  const { text, hub, commands } = useApp();
  const { model, first, moreCount } = props;
  return (
    <div class="tile-alarm">
      <Beacon priority={first.priority} still={first.acknowledged || !first.conditionPresent} />
      <strong>
        {alarmTitle(first, text)}
        {moreCount > 0 ? `, ${text.alarm.more(moreCount)}` : ''}
      </strong>
      {first.acknowledged || !hub.mayAct.value ? null : (
        <button
          type="button"
          class="button"
          aria-label={text.wall.acknowledgeName(isolated(model.athlete.value.name))}
          onClick={() => commands.acknowledge(model.athleteId)}
        >
          {text.alarm.acknowledge}
        </button>
      )}
      <p>{alarmWords(first, text).instruction}</p>
    </div>
  );
}

function StaleWord({ freshness }: { readonly freshness: string }) {
  const { text } = useApp();
  return freshness === 'stale' ? <small>{text.readout.staleUnknown}</small> : null;
}

function HoldFacts({ model }: { readonly model: AthleteModel }) {
  const { text, hub } = useApp();
  const hold = useComputed(() => model.holds.value.at(-1) ?? null);
  const running = useComputed(() => hold.value !== null && hold.value.end === null);
  const clock = useComputed(() => {
    const shown = hold.value;
    if (shown === null) return '\u2013';
    const nowMs = hub.nowMs.value ?? shown.start.atMs;
    return formatDuration(nowMs - (shown.end?.atMs ?? shown.start.atMs));
  });
  const lowest = hold.value?.lowestSpo2;
  return (
    <>
      <div class={running.value ? 'is-running' : ''}>
        <dt>{running.value || hold.value === null ? text.readout.hold : text.readout.sinceHoldShort}</dt>
        <dd>{clock}</dd>
      </div>
      <div>
        <dt>
          {text.readout.lowest} {text.unitPercent}
        </dt>
        <dd>{lowest ? Math.round(lowest.value) : '\u2013'}</dd>
      </div>
      <div>
        <dt>{text.readout.contractionsShort}</dt>
        <dd>{hold.value?.contractionCount ?? '\u2013'}</dd>
      </div>
    </>
  );
}

/** Their own phone where it can't be relied on: asleep, in the background, or gone. Told to coaches only. */
function TileDevices({ model }: { readonly model: AthleteModel }) {
  const { text, hub } = useApp();
  const words = text.wall.presence;
  const troubled = hub.presence.value.filter(
    (page) => page.athleteId === model.athleteId && page.state !== 'visible',
  );
  if (troubled.length === 0) return null;
  return (
    <span class="tile-said--strong">
      {troubled
        .map((page) => words.of(isolated(page.name) || text.role[page.role], words[page.state]))
        .join(', ')}
    </span>
  );
}

/** What was said last: of the last hold, and the last note with its time. */
function TileSaid({ model }: { readonly model: AthleteModel }) {
  const { text } = useApp();
  const felt = feelingWords(model.holds.value.at(-1)?.feeling, text.plans.comfortScale, text.feeling.label);
  const note = model.marks.value.findLast((mark) => mark.kind === 'note');
  return (
    <>
      {felt === null ? null : <span>{felt}</span>}
      {note === undefined ? null : (
        <span>
          {formatDuration(note.atMs)} {isolated(note.text ?? '')}
        </span>
      )}
    </>
  );
}

/** Silent when all is well; otherwise which sensor, and how it is. */
function TileSensors({ model }: { readonly model: AthleteModel }) {
  const { text, hub } = useApp();
  const sensors = hub.sensorsOf(model.athleteId);
  if (sensors.length === 0) return <p class="tile-sensors">{text.sensor.none}</p>;
  return (
    <p class="tile-sensors">
      {sensors.map((sensor, index) => (
        <span key={sensor.sensorId} class={`link-${sensor.link}`}>
          {index === 0 ? '' : ' \u00b7 '}
          {sensor.kinds.map((kind) => text.sensor.kinds[kind]).join(' + ')}{' '}
          {sensor.link === 'connected'
            ? sensor.batteryPercent === null
              ? text.sensor.link.connected
              : `${sensor.batteryPercent}\u202f%`
            : text.sensor.link[sensor.link]}
        </span>
      ))}
    </p>
  );
}
