// GET /api/spoken-cues/:kind: a cue as a spoken sound file, for pages whose browser has no voice. Made by espeak-ng on
// the hub's machine where that is installed, in the language of its reader; nothing else is ever
// passed to it than the fixed lists of cue texts.

import { execFile } from 'node:child_process';
import { said } from '../../../shared/said.ts';
import { type CueKind, cueDefinitions } from '../../../src/plans/cue.ts';
import { type ReaderLanguage, readerLanguage, sayFor } from '../reader-language.ts';
import { type RouteModule, sendRefusal } from '../route.ts';

/** Words a minute; slower than the program's 175, because these are heard by people at rest. */
const wordsPerMinute = '145';
const speechLimitMs = 5_000;

const isCueKind = (kind: string): kind is CueKind => Object.hasOwn(cueDefinitions, kind);

/** The name of each language's voice. */
const voices: Readonly<Record<ReaderLanguage, string>> = { en: 'en', de: 'de' };

function speak(text: string, voice: string): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    execFile(
      'espeak-ng',
      ['-v', voice, '-s', wordsPerMinute, '--stdout', text],
      { encoding: 'buffer', timeout: speechLimitMs, maxBuffer: 4 * 2 ** 20 },
      (error, stdout) => (error === null ? resolve(stdout) : reject(error)),
    );
  });
}

export const spokenCueRoutes: RouteModule = (app, { log }) => {
  const made = new Map<`${ReaderLanguage}/${CueKind}`, Promise<Buffer>>();

  app.get<{ Params: { kind: string }; Querystring: { language?: string } }>(
    '/api/spoken-cues/:kind',
    { config: { access: 'joined' } },
    async (request, reply) => {
      const { kind } = request.params;
      if (!isCueKind(kind) || !cueDefinitions[kind].spoken)
        return sendRefusal(reply, { code: 'notFound', said: said('refusal.unknownCue') });
      const language = readerLanguage(request);
      const key = `${language}/${kind}` as const;
      const sound = made.get(key) ?? speak(sayFor(language)(cueDefinitions[kind].said), voices[language]);
      made.set(key, sound);
      try {
        const bytes = await sound;
        return reply
          .header('content-type', 'audio/wav')
          .header('cache-control', 'private, max-age=86400')
          .header('vary', 'accept-language')
          .send(bytes);
      } catch (error) {
        made.delete(key);
        log.info(
          `no voice for cues (install espeak-ng, or use a browser with a voice): ${error instanceof Error ? error.message : String(error)}`,
        );
        // Nothing has gone wrong: the page sounds a tone instead.
        return reply.code(204).send();
      }
    },
  );
};
