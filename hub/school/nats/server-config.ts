// The settings of a message server for one school: who its hubs are, and that each writes only its own and hears only its own.

import { subjects } from '../../../shared/school/subjects.ts';

/** The school's own user; no hub may bear its name, under which the answers to the school come. */
export const ownerName = 'school';

export interface ServerUser {
  readonly name: string;
  readonly password: string;
}

export interface ServerConfigParts {
  readonly school: string;
  /** The school's own user, who reads and answers all. */
  readonly owner: ServerUser;
  /** A user a hub, of the hub's name. */
  readonly hubs: readonly ServerUser[];
  /** Where the server keeps its stream, and how much of it, gigabytes. */
  readonly storeFolder: string;
  readonly storeGigabytes: number;
  /** A certificate and its key (PEM); left out, only this computer can reach the server. */
  readonly tls?: { readonly certificate: string; readonly key: string };
  readonly port: number;
}

const quoted = (text: string): string => JSON.stringify(text);
const list = (texts: readonly string[]): string => `[${texts.map(quoted).join(', ')}]`;

/** In the format of nats-server (https://docs.nats.io/running-a-nats-service/configuration). */
export function serverConfig(parts: ServerConfigParts): string {
  const { school, owner, hubs, storeFolder, storeGigabytes, tls, port } = parts;
  return [
    // Without a certificate nothing of it goes over a network.
    `listen: ${tls === undefined ? '127.0.0.1' : '0.0.0.0'}:${port}`,
    // What was told of a long session of thirty is one message.
    'max_payload: 8MB',
    `jetstream { store_dir: ${quoted(storeFolder)}, max_file_store: ${storeGigabytes}GB }`,
    ...(tls === undefined
      ? []
      : [`tls { cert_file: ${quoted(tls.certificate)}, key_file: ${quoted(tls.key)} }`]),
    'authorization {',
    '  users: [',
    userLine(
      owner,
      ['_INBOX.>', '$JS.API.>', '$JS.ACK.>', subjects.allOf(school)],
      [subjects.allOf(school), `${subjects.inbox(ownerName)}.>`],
    ),
    ...hubs.map((hub) => {
      const { publish, subscribe } = subjects.ownOf(school, hub.name);
      return userLine(hub, [publish], subscribe);
    }),
    '  ]',
    '}',
    '',
  ].join('\n');
}

/** `allow_responses`: a hub may answer what the school asks it, and nobody else. */
const userLine = (
  { name, password }: ServerUser,
  publish: readonly string[],
  subscribe: readonly string[],
): string =>
  `    { user: ${quoted(name)}, password: ${quoted(password)}, permissions: { publish: { allow: ${list(publish)} }, ` +
  `subscribe: { allow: ${list(subscribe)} }, allow_responses: true } }`;
