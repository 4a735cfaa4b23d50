// One athlete as seen from across the room: name, saturation, one time, and below them the alarm or the trace. Pressed, it
// opens the athlete's page.

import { useComputed } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useApp } from '../../app/app-context.ts';
import { alarmTitle } from '../../components/alarm-title.ts';
import { Beacon } from '../../components/beacon.tsx';
import { LiveTrace } from '../../components/live-trace.tsx';
import { useReading } from '../../components/use-reading.ts';
import { orderAlarms } from '../../state/alarm-order.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { isolated } from '../../state/format.ts';
import { tileClassOf } from './tile-class.ts';
import { useTileClock } from './use-tile-clock.ts';
import './far-tile.css';
import './wall.css';

const tileWindowMs = 3 * 60_000;

export interface FarTileProps {
  readonly athleteId: string;
  readonly name: string;
  /** What they are called by from afar: the first words of the name. */
  readonly called: string;
  /** Undefined where nobody watches them. */
  readonly model: AthleteModel | undefined;
  /** In place of the athlete's page, where there is none to open. */
  readonly onOpen?: (() => void) | undefined;
  /** What a plan says of them, under the numbers. */
  readonly words?: ComponentChildren;
  /** Shown where the tile is high enough. */
  readonly actions?: ComponentChildren;
  readonly runPhase?: string;
}

export function FarTile(props: FarTileProps) {
  const { athleteId, name, called, model, onOpen, words, actions, runPhase } = props;
  const { text } = useApp();
  const clock = useTileClock(athleteId, model);
  const alarms = useComputed(() =>
    orderAlarms(model?.alarms.value.filter(({ kind }) => kind !== 'pageUnresponsive') ?? []),
  );
  const first = alarms.value[0];
  const look = model === undefined ? 'far-tile--unwatched' : tileClassOf(model.phase.value, first);
  const run = runPhase === undefined ? '' : ` athlete-run athlete-run--${runPhase}`;
  return (
    <article class={`far-tile ${look}${run}`} aria-label={name}>
      <h2 class="far-name">
        {onOpen === undefined ? (
          <a href={`/live/${athleteId}`} aria-label={text.wall.openName(isolated(name))}>
            <CalledName name={name} called={called} />
          </a>
        ) : (
          <button type="button" aria-label={text.wall.openName(isolated(name))} onClick={onOpen}>
            <CalledName name={name} called={called} />
          </button>
        )}
      </h2>
      <div class="far-numbers">
        {model === undefined ? null : <FarSaturation model={model} />}
        <p
          class={`far-time far-time--${clock.value.kind}${clock.value.time.length > 4 ? ' far-time--long' : ''}`}
        >
          <span class="far-time-label">{text.wall.time[clock.value.kind]}</span>
          <output class="far-time-number" aria-live="off">
            {clock.value.time}
          </output>
        </p>
      </div>
      {words}
      <div class="far-slot">
        {model === undefined ? null : first === undefined ? (
          <LiveTrace model={model} quantity="spo2" windowMs={tileWindowMs} compact />
        ) : (
          <p class="far-alarm">
            <Beacon priority={first.priority} still={first.acknowledged || !first.conditionPresent} />
            <strong>
              {alarmTitle(first, text)}
              {alarms.value.length > 1 ? ` +${alarms.value.length - 1}` : ''}
            </strong>
          </p>
        )}
      </div>
      {actions}
    </article>
  );
}

/** The part that is called large, the rest small: a name of many letters leaves room for what it is known by. */
function CalledName({ name, called }: { readonly name: string; readonly called: string }) {
  const rest = name.startsWith(called) ? name.slice(called.length).trim() : '';
  return (
    <bdi class="called-name" title={name}>
      <span class="called-name-first">{called === '' ? name : called}</span>
      {rest === '' ? null : <span class="called-name-rest"> {rest}</span>}
    </bdi>
  );
}

function FarSaturation({ model }: { readonly model: AthleteModel }) {
  const { text } = useApp();
  const spo2 = useReading(model, 'spo2');
  const isWide = useComputed(() => spo2.number.value.length > 2);
  return (
    <div class={spo2.className}>
      <output class={isWide.value ? 'reading-number is-wide' : 'reading-number'} aria-live="off">
        <span class="visually-hidden">{text.readout.spo2} </span>
        <span class="reading-digits">{spo2.number}</span>
        <span class="reading-unit">{text.unitPercent}</span>
      </output>
      {spo2.freshness.value === 'fresh' ? null : <span class="reading-note">{spo2.note}</span>}
    </div>
  );
}
