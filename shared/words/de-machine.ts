// Was die Prüfung des Rechners findet, auf Deutsch: jede Zeile gut oder mit dem, was zu tun ist.

import type { machineWordsInEnglish } from './en-machine.ts';

export const machineWordsInGerman: {
  readonly [Code in keyof typeof machineWordsInEnglish]: (typeof machineWordsInEnglish)[Code];
} = {
  'machine.node': 'Node',
  'machine.modules': 'Native Module',
  'machine.radio': 'Bluetooth-Adapter',
  'machine.radioRight': 'Bluetooth-Recht',
  'machine.radioService': 'Bluetooth-Dienst',
  'machine.sound': 'Ton',
  'machine.clock': 'Uhr',
  'machine.disk': 'Festplatte',
  'machine.folder': 'Datenordner',
  'machine.port': 'Port der Seite',
  'machine.lanPort': 'Port für Geräte',
  'machine.certificate': 'Zertifikat',
  'machine.backups': 'Sicherungen',
  'machine.names': 'Namen im Netz',
  'machine.notLooked': ({ reason }) => `Das ließ sich nicht prüfen: ${reason}.`,
  'machine.notRun': ({ reason }) =>
    `Es ließ sich nicht prüfen: ${reason}. Führe auf dem Rechner des Hubs aus: slackwater doctor.`,
  'machine.tookTooLong': ({ seconds }) =>
    `Die Prüfung war nach ${seconds} s nicht zu Ende: Vielleicht antwortet eine Platte oder ein Ordner im Netz nicht. Der Hub läuft weiter.`,
  'machine.node.good': ({ version }) => `${version}.`,
  'machine.node.new': ({ version, newest }) =>
    `${version} ist zu neu: Damit kann die Datenbank mitten in einer Sitzung abbrechen. Installiere Node ${newest}, dann Slackwater noch einmal.`,
  'machine.node.old': ({ version, least }) => `${version} ist zu alt. Installiere Node ${least} oder neuer.`,
  'machine.modules.good': 'Alle werden geladen.',
  'machine.modules.broken': ({ name, reason }) =>
    `${name} wird nicht geladen (${reason}). Installiere Slackwater mit dieser Version von Node neu.`,
  'machine.radio.good': ({ name }) => `${name} ist da und eingeschaltet.`,
  'machine.radio.unknown':
    'Unbekannt: Dieses System führt keine Liste der Adapter. Sieh nach, ob Bluetooth eingeschaltet ist; ein Sensor, der auf der Seite erscheint, ist der Beweis.',
  'machine.radio.none':
    'Es gibt keinen. Stecke einen Bluetooth-Adapter an. Ohne ihn hört dieser Rechner keinen Sensor; die Demo, Aufzeichnungen und Funkgeräte in anderen Räumen gehen auch so.',
  'machine.radio.blocked': ({ name }) =>
    `${name} ist ausgeschaltet. Schalte Bluetooth ein: rfkill unblock bluetooth.`,
  'machine.radioRight.good': 'Dieses Programm darf den Adapter benutzen.',
  'machine.radioRight.noAdapter':
    'Dieses Programm darf einen Adapter benutzen, aber es gibt keinen. Stecke einen an und prüfe noch einmal.',
  'machine.radioRight.asked':
    'Unbekannt: Dieses System fragt danach, wenn der Hub zum ersten Mal Sensoren sucht. Antworte mit Ja; hat es nicht gefragt und es erscheint kein Sensor, sieh in seinen Datenschutz-Einstellungen unter Bluetooth nach.',
  'machine.radioRight.missing':
    'Fehlt. Führe aus: sudo setcap cap_net_raw+eip "$(readlink -f "$(which node)")". Als Dienst nicht nötig: Dort gibt es die Unit.',
  'machine.radioRight.notNeeded': 'Nicht nötig: Der Hub geht über den Bluetooth-Dienst dieses Systems.',
  'machine.radioService.none': 'Auf diesem System braucht der Hub keinen außer seinem eigenen.',
  'machine.radioService.unused':
    'Nicht benutzt. Für Sensoren, die koppeln oder einen Code verlangen: Installiere bluez und starte mit --radio bluez.',
  'machine.radioService.beside': ({ version }) =>
    `BlueZ ${version} läuft und wird nicht benutzt. Für Sensoren, die koppeln oder einen Code verlangen, starte mit --radio bluez.`,
  'machine.radioService.good': ({ version, timeoutS }) =>
    `BlueZ ${version} läuft, und dieser Benutzer darf mit ihm sprechen. Verbindungen überstehen ${timeoutS} s ohne Kontakt.`,
  'machine.radioService.shortLinks': ({ version, timeoutS }) =>
    `BlueZ ${version} läuft, aber seine Verbindungen enden nach ${timeoutS} s ohne Kontakt: Dafür reicht ein Körper im Weg. Setze in /etc/bluetooth/main.conf unter [LE] ConnectionSupervisionTimeout=512, dann: sudo systemctl restart bluetooth.`,
  'machine.sound.good': ({ player }) =>
    `Alarme spielt hier ${player}. Ob man sie hört, sagen nur Ohren: Mache eine Übung (auf der Seite, unter Kurs).`,
  'machine.sound.none':
    'Kein Programm kann Ton abspielen. Alarme ertönen nur auf den Seiten: Lass eine mit eingeschaltetem Ton offen oder installiere alsa-utils.',
  'machine.clock.good': 'Wird über das Netz gestellt.',
  'machine.clock.unknown':
    'Unbekannt: Dieses System sagt nicht, ob es seine Uhr über das Netz stellt. Vergleiche sie mit einer Armbanduhr: Aufzeichnungen tragen ihre Uhrzeit. Atempausen und Alarme hängen nicht davon ab.',
  'machine.clock.alone':
    'Noch nicht über das Netz gestellt: Aufzeichnungen tragen vielleicht eine falsche Uhrzeit. Atempausen und Alarme hängen nicht davon ab.',
  'machine.clock.wrong': 'Geht um Jahre nach. Stelle das Datum; Aufzeichnungen trügen sonst ein falsches.',
  'machine.disk.good': ({ freeMb, slowestMs }) =>
    `${freeMb} MB frei; der langsamste von acht Schreibvorgängen dauerte ${slowestMs} ms.`,
  'machine.disk.slow': ({ freeMb, slowestMs }) =>
    `Langsam: Ein Schreibvorgang dauerte ${slowestMs} ms (${freeMb} MB frei). Wähle mit --data eine andere Platte oder schließe, was sonst darauf schreibt.`,
  'machine.disk.unmeasured': ({ freeMb }) =>
    `${freeMb} MB frei. Wie schnell sie ist, wird nicht gemessen, solange eine Sitzung aufgezeichnet wird: Nichts anderes darf dann auf ihre Platte schreiben. Prüfe danach noch einmal.`,
  'machine.disk.full': ({ freeMb }) => `Nur ${freeMb} MB frei. Schaffe Platz, bevor du aufzeichnest.`,
  'machine.folder.good': ({ folder }) => `${folder} ist da und privat.`,
  'machine.folder.new': ({ folder }) => `${folder} wird beim ersten Start angelegt.`,
  'machine.folder.open': ({ folder }) =>
    `${folder} ist für andere Benutzer lesbar. Der Hub macht ihn beim Start privat.`,
  'machine.folder.unwritable': ({ folder }) =>
    `In ${folder} lässt sich nichts schreiben. Ändere die Rechte oder wähle mit --data einen anderen Ordner.`,
  'machine.port.free': ({ port }) => `${port} ist frei.`,
  'machine.port.ours': ({ port }) => `${port} benutzt ein Hub, der gerade läuft.`,
  'machine.port.taken': ({ port, option }) =>
    `${port} benutzt ein anderes Programm. Wähle mit ${option} einen anderen.`,
  'machine.port.forbidden': ({ port, host, option }) =>
    `${port} an ${host} darf hier nicht geöffnet werden. Wähle mit ${option} einen über 1024.`,
  'machine.lanPort.none':
    'Geschlossen: Andere Geräte können beitreten, wenn der Hub mit --lan gestartet wird.',
  'machine.backups.none':
    'Es werden keine gemacht: Geht diese Platte kaputt, sind die Aufzeichnungen weg. Starte den Hub mit --backup-folder ORDNER, am besten auf einer anderen Platte, und einem Kennwort aus 12 Zeichen oder mehr in SLACKWATER_BACKUP_PASSPHRASE; oder speichere ab und zu eine von der Seite (Sicherungen).',
  'machine.backups.noneYet': ({ folder }) => `In ${folder} noch keine: Der Hub macht eine, wenn er läuft.`,
  'machine.backups.noFolder': ({ folder }) =>
    `In ${folder} lässt sich nichts schreiben. Stecke die Platte an oder nenne mit --backup-folder einen anderen Ordner.`,
  'machine.backups.good': ({ hours, folder }) => `Die neueste in ${folder} ist ${hours} h alt.`,
  'machine.backups.old': ({ hours, folder }) =>
    `ALT: Die neueste in ${folder} ist ${hours} h alt. Starte den Hub und sieh auf seiner Seite unter Sicherungen nach.`,
  'machine.certificate.none': 'Noch keines: Es entsteht, wenn andere Geräte beitreten dürfen (--lan).',
  'machine.certificate.good': ({ days, fingerprint }) => `Noch ${days} Tage gültig. SHA-256 ${fingerprint}.`,
  'machine.certificate.ended':
    'Abgelaufen: Andere Geräte werden gewarnt oder abgewiesen. Starte den Hub mit --lan: Er stellt ein neues aus.',
  'machine.certificate.ends': ({ days }) =>
    `Endet in ${days} Tagen. Lass den Hub laufen: Er stellt beim Start ein neues aus, oder zwischen Sitzungen binnen Stunden.`,
  'machine.certificate.givenEnds': ({ path, days }) =>
    `${path} endet in ${days} Tagen. Sieh nach, ob noch läuft, was es erneuert; der Hub nimmt die neuen Dateien von selbst auf.`,
  'machine.certificate.givenEnded': ({ path }) =>
    `${path} ist abgelaufen: Browser lehnen es ab. Erneuere es; der Hub nimmt die neuen Dateien von selbst auf.`,
  'machine.names.good': ({ addresses }) => `${addresses}.`,
  'machine.names.none': 'Dieser Rechner ist in keinem Netz: Andere Geräte können nicht beitreten.',
  'machine.state.good': 'gut',
  'machine.state.warning': 'ansehen',
  'machine.state.fault': 'FEHLER',
};
