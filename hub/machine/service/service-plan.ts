// What it takes to have the hub started with the computer, on each system, as files to write and programs to run. Does nothing.

import { posix, win32 } from 'node:path';

/** Of the computer and the program, as far as a service depends on them. */
export interface ServiceFacts {
  readonly system: NodeJS.Platform;
  readonly isRoot: boolean;
  readonly userId: number;
  readonly userName: string;
  readonly homeFolder: string;
  /** The Node that runs now, and the program it runs. */
  readonly nodePath: string;
  readonly programPath: string;
  /** Where the person's own recordings lie; a service of the system has a folder of its own. */
  readonly dataFolder: string;
  /** `hub/packaging/slackwater.service`. */
  readonly systemUnit: string;
  /** `hub/packaging/debian/sysusers.conf`. */
  readonly systemUsers: string;
}

export interface ServiceStep {
  readonly write?: { readonly path: string; readonly text: string; readonly encoding?: 'utf16le' };
  readonly delete?: string;
  /** A program and what follows it. `mayFail` where it is no fault that there is nothing to do. */
  readonly run?: readonly string[];
  readonly mayFail?: true;
}

export interface ServicePlan {
  readonly install: readonly ServiceStep[];
  readonly uninstall: readonly ServiceStep[];
  readonly status: readonly string[];
  readonly dataFolder: string;
  /** It will run, but without a right to the Bluetooth adapter. */
  readonly lacksRadio: boolean;
}

export type PlannedService =
  | { readonly ok: true; readonly plan: ServicePlan }
  | { readonly ok: false; readonly reason: 'inHome' | 'otherSystem' };

