// The one whom bluetoothd asks when a sensor pairs (org.bluez.Agent1). It speaks for sensors that the hub is making a link
// to and for no other device, and hands every question to a person. It is the default agent only while a link to a sensor
// without a key is being set up: the rest of the time that place is the desktop's own.

import type { PairingAnswer } from '../../../../shared/views.ts';
import type { PairingQuestion } from '../radio.ts';
import { names } from './bluez-objects.ts';
import { type BusClient, CallFailure, type IncomingCall } from './bus-client.ts';

const agentPath = '/slackwater/agent';
const managerPath = '/org/bluez';
const callLimitMs = 3_000;
/** A pairing ends 30 s after its last step (Core 5.3 Vol 3 Part H s3.4); the answer still has to get there. */
export const answerWithinMs = 28_000;
/** The desktop has its place back this long after the last thing asked of a sensor without a key. */
const defaultForMs = 10_000;

const rejected = 'org.bluez.Error.Rejected';
const cancelled = 'org.bluez.Error.Canceled';

export interface PairingEars {
  /** The link by which the hub talks to this device, or undefined for a device that is not its business. */
  linkOf(devicePath: string): string | undefined;
  asked(linkId: string, requestId: string, question: PairingQuestion): void;
  over(linkId: string, requestId: string, outcome: PairingOutcome): void;
}

export type PairingOutcome = 'answered' | 'cancelled' | 'late';

interface Request {
  readonly requestId: string;
  readonly linkId: string;
  readonly question: PairingQuestion;
  /** Undefined for a code that is only shown: nothing is waited for. */
  readonly call: IncomingCall | undefined;
  readonly timer: NodeJS.Timeout;
}

export class PairingAgent {
  readonly #bus: BusClient;
  readonly #ears: PairingEars;
  readonly #limitMs: number;
  #requests: Request[] = [];
  #asked = 0;
  #registered: Promise<void> | null = null;
  #default: Promise<void> | null = null;
  #giveBack: NodeJS.Timeout | undefined;

  constructor(bus: BusClient, ears: PairingEars, limitMs = answerWithinMs) {
    this.#bus = bus;
    this.#ears = ears;
    this.#limitMs = limitMs;
  }

  /** So that bluetoothd asks us in a pairing that we begin. */
  register(): Promise<void> {
    this.#registered ??= this.#manage('RegisterAgent', 'os', agentPath, 'KeyboardDisplay').catch((error) => {
      this.#registered = null;
      throw error;
    });
    return this.#registered;
  }

  /** For pairings that the sensor or a locked characteristic begins, bluetoothd asks whoever is the default. */
  async holdDefault(): Promise<void> {
    clearTimeout(this.#giveBack);
    this.#giveBack = setTimeout(() => void this.release(), defaultForMs);
    await this.register();
    this.#default ??= this.#manage('RequestDefaultAgent', 'o', agentPath).catch((error) => {
      this.#default = null;
      throw error;
    });
    await this.#default;
  }

  /** Gives the default agent's place back, unless a person is being asked. */
  async release(): Promise<void> {
    clearTimeout(this.#giveBack);
    if (this.#registered === null) return;
    if (this.#requests.length > 0) {
      this.#giveBack = setTimeout(() => void this.release(), defaultForMs);
      return;
    }
    this.#default = null;
    this.#registered = null;
    // There is no other way back than to leave.
    await this.#manage('UnregisterAgent', 'o', agentPath).catch(() => undefined);
  }

  take(call: IncomingCall): boolean {
    if (call.path !== agentPath || call.interfaceName !== names.agent) return false;
    switch (call.member) {
      case 'Release':
        this.#registered = null;
        this.#default = null;
        call.reply();
        return true;
      case 'Cancel':
        // It does not say which: bluetoothd asks one thing at a time.
        for (const request of [...this.#requests]) this.#finish(request, 'cancelled');
        call.reply();
        return true;
      default:
        this.#question(call);
        return true;
    }
  }

  #question(call: IncomingCall): void {
    const [device, value] = call.body;
    const linkId = typeof device === 'string' ? this.#ears.linkOf(device) : undefined;
    if (linkId === undefined) {
      call.refuse(rejected);
      return;
    }
    const code = typeof value === 'number' ? value : 0;
    switch (call.member) {
      // A sensor without a code ("just works"): a person assigned it, or there would be no link.
      case 'RequestAuthorization':
      case 'AuthorizeService':
        call.reply();
        return;
      case 'RequestPasskey':
        this.#ask(linkId, { kind: 'typeCode' }, call);
        return;
      case 'RequestConfirmation':
        this.#ask(linkId, { kind: 'compareCode', code }, call);
        return;
      case 'DisplayPasskey':
        this.#show(linkId, code);
        call.reply();
        return;
      default:
        // PIN codes are of the Bluetooth before Low Energy.
        call.refuse(rejected);
    }
  }

  #ask(linkId: string, question: PairingQuestion, call: IncomingCall | undefined): void {
    this.#asked += 1;
    // Of this process: an answer meant for an earlier one's question is nobody's.
    const requestId = `pairing-${process.pid}-${this.#asked}`;
    const timer = setTimeout(() => this.#end(requestId, { kind: 'cancel' }, 'late'), this.#limitMs);
    this.#requests.push({ requestId, linkId, question, call, timer });
    this.#ears.asked(linkId, requestId, question);
  }

  /** Told again with every key that is pressed on the sensor. */
  #show(linkId: string, code: number): void {
    const isShown = this.#requests.some(
      (request) => request.linkId === linkId && request.question.kind === 'showCode',
    );
    if (!isShown) this.#ask(linkId, { kind: 'showCode', code }, undefined);
  }

  answer(requestId: string, answer: PairingAnswer): void {
    this.#end(requestId, answer, answer.kind === 'cancel' ? 'cancelled' : 'answered');
  }

  #end(requestId: string, answer: PairingAnswer, outcome: PairingOutcome): void {
    const request = this.#requests.find((known) => known.requestId === requestId);
    if (request === undefined) return;
    const { call, question } = request;
    if (question.kind === 'typeCode' && answer.kind === 'code') call?.reply('u', answer.code);
    else if (question.kind === 'compareCode' && answer.kind === 'same') call?.reply();
    else call?.refuse(cancelled);
    this.#finish(request, outcome);
  }

  /** The pairing or the link is over, however it went. */
  overFor(linkId: string): void {
    for (const request of this.#requests.filter((known) => known.linkId === linkId)) {
      request.call?.refuse(cancelled);
      this.#finish(request, request.call === undefined ? 'answered' : 'cancelled');
    }
  }

  #finish(request: Request, outcome: PairingOutcome): void {
    clearTimeout(request.timer);
    this.#requests = this.#requests.filter((known) => known !== request);
    this.#ears.over(request.linkId, request.requestId, outcome);
  }

  async #manage(member: string, signature: string, ...body: readonly unknown[]): Promise<void> {
    try {
      await this.#bus.call({
        path: managerPath,
        interfaceName: names.agentManager,
        member,
        signature,
        body,
        limitMs: callLimitMs,
      });
    } catch (error) {
      // It knows us already.
      if (!(error instanceof CallFailure && error.errorName === 'org.bluez.Error.AlreadyExists')) throw error;
    }
  }
}
