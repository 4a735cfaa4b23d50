// What the hub and its import thread say to each other. Everything can be cloned.

import type { ImportPreview } from '../../../shared/http.ts';
import type { Said } from '../../../shared/said.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import type { ImportedFile, ReadRecording } from './import-task.ts';
import type { ImportChoice } from './open-import.ts';
import type { SessionPart } from './session-parts.ts';

export type ToImportThread =
  | { readonly type: 'preview'; readonly file: ImportedFile }
  | { readonly type: 'read'; readonly file: ImportedFile; readonly choice: ImportChoice }
  /** After `read`: the session has begun; send its parts. */
  | { readonly type: 'store'; readonly startedWallAtMs: number; readonly settings: AthleteSettings }
  /** A part has been stored. */
  | { readonly type: 'taken' }
  /** After `read`: it will not be stored. */
  | { readonly type: 'drop' };

export type FromImportThread =
  | { readonly type: 'progress'; readonly share: number }
  | { readonly type: 'preview'; readonly preview: ImportPreview }
  | { readonly type: 'read'; readonly recording: ReadRecording }
  | { readonly type: 'part'; readonly part: SessionPart }
  /** For a person. */
  | { readonly type: 'refused'; readonly said: Said }
  /** A mistake of the program, for the log. */
  | { readonly type: 'failed'; readonly reason: string };
