// slackwater service install|status|uninstall: has the hub started with the computer. Says first what it would do.

import { execFile } from 'node:child_process';
import { mkdir, readFile, rm, writeFile } from 'node:fs/promises';
import { homedir, userInfo } from 'node:os';
import { dirname } from 'node:path';
import { serviceWords } from '../../shared/words/en-service.ts';
import { findBuiltFile } from '../base/built-file.ts';
import type { CommandIo } from '../base/command-io.ts';
import { readConfig } from '../base/config.ts';
import { HubError, told } from '../base/hub-error.ts';
import { planService, type ServiceFacts, type ServiceStep } from '../machine/service/service-plan.ts';

type Verb = 'install' | 'status' | 'uninstall';
const isVerb = (word: string | undefined): word is Verb =>
  word === 'install' || word === 'status' || word === 'uninstall';

/** What a program said, and whether it went well. */
export type RunProgram = (words: readonly string[]) => Promise<{ ok: boolean; said: string }>;

/** `argv` is what follows `service`. Answers the exit status. */
export async function runService(
  argv: string[],
  io: CommandIo,
  run: RunProgram = runProgram,
  given: Partial<ServiceFacts> = {},
): Promise<number> {
  const yes = argv.includes('--yes');
  const { config, positionals } = readConfig(
    argv.filter((word) => word !== '--yes'),
    io.env,
  );
  const [verb, ...more] = positionals;
  if (!isVerb(verb) || more.length > 0) throw new HubError('config.badFlag', told(serviceWords.needsVerb));
  const facts = { ...(await factsHere(config.data)), ...given };
  const planned = planService(facts);
  if (!planned.ok) {
    const reason =
      planned.reason === 'inHome'
        ? serviceWords.inHome(facts.programPath)
        : serviceWords.otherSystem(facts.system);
    throw new HubError('config.badValue', told(reason));
  }
  const { plan } = planned;
  const print = (line: string): void => void io.stdout.write(`${line}\n`);
  if (verb === 'status') {
    const { ok, said } = await run(plan.status);
    print(said.trimEnd());
    return ok ? 0 : 2;
  }
  const steps = plan[verb];
  print(yes ? serviceWords.doing[verb] : serviceWords.says[verb]);
  for (const step of steps) print(lineOf(step));
  if (verb === 'install' && plan.lacksRadio) print(serviceWords.noRadio);
  if (!yes) {
    print(serviceWords.sayYes);
    return 0;
  }
  for (const step of steps) {
    const failed = await take(step, run);
    if (failed === undefined) continue;
    io.stderr.write(`${serviceWords.failed(lineOf(step).trim(), failed)}\n`);
    if (verb === 'install') io.stderr.write(`${serviceWords.whatNow}\n`);
    return 2;
  }
  print(serviceWords.done[verb](plan.dataFolder));
  if (verb === 'install') print(`  slackwater link --data ${plan.dataFolder}`);
  return 0;
}

/** Answers why it failed. */
async function take(step: ServiceStep, run: RunProgram): Promise<string | undefined> {
  try {
    if (step.write !== undefined) {
      await mkdir(dirname(step.write.path), { recursive: true });
      await writeFile(step.write.path, step.write.text, { encoding: step.write.encoding ?? 'utf8' });
    }
    if (step.delete !== undefined) await rm(step.delete, { force: true });
    if (step.run === undefined) return undefined;
    const { ok, said } = await run(step.run);
    return ok || step.mayFail === true ? undefined : said.trim();
  } catch (error) {
    return error instanceof Error ? error.message : String(error);
  }
}

function lineOf({ write, delete: path, run }: ServiceStep): string {
  if (write !== undefined) return serviceWords.writes(write.path);
  if (path !== undefined) return serviceWords.deletes(path);
  return serviceWords.runs((run ?? []).join(' '));
}

const runProgram: RunProgram = ([program = '', ...words]) =>
  new Promise((resolve) => {
    execFile(program, words, { timeout: 60_000 }, (error, stdout, stderr) =>
      resolve({ ok: error === null, said: `${stdout}${stderr}` || (error?.message ?? '') }),
    );
  });

async function factsHere(dataFolder: string): Promise<ServiceFacts> {
  const { username, uid } = userInfo();
  return {
    system: process.platform,
    isRoot: uid === 0,
    userId: uid,
    userName: username,
    homeFolder: homedir(),
    nodePath: process.execPath,
    programPath: packaged('slackwater.mjs'),
    dataFolder,
    systemUnit: await readFile(packaged('packaging/slackwater.service'), 'utf8'),
    systemUsers: await readFile(packaged('packaging/debian/sysusers.conf'), 'utf8'),
  };
}

/** Of the folder `hub/`, which the packages have too; seen from the built program and from the sources. */
function packaged(path: string): string {
  const found = findBuiltFile(import.meta.url, [`../../hub/${path}`, `../${path}`]);
  if (found === undefined) throw new HubError('build.missing', told(serviceWords.notWhole(path)));
  return found;
}
