// Wörter über das Gerät, auf dem die Seite läuft, deutsch.

import type { enDevice } from './en-device.ts';

export const deDevice: typeof enDevice = {
  title: 'Dieses Gerät',
  intro:
    'Was dieser Browser der Seite erlaubt. Ein schlafendes, stummes oder ausgeschaltetes Gerät kann nicht alarmieren, was hier auch steht.',
  offline: {
    label: 'Öffnet sich ohne den Hub',
    notYet: 'Noch nicht: Der Hub hat nicht geantwortet.',
    kept: 'Ja. Die Seite liegt auf diesem Gerät: Ohne den Hub geöffnet, sagt sie das, und sie alarmiert, wenn sie von einer Sitzung weiß.',
    refused:
      'Nein. Browser behalten eine Seite nur vom Rechner des Hubs selbst oder über ein Zertifikat, dem sie vertrauen. Solange sie offen ist, alarmiert sie trotzdem; lade sie nicht neu, während der Hub fehlt.',
  },
  install: {
    label: 'Auf dem Startbildschirm',
    installed: 'Ja: Die Seite läuft in einem eigenen Fenster.',
    offered: 'Dieser Browser kann sie dort ablegen.',
    byMenu:
      'Über das Menü des Browsers, wenn er es anbietet: „Installieren“, auf einem Telefon „Zum Home-Bildschirm“ hinter der Teilen-Taste.',
    button: 'Dort ablegen',
  },
  notices: {
    label: 'Mitteilungen, während ein anderes Fenster vorn ist',
    granted:
      'Erlaubt. Ein Alarm, der ruft, während diese Seite verdeckt ist, erscheint als Mitteilung des Systems, mit dem Namen der Person, auch auf dem gesperrten Bildschirm.',
    denied: 'Im Browser abgelehnt. Erlaube Mitteilungen für diese Seite in seinen Einstellungen.',
    default: 'Noch nicht erfragt.',
    impossible: 'Dieser Browser hat keine für diese Seite.',
    notKept: 'Erlaubt, aber dieser Browser zeigt sie nur für eine Seite, die auf dem Gerät liegt.',
    button: 'Mitteilungen erlauben',
  },
  screen: {
    label: 'Hält den Bildschirm an',
    refused: 'Nein: Dieser Browser lehnt es ab.',
    on: 'Während eine Sitzung läuft und die Seite vorn ist.',
    notice:
      'Dieser Bildschirm wird dunkel: Der Browser lässt die Seite ihn nicht anhalten. Stelle die Bildschirmzeit dieses Geräts länger und halte eine zweite Seite mit Ton bereit.',
  },
  vibration: {
    label: 'Vibriert bei einem Alarm',
    yes: 'Wo das Gerät es kann, nach einer ersten Berührung.',
    no: 'Nicht in diesem Browser.',
  },
  sessionOver: 'Diese Sitzung ist vorbei',
  rememberedOnly: (title: string) =>
    title === ''
      ? 'Eine Sitzung lief, als dieses Gerät zuletzt vom Hub hörte.'
      : `Die Sitzung „${title}“ lief, als dieses Gerät zuletzt vom Hub hörte.`,
};
