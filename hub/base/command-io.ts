// What a command gets of the process: its streams and surroundings.

export interface CommandIo {
  readonly stdout: NodeJS.WritableStream;
  readonly stderr: NodeJS.WritableStream & { isTTY?: boolean };
  readonly env: NodeJS.ProcessEnv;
}
