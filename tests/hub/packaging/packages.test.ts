// What is packed: a tarball that runs without the sources, and a unit that gives the service little of root's rights.

import { execFileSync, spawnSync } from 'node:child_process';
import {
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

const root = new URL('../../..', import.meta.url).pathname;
const built = existsSync(join(root, 'dist/hub/main.js')) && existsSync(join(root, 'dist/web/index.html'));

describe.skipIf(!built)('the tarball', () => {
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'slackwater-pack-'));
    const name = execFileSync('npm', ['pack', '--silent', '--ignore-scripts', '--pack-destination', folder], {
      cwd: root,
      encoding: 'utf8',
    }).trim();
    execFileSync('tar', ['-xzf', join(folder, name), '-C', folder]);
    // The modules are those of the checkout: that they install is npm's.
    symlinkSync(join(root, 'node_modules'), join(folder, 'package', 'node_modules'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

  const packed = (...argv: string[]) =>
    spawnSync(process.execPath, [join(folder, 'package/hub/slackwater.mjs'), ...argv], {
      encoding: 'utf8',
      cwd: folder,
    });

  test('tells its version and its commands', () => {
    const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as { version: string };
    expect(packed('--version').stdout).toContain(`slackwater ${version}`);
    expect(packed('help').stdout).toContain('slackwater demo');
  });

  test('works out a recording without the sources', () => {
    expect(existsSync(join(folder, 'package/src'))).toBe(false);
    const file = join(root, 'fixtures/controlled-desaturation/subject-1-oximeter-a.csv');
    const { status, stdout } = packed('analyze', file);
    expect(status).toBe(0);
    expect(JSON.parse(stdout)).toHaveProperty('holds');
    expect(packed('analyze', join(folder, 'no-such-file.csv')).status).toBe(2);
  });

  test('holds the page, and nothing of tests or of this machine', () => {
    const files = execFileSync('find', ['package', '-type', 'f'], { cwd: folder, encoding: 'utf8' });
    expect(files).toContain('package/dist/web/index.html');
    expect(files).not.toMatch(/tests\/|fixtures\/|\.map$/m);
    const bundle = readFileSync(join(folder, 'package/dist/hub/main.js'), 'utf8');
    expect(bundle).not.toContain(root);
  });

  test('holds the handbook as text and pictures, and nothing that renders it', () => {
    expect(existsSync(join(folder, 'package/dist/web/handbook/de/live-phone.webp'))).toBe(true);
    const assets = join(folder, 'package/dist/web/assets');
    const scripts = readdirSync(assets).filter((name) => name.endsWith('.js'));
    const texts = scripts.map((name) => readFileSync(join(assets, name), 'utf8'));
    // A module a language: its last chapter is in it.
    for (const title of ['Hardware: what was tried', 'Hardware: was ausprobiert ist'])
      expect(texts.filter((text) => text.includes(title)).length).toBe(1);
    for (const text of texts) expect(text).not.toMatch(/marked\(\)|{{t:/);
    expect(readFileSync(join(root, 'node_modules/marked/lib/marked.esm.js'), 'utf8')).toContain('marked()');
  });
});

test.each([
  ['18.20.4', 'Slackwater needs Node 20.19 or later; this is 18.20.4. Install a newer one and try again.'],
  [
    '24.21.0',
    'Slackwater runs on Node 20 (20.19 or later) and 22; this is 24.21.0, on which its database can abort in the middle of a session. Install Node 22, then Slackwater again.',
  ],
  ['22.23.3', 'Slackwater has not been built yet. Run "npm run build" in its folder and try again.'],
])('Node %s is told in one sentence before anything else whether it will do', (version, sentence) => {
  const start = readFileSync(join(root, 'hub/slackwater.mjs'), 'utf8');
  const pretend = start
    .replace(/^#!.*\n/, '')
    .replaceAll('process.versions.node', `'${version}'`)
    .replaceAll('import.meta.url', "'file:///nowhere/hub/slackwater.mjs'");
  const { status, stderr } = spawnSync(process.execPath, ['--input-type=module', '-e', pretend], {
    encoding: 'utf8',
  });
  expect(status).toBe(2);
  expect(stderr.trim()).toBe(sentence);
});

const analyze = spawnSync('systemd-analyze', ['--version']).status === 0;
test.skipIf(!analyze).each([
  ['slackwater', 3],
  ['slackwater-school', 2],
])(
  'the unit %s has little of root’s: exposure below %s by systemd-analyze, which reads every line',
  (name, most) => {
    const unit = join(root, `hub/packaging/${name}.service`);
    const { stdout } = spawnSync('systemd-analyze', ['security', '--offline=true', '--no-pager', unit], {
      encoding: 'utf8',
    });
    const level = Number(new RegExp(`exposure level for ${name}\\.service: ([\\d.]+)`).exec(stdout)?.[1]);
    expect(level).toBeGreaterThan(0);
    expect(level).toBeLessThan(most);
    const folder = mkdtempSync(join(tmpdir(), 'slackwater-unit-'));
    const copy = join(folder, `${name}.service`);
    // The program is not installed here.
    writeFileSync(copy, readFileSync(unit, 'utf8').replace('/usr/bin/slackwater', '/bin/true'));
    const { stderr } = spawnSync('systemd-analyze', ['verify', '--man=no', copy], { encoding: 'utf8' });
    rmSync(folder, { recursive: true });
    expect(stderr.split('\n').filter((line) => line.includes(name))).toEqual([]);
  },
);

const compose = spawnSync('docker-compose', ['version']).status === 0;
test.skipIf(!compose)(
  'the compose file of a school is one by docker-compose’s own schema, and asks for its settings',
  () => {
    const file = join(root, 'hub/packaging/school-compose.yaml');
    const folder = mkdtempSync(join(tmpdir(), 'slackwater-compose-'));
    writeFileSync(join(folder, 'archive.env'), '');
    const read = (settings: string) =>
      spawnSync('docker-compose', ['-f', file, 'config'], {
        encoding: 'utf8',
        env: {
          ...process.env,
          SLACKWATER_SETTINGS: settings,
          SLACKWATER_HOST: 'school.example',
          SLACKWATER_OWNER: '1000:1000',
        },
      });
    const { status, stdout } = read(folder);
    expect(status).toBe(0);
    for (const service of ['nats', 'postgres', 'school']) expect(stdout).toContain(`  ${service}:\n`);
    expect(stdout.match(/published:/g)).toHaveLength(2);
    expect(read('').status).not.toBe(0);
    rmSync(folder, { recursive: true });
  },
);

const dpkg = spawnSync('dpkg', ['--print-architecture']).status === 0;
test.skipIf(!dpkg)('an architecture that no package is made for is told before anything is done', () => {
  const { status, stderr, stdout } = spawnSync(
    'bash',
    [join(root, 'hub/packaging/build-deb.sh'), '--arch', 'sparc64', join(tmpdir(), 'slackwater-nowhere')],
    { encoding: 'utf8' },
  );
  expect({ status, stdout }).toEqual({ status: 2, stdout: '' });
  expect(stderr).toContain('amd64 or arm64');
});
