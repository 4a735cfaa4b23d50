// The service on each system: what would be written and run, read by those formats' own readers; nothing is done unasked.

import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { runService } from '../../../hub/commands/service.ts';
import {
  planService,
  type ServiceFacts,
  type ServicePlan,
} from '../../../hub/machine/service/service-plan.ts';
import { commandHelp } from '../../../shared/words/en-command-help.ts';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-service-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

const facts: ServiceFacts = {
  system: 'linux',
  isRoot: false,
  userId: 501,
  userName: 'ilse',
  homeFolder: '/home/ilse',
  nodePath: '/opt/node & co/bin/node',
  programPath: '/opt/slack "water"/hub/slackwater.mjs',
  dataFolder: '/home/ilse/100% $HOME/slackwater',
  systemUnit: readFileSync(new URL('../../../hub/packaging/slackwater.service', import.meta.url), 'utf8'),
  systemUsers: 'u slackwater -\n',
};

function planOf(given: Partial<ServiceFacts>): ServicePlan {
  const planned = planService({ ...facts, ...given });
  if (!planned.ok) throw new Error(planned.reason);
  return planned.plan;
}
const written = (plan: ServicePlan) =>
  plan.install.flatMap(({ write }) => (write === undefined ? [] : [write]));
const python = (program: string, input: string | Buffer): string =>
  execFileSync('python3', ['-c', program], { input, encoding: 'utf8' });

describe('what would be done', () => {
  test('macOS: a property list that its format’s reader reads back word for word', () => {
    const [file] = written(planOf({ system: 'darwin', homeFolder: '/Users/ilse' }));
    expect(file!.path).toBe('/Users/ilse/Library/LaunchAgents/slackwater.hub.plist');
    const read = JSON.parse(
      python(
        'import plistlib,sys,json;print(json.dumps(plistlib.loads(sys.stdin.buffer.read())))',
        file!.text,
      ),
    );
    expect(read).toMatchObject({
      Label: 'slackwater.hub',
      RunAtLoad: true,
      KeepAlive: true,
      Umask: 0o077,
      ProgramArguments: [
        facts.nodePath,
        facts.programPath,
        'start',
        '--open',
        'false',
        '--supervised',
        'true',
        '--data',
        facts.dataFolder,
        '--log-file',
        `${facts.dataFolder}/hub.log`,
      ],
    });
  });

  test('Windows: a task that is well-formed, never stopped for its length, and started again', () => {
    const plan = planOf({
      system: 'win32',
      nodePath: 'C:\\Program Files\\nodejs\\node.exe',
      programPath: 'C:\\Users\\Ilse & Co\\hub\\slackwater.mjs',
      dataFolder: 'C:\\Users\\Ilse & Co\\AppData\\Local\\Slackwater',
    });
    const [file] = written(plan);
    expect(file).toMatchObject({ encoding: 'utf16le' });
    const fields = JSON.parse(
      python(
        `import sys,json,xml.etree.ElementTree as E
t=E.fromstring(sys.stdin.buffer.read())
n='{http://schemas.microsoft.com/windows/2004/02/mit/task}'
print(json.dumps([t.find('.//'+n+x).text for x in ('Command','Arguments','ExecutionTimeLimit','Count')]))`,
        Buffer.from(file!.text, 'utf16le'),
      ),
    );
    expect(fields).toEqual([
      'C:\\Program Files\\nodejs\\node.exe',
      '"C:\\Users\\Ilse & Co\\hub\\slackwater.mjs" start --open false --data "C:\\Users\\Ilse & Co\\AppData\\Local\\Slackwater" --log-file "C:\\Users\\Ilse & Co\\AppData\\Local\\Slackwater\\hub.log"',
      'PT0S',
      '10',
    ]);
  });

  test('Linux as root: the packaged unit with this Node and program, and a user of its own', () => {
    const plan = planOf({
      isRoot: true,
      nodePath: '/usr/bin/node',
      programPath: '/usr/lib/slackwater/hub/slackwater.mjs',
    });
    const unit = written(plan).find(({ path }) => path.endsWith('.service'))!.text;
    expect(unit).toContain('ExecStart=/usr/bin/node /usr/lib/slackwater/hub/slackwater.mjs start\n');
    expect(unit.split('\n').length).toBe(facts.systemUnit.split('\n').length);
    expect(plan.lacksRadio).toBe(false);
    expect(
      planService({ ...facts, isRoot: true, programPath: '/home/ilse/slackwater/hub/slackwater.mjs' }),
    ).toEqual({
      ok: false,
      reason: 'inHome',
    });
  });

  test('Linux as oneself: words with blanks, quotes, percent and dollar reach the program as they are', () => {
    const [file] = written(planOf({}));
    // systemd.service(5), "Command lines".
    expect(file!.text).toContain(
      'ExecStart="/opt/node & co/bin/node" "/opt/slack \\"water\\"/hub/slackwater.mjs" start --open false --supervised true --data "/home/ilse/100%% $$HOME/slackwater"\n',
    );
  });

  test('all that is written is deleted again, and recordings never are', () => {
    for (const given of [
      {},
      { isRoot: true, nodePath: '/usr/bin/node', programPath: '/usr/lib/x.mjs' },
      { system: 'darwin' },
      { system: 'win32' },
    ] as const) {
      const plan = planOf(given);
      const deleted = plan.uninstall.flatMap((step) => step.delete ?? []);
      expect(deleted.sort()).toEqual(
        written(plan)
          .map(({ path }) => path)
          .sort(),
      );
    }
  });

  test('elsewhere there is none, and that is said', () => {
    expect(planService({ ...facts, system: 'sunos' })).toEqual({ ok: false, reason: 'otherSystem' });
  });
});

