// What the alarm matrix lays over its crossings where a whole hub runs: the core's fault sequences, and faults of what only a
// whole hub has: sockets, outputs and the disk.

import type { FaultSequence } from '../alarm-corpus/fault-sequences.ts';
import { faultSequences } from '../alarm-corpus/fault-sequences.ts';
import type { LiveWorld } from './live-world.ts';

export type Presenter =
  | 'hub'
  | 'coach draws'
  | 'coach sounds'
  | 'phone draws'
  | 'phone sounds'
  | 'loudspeaker'
  | 'command'
  | 'webhook';

export const presenters: readonly Presenter[] = [
  'hub',
  'coach draws',
  'coach sounds',
  'phone draws',
  'phone sounds',
  'loudspeaker',
  'command',
  'webhook',
];

export interface LiveFault {
  readonly name: string;
  readonly sensors: FaultSequence;
  /** Seconds after the first clean reading below the floor (negative before it), and what happens then. */
  readonly acts: readonly { readonly atS: number; readonly act: (world: LiveWorld) => void }[];
  /** Broken for good by this fault: nothing can be asked of them. */
  readonly broken: readonly Presenter[];
  /** The recording lacks what came: there is nothing to replay. */
  readonly notRecorded?: true;
}

const nothing = faultSequences.find(({ name }) => name === 'nothing goes wrong');
if (nothing === undefined) throw new Error('no sequence without a fault');

const of = (
  name: string,
  acts: LiveFault['acts'],
  rest: Partial<Pick<LiveFault, 'broken' | 'notRecorded'>> = {},
): LiveFault => ({ name, sensors: nothing, acts, broken: [], ...rest });

const wholeHubFaults: readonly LiveFault[] = [
  of('the network of one page breaks 1 s before', [{ atS: -1, act: ({ phone }) => phone.cut() }]),
  of('the network of both pages breaks at the second low reading', [
    { atS: 1, act: ({ phone }) => phone.cut() },
    { atS: 1, act: ({ coach }) => coach.cut() },
  ]),
  of('the loudspeaker fails from 10 s before until 4 s after', [
    {
      atS: -10,
      act: ({ live }) => {
        live.faults.loudspeakerFails = true;
      },
    },
    {
      atS: 4,
      act: ({ live }) => {
        live.faults.loudspeakerFails = false;
      },
    },
  ]),
  of('the command fails twice', [
    {
      atS: -5,
      act: ({ live }) => {
        live.faults.commandFailures = 2;
      },
    },
  ]),
  of('the webhook is refused twice', [
    {
      atS: -5,
      act: ({ live }) => {
        live.faults.webhookFailures = 2;
      },
    },
  ]),
  of('the disk is full from 10 s before', [{ atS: -10, act: ({ breakDisk }) => breakDisk() }], {
    notRecorded: true,
  }),
  of(
    'no page and no loudspeaker from 20 s before',
    [
      { atS: -20, act: ({ coach }) => coach.close() },
      { atS: -20, act: ({ phone }) => phone.close() },
      {
        atS: -20,
        act: ({ live }) => {
          live.faults.loudspeakerFails = true;
        },
      },
    ],
    { broken: ['coach draws', 'coach sounds', 'phone draws', 'phone sounds', 'loudspeaker'] },
  ),
];

/** The core's sequence without outputs is told to the core as an event; here it is made of real pages that go. */
export const liveFaults: readonly LiveFault[] = [
  ...faultSequences
    .filter(({ name }) => name !== 'no page and no sound')
    .map((sensors): LiveFault => ({ name: sensors.name, sensors, acts: [], broken: [] })),
  ...wholeHubFaults,
];