/** systemd.service(5), launchd.plist(5), schtasks with an XML task (Task Scheduler schema 1.2). */
export function planService(facts: ServiceFacts): PlannedService {
  switch (facts.system) {
    case 'linux':
      if (!facts.isRoot) return { ok: true, plan: ofUserOnLinux(facts) };
      // The unit has ProtectHome=true, and a user of its own may not read another's folder.
      if (/^\/(home|root)\//.test(facts.programPath) || /^\/(home|root)\//.test(facts.nodePath))
        return { ok: false, reason: 'inHome' };
      return { ok: true, plan: ofSystemOnLinux(facts) };
    case 'darwin':
      return { ok: true, plan: onMacOs(facts) };
    case 'win32':
      return { ok: true, plan: onWindows(facts) };
    default:
      return { ok: false, reason: 'otherSystem' };
  }
}

const unitName = 'slackwater.service';
const logName = 'hub.log';

function ofSystemOnLinux({ nodePath, programPath, systemUnit, systemUsers }: ServiceFacts): ServicePlan {
  const unit = `/etc/systemd/system/${unitName}`;
  const users = '/etc/sysusers.d/slackwater.conf';
  return {
    install: [
      { write: { path: users, text: systemUsers } },
      { run: ['systemd-sysusers', users] },
      {
        write: {
          path: unit,
          text: systemUnit.replace(
            /^ExecStart=.*$/m,
            `ExecStart=${unitWords([nodePath, programPath, 'start'])}`,
          ),
        },
      },
      { run: ['systemctl', 'daemon-reload'] },
      { run: ['systemctl', 'enable', '--now', unitName] },
    ],
    uninstall: [
      { run: ['systemctl', 'disable', '--now', unitName], mayFail: true },
      { delete: unit },
      { delete: users },
      { run: ['systemctl', 'daemon-reload'] },
    ],
    status: ['systemctl', 'status', '--no-pager', unitName],
    dataFolder: '/var/lib/slackwater',
    lacksRadio: false,
  };
}

function ofUserOnLinux(facts: ServiceFacts): ServicePlan {
  const { nodePath, programPath, dataFolder, homeFolder, userName } = facts;
  const unit = posix.join(homeFolder, '.config/systemd/user', unitName);
  const words = unitWords([
    nodePath,
    programPath,
    'start',
    '--open',
    'false',
    '--supervised',
    'true',
    '--data',
    dataFolder,
  ]);
  return {
    install: [
      {
        write: {
          path: unit,
          text: `# Slackwater as a service of one person. "slackwater service uninstall" takes it away again.
[Unit]
Description=Slackwater, a recorder of dry breath-holds (not a medical device)
StartLimitIntervalSec=300
StartLimitBurst=10

[Service]
Type=exec
ExecStart=${words}
Restart=always
RestartSec=200ms
TimeoutStopSec=20
KillMode=mixed
UMask=0077

[Install]
WantedBy=default.target
`,
        },
      },
      { run: ['systemctl', '--user', 'daemon-reload'] },
      { run: ['systemctl', '--user', 'enable', '--now', unitName] },
      // Started with the computer, not with the person's coming.
      { run: ['loginctl', 'enable-linger', userName] },
    ],
    uninstall: [
      { run: ['systemctl', '--user', 'disable', '--now', unitName], mayFail: true },
      { delete: unit },
      { run: ['systemctl', '--user', 'daemon-reload'] },
    ],
    status: ['systemctl', '--user', 'status', '--no-pager', unitName],
    dataFolder,
    lacksRadio: true,
  };
}

function onMacOs({ nodePath, programPath, dataFolder, homeFolder, userId }: ServiceFacts): ServicePlan {
  const label = 'slackwater.hub';
  const file = posix.join(homeFolder, 'Library/LaunchAgents', `${label}.plist`);
  // KeepAlive starts it again at once, so the watchdog may end one that hangs.
  const options = ['--open', 'false', '--supervised', 'true', '--data', dataFolder];
  // There is no journal: the log puts itself aside when it is full. What Node itself says at an end goes beside it.
  options.push('--log-file', posix.join(dataFolder, logName));
  const words = [nodePath, programPath, 'start', ...options];
  return {
    install: [
      {
        write: {
          path: file,
          text: `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
  <key>Label</key><string>${label}</string>
  <key>ProgramArguments</key>
  <array>
${words.map((word) => `    <string>${xmlText(word)}</string>`).join('\n')}
  </array>
  <key>RunAtLoad</key><true/>
  <key>KeepAlive</key><true/>
  <key>ThrottleInterval</key><integer>1</integer>
  <key>ProcessType</key><string>Interactive</string>
  <key>Umask</key><integer>63</integer>
  <key>StandardErrorPath</key><string>${xmlText(posix.join(dataFolder, 'service-log.txt'))}</string>
</dict>
</plist>
`,
        },
      },
      { run: ['launchctl', 'bootstrap', `gui/${userId}`, file] },
    ],
    uninstall: [{ run: ['launchctl', 'bootout', `gui/${userId}/${label}`], mayFail: true }, { delete: file }],
    status: ['launchctl', 'print', `gui/${userId}/${label}`],
    dataFolder,
    lacksRadio: false,
  };
}

function onWindows({ nodePath, programPath, dataFolder }: ServiceFacts): ServicePlan {
  const task = 'Slackwater';
  const file = win32.join(dataFolder, 'service-task.xml');
  const log = ['--log-file', win32.join(dataFolder, logName)];
  const words = [programPath, 'start', '--open', 'false', '--data', dataFolder, ...log]
    .map(windowsWord)
    .join(' ');
  return {
    install: [
      {
        // schtasks reads UTF-16 with a byte order mark.
        write: {
          path: file,
          encoding: 'utf16le',
          text: `\uFEFF<?xml version="1.0" encoding="UTF-16"?>
<Task version="1.2" xmlns="http://schemas.microsoft.com/windows/2004/02/mit/task">
  <Triggers><LogonTrigger><Enabled>true</Enabled></LogonTrigger></Triggers>
  <Settings>
    <MultipleInstancesPolicy>IgnoreNew</MultipleInstancesPolicy>
    <DisallowStartIfOnBatteries>false</DisallowStartIfOnBatteries>
    <StopIfGoingOnBatteries>false</StopIfGoingOnBatteries>
    <ExecutionTimeLimit>PT0S</ExecutionTimeLimit>
    <RestartOnFailure><Interval>PT1M</Interval><Count>10</Count></RestartOnFailure>
  </Settings>
  <Actions><Exec><Command>${xmlText(nodePath)}</Command><Arguments>${xmlText(words)}</Arguments></Exec></Actions>
</Task>
`,
        },
      },
      { run: ['schtasks', '/Create', '/TN', task, '/XML', file, '/F'] },
      { run: ['schtasks', '/Run', '/TN', task] },
    ],
    uninstall: [
      { run: ['schtasks', '/End', '/TN', task], mayFail: true },
      { run: ['schtasks', '/Delete', '/TN', task, '/F'] },
      { delete: file },
    ],
    status: ['schtasks', '/Query', '/TN', task, '/V', '/FO', 'LIST'],
    dataFolder,
    lacksRadio: false,
  };
}

/** systemd.service(5), "Command lines": words in double quotes, with backslash, percent and dollar doubled. */
function unitWords(words: readonly string[]): string {
  return words
    .map((word) => {
      const escaped = word
        .replaceAll('\\', '\\\\')
        .replaceAll('"', '\\"')
        .replaceAll('%', '%%')
        .replaceAll('$', '$$$$');
      return /^[\w./@:+-]+$/.test(word) ? word : `"${escaped}"`;
    })
    .join(' ');
}

const xmlText = (text: string): string =>
  text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');

/** A path holds no quotation mark on Windows; a backslash before the closing one would escape it (CommandLineToArgvW). */
const windowsWord = (word: string): string =>
  /^[\w.:\\/-]+$/.test(word) ? word : `"${word.replace(/\\+$/, '$&$&')}"`;
