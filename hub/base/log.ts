// Where the hub writes what only its operator reads.

export interface HubLog {
  info(message: string): void;
  warn(message: string): void;
  error(message: string, cause?: unknown): void;
}