describe('the command', () => {
  const run = async (
    argv: string[],
    answer = { ok: true, said: 'fine' },
    given: Partial<ServiceFacts> = {},
  ) => {
    const ran: string[] = [];
    let stdout = '';
    let stderr = '';
    const into = (take: (text: string) => void) =>
      ({
        write: (text: string) => {
          take(text);
          return true;
        },
      }) as never;
    const status = await runService(
      [...argv, '--data', join(folder, 'data')],
      { stdout: into((text) => (stdout += text)), stderr: into((text) => (stderr += text)), env: {} },
      async (words) => {
        ran.push(words.join(' '));
        return answer;
      },
      { system: 'linux', isRoot: false, userName: 'ilse', homeFolder: folder, ...given },
    );
    return { status, ran, stdout, stderr };
  };
  const unit = () => join(folder, '.config/systemd/user/slackwater.service');

  test('without --yes it says all and does nothing', async () => {
    const done = await run(['install']);
    expect(done).toMatchObject({ status: 0, ran: [], stderr: '' });
    expect(done.stdout).toContain(`write   ${unit()}`);
    expect(done.stdout).toContain('run     systemctl --user enable --now slackwater.service');
    expect(done.stdout).toContain('Bluetooth adapter');
    expect(done.stdout).toContain('--yes');
    expect(existsSync(unit())).toBe(false);
  });

  test('with it, it does what it said; uninstalling takes it back', async () => {
    const done = await run(['install', '--yes']);
    expect(done.ran).toEqual([
      'systemctl --user daemon-reload',
      'systemctl --user enable --now slackwater.service',
      'loginctl enable-linger ilse',
    ]);
    expect(readFileSync(unit(), 'utf8')).toContain('Restart=always');
    const gone = await run(['uninstall', '--yes']);
    expect(gone.status).toBe(0);
    expect(existsSync(unit())).toBe(false);
  });

  test('a program that fails ends it, with its words and what to do', async () => {
    const done = await run(['install', '--yes'], { ok: false, said: 'Failed to connect to bus' });
    expect(done.status).toBe(2);
    expect(done.ran).toHaveLength(1);
    expect(done.stderr).toContain('Failed to connect to bus');
    expect(done.stderr).toContain('uninstall --yes');
  });

  test('status is the system’s own, with its verdict', async () => {
    writeFileSync(join(folder, 'unused'), '');
    expect(await run(['status'])).toMatchObject({ status: 0, stdout: 'fine\n' });
    expect(await run(['status'], { ok: false, said: 'inactive' })).toMatchObject({ status: 2 });
  });

  test.each([[[]], [['begin']], [['install', 'twice']]])(
    '%j is refused with the words it knows',
    async (argv) => {
      await expect(run(argv)).rejects.toThrow(/install, status or uninstall/);
    },
  );
});

test('every command of the program has help of its own', () => {
  const main = readFileSync(new URL('../../../hub/main.ts', import.meta.url), 'utf8');
  const commands = [...main.matchAll(/^ {2}(\w+): async \(\) =>/gm)].map(([, name]) => name);
  expect(commands.length).toBeGreaterThan(10);
  expect(Object.keys(commandHelp).sort()).toEqual(commands.sort());
});
