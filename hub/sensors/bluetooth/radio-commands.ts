// Which part of a radio each command of the port goes to: one place for every radio that lives in the radio process.

import type { PairingAnswer } from '../../../shared/views.ts';
import type { RadioCommand, ScanInterest } from './radio.ts';

/** What is asked of a sensor over an open link. */
export type StepCommand = Extract<RadioCommand, { type: 'discover' | 'subscribe' | 'read' | 'write' }>;

export interface RadioParts {
  setInterest(interest: ScanInterest): void;
  setScan(on: boolean): void;
  connect(linkId: string, peripheralId: string): void;
  cancel(linkId: string): void;
  disconnect(linkId: string): void;
  step(command: StepCommand): void;
  /** Left out by a radio that keeps no keys and asks nobody for a code. */
  readonly pairing?: {
    answer(requestId: string, answer: PairingAnswer): void;
    forget(peripheralId: string): void;
  };
}

export function carryOut(parts: RadioParts, command: RadioCommand): void {
  switch (command.type) {
    case 'interest':
      parts.setInterest(command.interest);
      break;
    case 'scan':
      parts.setScan(command.on);
      break;
    case 'connect':
      parts.connect(command.linkId, command.peripheralId);
      break;
    case 'cancelConnect':
      parts.cancel(command.linkId);
      break;
    case 'disconnect':
      parts.disconnect(command.linkId);
      break;
    case 'answerPairing':
      parts.pairing?.answer(command.requestId, command.answer);
      break;
    case 'forgetBond':
      parts.pairing?.forget(command.peripheralId);
      break;
    default:
      parts.step(command);
  }
}
