// The pages of a school as `slackwater school` serves them, in this process.

import { readConfig } from '../../../hub/base/config.ts';
import { bootSchool, type RunningSchool } from '../../../hub/school/boot-school.ts';
import { enterByLink } from '../own-person.ts';

/** Entered as its own person, a coach. */
export async function serveSchool(options: {
  readonly natsUrl: string;
  readonly archiveUrl: string;
  readonly dataFolder: string;
  readonly webDirectory?: string;
  /** Other devices are let in, on loopback. */
  readonly lan?: boolean;
}): Promise<RunningSchool & { readonly close: () => Promise<void> }> {
  const { config } = readConfig(
    [
      '--school',
      options.natsUrl,
      '--school-name',
      'test',
      '--archive',
      options.archiveUrl,
      '--data',
      options.dataFolder,
      '--port',
      '0',
      ...(options.lan === true ? ['--lan', '--lan-host', '127.0.0.1', '--lan-port', '0'] : []),
      '--log',
      process.env['SLACKWATER_TEST_LOG'] === undefined ? 'silent' : 'debug',
    ],
    {},
  );
  const school = await bootSchool(config, options.webDirectory ?? '/nonexistent');
  await enterByLink(school.linkWith(school.joining.ownPerson.linkCode()));
  return { ...school, url: school.url.replace(/\/$/, ''), close: () => school.stop() };
}
