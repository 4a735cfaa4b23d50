// The data folder, backups, and what the hub finds wrong with its surroundings, in German.

import type { SaidWords } from './en.ts';
import type { dataWordsInEnglish } from './en-data.ts';

const packets = (count: number): string => (count === 1 ? 'Paket' : 'Pakete');

export const dataWordsInGerman: Pick<SaidWords, keyof typeof dataWordsInEnglish> = {
  'data.locked': (p) =>
    `Ein anderer Hub benutzt ${p.path} bereits. Beende ihn, oder starte diesen mit einem anderen Ordner: --data ORDNER.`,
  'data.full': (p) =>
    `Der Datenträger mit ${p.path} ist voll. Nichts bisher Aufgezeichnetes geht verloren: Schaffe Platz, dann geht die Aufzeichnung weiter.`,
  'data.failed': (p) =>
    `Lesen oder Schreiben von ${p.path} ist misslungen (${p.reason}). Prüfe den Datenträger, oder starte mit einem anderen Ordner: --data ORDNER.`,
  'data.corrupt': (p) =>
    `Die Aufzeichnungen in ${p.path} sind beschädigt; die Datei blieb, wie sie ist. Bewahre eine Kopie davon auf und starte dann mit einem anderen Ordner (--data ORDNER), oder setze eine Sicherung an ihre Stelle.`,
  'data.unwritable': (p) =>
    `Der Hub darf nicht in ${p.path} schreiben. Gib deinem Benutzer das Recht dazu, oder starte mit einem anderen Ordner: --data ORDNER.`,
  'data.readOnly': (p) =>
    `Der Datenträger unter ${p.path} lässt sich nicht mehr beschreiben: Er ist schreibgeschützt, wie wenn er versagt. Lass ihn prüfen, oder starte mit einem Ordner auf einem anderen Datenträger: --data ORDNER.`,
  'data.newerVersion': (p) =>
    `Die Aufzeichnungen in ${p.path} stammen von einer neueren Version dieses Programms (${p.version}; diese liest bis ${p.known}). Aktualisiere das Programm, oder starte mit einem anderen Ordner: --data ORDNER. Wie sie vor der Aktualisierung waren, liegen sie vielleicht daneben, als recordings.sqlite.version-${p.known}.`,
  'data.broughtUpToDate': (p) =>
    `Die Aufzeichnungen wurden auf den neuen Stand gebracht (Version ${p.from} auf ${p.to}). Wie sie vorher waren, für ein Programm von vorher, liegen sie in ${p.copy}. Die Kopie geht, wenn eine Aufzeichnung oder ein Athlet gelöscht wird; lösche sie selbst, wenn alles gut ist.`,
  'data.noCopyBefore': (p) =>
    `Die Aufzeichnungen wurden auf den neuen Stand gebracht, ohne eine Kopie davon, wie sie vorher waren: ${p.reason}`,
  'data.notOurs': (p) =>
    `${p.path} ist beschädigt oder stammt nicht von diesem Programm und blieb, wie es ist. Verschiebe die Datei, falls sie etwas anderes ist, oder starte mit einem anderen Ordner: --data ORDNER.`,
  'data.notAFolder': (p) =>
    `${p.directory} ist kein Ordner oder liegt in einer Datei. Gib einen Ordner an: --data ORDNER.`,
  'data.cannotMake': (p) =>
    `Der Ordner ${p.directory} lässt sich nicht anlegen. Gib einen anderen an: --data ORDNER.`,
  'data.notPrivate': (p) =>
    `${p.directory} ist für andere Benutzer lesbar und enthält andere Dateien; Aufzeichnungen wären dort nicht privat. Gib einen eigenen Ordner an: --data ORDNER.`,
  'data.madePrivate': (p) =>
    `${p.path} war für andere Benutzer dieses Rechners lesbar und ist es jetzt nur noch für dich.`,
  'data.littleRoom': (p) =>
    `Auf dem Datenträger mit ${p.directory} sind nur ${p.megabytes} MB frei. Schaffe Platz, bevor du aufzeichnest.`,
  'data.documentsDamaged': (p) =>
    `${p.count} ${p.count === 1 ? 'gespeicherter Plan oder Trainingseintrag ist beschädigt und wurde' : 'gespeicherte Pläne oder Trainingseinträge sind beschädigt und wurden'} ausgelassen. Aufzeichnungen sind nicht betroffen.`,
  'data.logDamaged': (p) =>
    `Die letzten Augenblicke vor dem Abbruch des Hubs waren nicht alle lesbar, weil eine Datei beschädigt war. Alles davor ist da. Eine Kopie der beschädigten Datei liegt in ${p.copy}.`,
  'data.noSuchAthlete': (p) => `Es gibt keinen Athleten ${p.athleteId}, der einen Sensor bekommen könnte.`,
  'data.noImportedParts': (p) =>
    `Die Sitzung ${p.sessionId} wird gerade aufgezeichnet und nimmt keine importierten Teile an.`,
  'data.notRewritten': 'Eine Aufzeichnung ließ sich nicht neu schreiben; nichts wurde gelöscht.',
  'data.notRecording': (p) => `Die Sitzung ${p.sessionId} wird nicht aufgezeichnet.`,
  'data.noSuchSession': (p) => `Es gibt keine Sitzung ${p.sessionId}.`,
  'data.sessionThere': (p) => `Es gibt schon eine Sitzung ${p.sessionId}.`,
  'data.correctionThere': (p) => `Es gibt schon eine Korrektur ${p.correctionId}.`,
  'data.athleteRecorded': 'Dieser Athlet wird gerade aufgezeichnet. Beende zuerst die Sitzung.',
  'data.sessionRecorded': 'Diese Sitzung wird gerade aufgezeichnet. Beende sie zuerst.',
  'data.inMemoryOnly': 'Diese Aufzeichnungen liegen nur im Arbeitsspeicher; es gibt nichts zu kopieren.',
  'data.restReadable': (p) => `${p.damage} Der Rest dieser Aufzeichnung ist lesbar. Die Datei ist ${p.path}.`,
  'damage.packetsMissing': (p) =>
    `${p.count} ${packets(p.count)} dieser Aufzeichnung ${p.count === 1 ? 'fehlt' : 'fehlen'}.`,
  'damage.packetsDamaged': (p) =>
    `Etwa ${p.count} ${packets(p.count)} dieser Aufzeichnung ${p.count === 1 ? 'ist' : 'sind'} beschädigt und nicht lesbar.`,
  'damage.restMissing': 'Der Rest dieser Aufzeichnung ist nicht mehr zu finden.',
  'damage.sensor': 'Ein Sensor dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',
  'damage.mark': 'Eine Marke dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',
  'damage.hold': 'Eine Apnoe dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',
  'damage.alarm': 'Ein Alarm dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',
  'damage.settings':
    'Eine Änderung der Einstellungen in dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',
  'damage.link': 'Ein Verbindungswechsel dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',
  'damage.change':
    'Wer in dieser Aufzeichnung kam, ging oder Sensoren wechselte, ist an einer Stelle beschädigt und wurde weggelassen.',
  'damage.schedule': 'Ein geplanter Beginn in dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',
  'damage.unwatched':
    'Eine Strecke dieser Aufzeichnung, in der niemand überwacht wurde, ist beschädigt und wurde ausgelassen.',
  'damage.alive': 'Das letzte Lebenszeichen dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',
  'damage.correction': 'Eine Korrektur dieser Aufzeichnung ist beschädigt und wurde ausgelassen.',

  'backup.fileThere': (p) => `${p.path} gibt es schon. Gib der Sicherung einen anderen Namen.`,
  'backup.noFolder': (p) => `Den Ordner von ${p.path} gibt es nicht. Lege ihn zuerst an.`,
  'backup.unreadable': (p) => `Die Datei ${p.path} ist nicht lesbar. Prüfe den Pfad und die Zugriffsrechte.`,
  'backup.notABackup': (p) => `${p.path} ist keine Sicherung dieses Programms; nichts wurde verändert.`,
  'backup.cutOff': (p) =>
    `${p.path} ist abgeschnitten: Ein Teil der Sicherung fehlt; nichts wurde verändert.`,
  'backup.somethingAdded': (p) =>
    `An ${p.path} ist etwas angehängt, deshalb ist der Datei nicht zu trauen; nichts wurde verändert.`,
  'backup.damaged': (p) => `${p.path} ist beschädigt: Die Prüfsumme stimmt nicht; nichts wurde verändert.`,
  'backup.recordingsThere': (p) =>
    `${p.directory} enthält schon Aufzeichnungen. Gib einen leeren Ordner an (--data ORDNER), oder füge --replace hinzu, um sie beiseitezulegen.`,
  'backup.newerVersion': (p) =>
    `${p.path} stammt von einer neueren Version dieses Programms. Aktualisiere das Programm und versuche es noch einmal.`,
  'backup.cannotOpen': (p) =>
    `Die Aufzeichnungen in ${p.path} lassen sich nicht öffnen; nichts wurde verändert.`,
  'backup.notUnlocked':
    'Die Sicherung ließ sich nicht aufschließen: Die Passphrase ist eine andere, oder die Datei wurde verändert oder abgeschnitten. Nichts wurde verändert.',
  'backup.noPassphrase':
    'Diese Sicherung ist verschlossen. Gib ihre Passphrase in SLACKWATER_BACKUP_PASSPHRASE oder der Einstellungsdatei an; nichts wurde verändert.',
  'backup.needsPassphrase':
    '--backup-folder braucht auch --backup-passphrase (oder SLACKWATER_BACKUP_PASSPHRASE), mit 12 Zeichen oder mehr: Geplante Sicherungen sind immer verschlossen.',
  'backup.hubRunning': (p) =>
    `Auf den Aufzeichnungen in ${p.directory} läuft ein Hub. Beende ihn und versuche es noch einmal.`,

  'build.importMissing':
    'Ein Teil des Programms, der Dateien liest, ist nicht gebaut. Führe "npm run build" aus und starte neu.',
  'build.reviewMissing':
    'Ein Teil des Programms, der Aufzeichnungen auswertet, ist nicht gebaut. Führe "npm run build" aus und starte neu.',
  'server.hostNotLoopback': (p) =>
    `--host ${p.host} ist keine eigene Adresse dieses Rechners. Um andere Geräte einzulassen, verschlüsselt und mit Beitrittscodes, verwende --lan.`,
  'server.portBusy': (p) =>
    `Port ${p.port} ist schon belegt, vielleicht von einem anderen Hub. Beende ihn, oder wähle mit ${p.portOption} einen anderen Port.`,
  'server.portForbidden': (p) =>
    `Für Port ${p.port} fehlen diesem Benutzer die Rechte. Wähle mit ${p.portOption} einen über 1023.`,
  'server.noSuchHost': (p) => `Dieser Rechner hat keine Adresse "${p.host}". Berichtige ${p.hostOption}.`,
  'server.cannotListen': (p) => `Der Hub kann unter ${p.host}:${p.port} keine Verbindungen annehmen.`,
  'lan.certificateNotKept': (p) =>
    `Das Zertifikat des Hubs lässt sich in ${p.directory} nicht ablegen. Schaffe Platz auf dem Datenträger, oder wähle mit --data einen anderen Ordner.`,
  'authority.profileTitle': 'Slackwater-Hub',
  'authority.profileText':
    'Lässt dieses Gerät dem Slackwater-Hub trauen, von dem es stammt: seinen Namen und privaten Netzadressen, sonst niemandem. Richte es erst ein, wenn du seinen Code verglichen hast. Entferne es, wenn du den Hub nicht mehr benutzt.',
  'lan.certificateChanged':
    'Das Zertifikat des Hubs ist ein anderes: Es war seinem Ende nah, oder der Hub hat andere Namen, Adressen oder Einstellungen. Geräte, die das frühere angenommen hatten, werden noch einmal gewarnt; wer der Ausgabestelle des Hubs vertraut, nicht.',
  'lan.authorityChanged':
    'Die Ausgabestelle des Hubs ist eine andere: Die frühere war ihrem Ende nah oder beschädigt. Entferne sie von den Geräten, die ihr vertrauten, und richte dort diese ein.',
  'lan.notVouchedForAddress': (p) =>
    `Die Ausgabestelle des Hubs bürgt nur für Adressen privater Netze, und ${p.address} ist keine: Dort warnen Browser trotzdem. Tritt stattdessen unter dem Namen des Hubs bei.`,
  'lan.notVouchedFor': (p) =>
    `Die Ausgabestelle des Hubs darf nicht für ${p.name} bürgen: Dort warnen Browser trotzdem. Tritt über eine andere Adresse bei; oder lösche lan-authority.pem im Datenordner, starte den Hub neu und richte die neue Ausgabestelle ein.`,
  'lan.given.pair': '--certificate und --key gehören zusammen: Gib beide Dateien an oder keine.',
  'lan.given.orAuthority':
    'Mit --certificate unterschreibt der Hub nichts selbst: Lass das oder --lan-authority weg.',
  'lan.given.noFile': (p) =>
    `Es gibt keine Datei ${p.path}. Sage mit --certificate und --key, wo die beiden liegen.`,
  'lan.given.mayNotRead': (p) =>
    `Der Hub darf ${p.path} nicht lesen. Gib dem Benutzer, unter dem er läuft, das Recht dazu.`,
  'lan.given.unreadable': (p) => `${p.path} lässt sich nicht lesen (${p.reason}).`,
  'lan.given.noCertificate': (p) =>
    `In ${p.path} ist kein Zertifikat: Es muss PEM-Text sein, das des Hubs zuerst.`,
  'lan.given.noKey': (p) => `In ${p.path} ist kein privater Schlüssel: Er muss PEM-Text sein.`,
  'lan.given.lockedKey': (p) =>
    `Der Schlüssel in ${p.path} ist mit einem Kennwort verschlossen, das der Hub nicht eintippen kann. Gib ihm einen ohne.`,
  'lan.given.otherKey': (p) =>
    `Das erste Zertifikat in ${p.path} gehört nicht zum Schlüssel in ${p.key}. Beide müssen zusammen ausgestellt sein, und das Zertifikat des Hubs muss vor denen seiner Ausgabestelle stehen.`,
  'lan.given.ended': (p) => `Das Zertifikat in ${p.path} ist am ${p.day} abgelaufen. Erneuere es.`,
  'lan.given.notBegun': (p) =>
    `Das Zertifikat in ${p.path} gilt erst ab ${p.day}. Sieh nach, ob die Uhr dieses Rechners stimmt.`,
  'lan.given.noNames': (p) =>
    `Das Zertifikat in ${p.path} nennt keinen Rechner (subjectAltName): Browser nehmen es nirgends an.`,
  'lan.given.notTaken': (p) =>
    `Die Zertifikatsdateien sind geändert worden und werden nicht benutzt: ${p.problem} Das frühere gilt weiter; es endet in ${p.days} Tagen.`,
  'lan.given.ends': (p) =>
    `Das Zertifikat in ${p.path} endet in ${p.days} Tagen. Erneuere es; der Hub nimmt das neue binnen einer Minute von selbst auf.`,
  'ownKey.notKept': (p) =>
    `Der Schlüssel, an dem der Hub dich erkennt, lässt sich in ${p.directory} nicht ablegen. Schaffe Platz auf dem Datenträger, oder wähle mit --data einen anderen Ordner.`,
  'lan.noNetwork':
    'Dieser Rechner ist in keinem Netz, in dem andere Geräte ihn erreichen könnten. Verbinde ihn und öffne diese Seite noch einmal.',
  'lan.devicesSetAside': (p) =>
    `Die Liste der beigetretenen Geräte war nicht lesbar und liegt jetzt als ${p.path}.damaged beiseite (${p.reason}). Die Geräte müssen noch einmal beitreten.`,
  'lan.devicesUnreadable': (p) =>
    `Die Liste der beigetretenen Geräte ${p.path} ist nicht lesbar (${p.reason}). Die Geräte müssen noch einmal beitreten.`,
  'lan.nameNotAnnounced': (p) =>
    `Der Name ${p.name} lässt sich in diesem Netz nicht ankündigen (${p.reason}). Verwende die Adresse oder den QR-Code.`,

  'output.fails': (p) => `${p.output} ist als Alarmausgabe nicht zu gebrauchen: ${p.reason}.`,
  'output.loudspeaker': (p) => `Lautsprecher (${p.program})`,
  'output.command': (p) => `Befehl (${p.program})`,
  'output.webhook': (p) => `Webhook (${p.host})`,
  'output.mqtt': (p) => `Broker (${p.host})`,
  'output.noMqtt': 'das Paket mqtt ist nicht installiert',
  'output.escalation': (p) => `${p.output}, gerufen nach ${p.seconds} s ohne Antwort`,
  'output.endedEarly': (p) => `${p.program} war zu Ende, bevor der Ton vorbei war`,
  'output.endedBySignal': (p) => `${p.program} wurde durch ${p.signal} beendet`,
  'output.tooLong': (p) => `${p.program} war nach ${p.seconds} s nicht zu Ende`,
  'output.hangs': (p) => `${p.program} hängt`,
  'output.noPlayer':
    'Der Hub hat kein Programm, das Töne abspielt (gesucht: pw-play, paplay, aplay, afplay, PowerShell): Alarme ertönen nur auf den Seiten. Halte eine Seite mit eingeschaltetem Ton offen.',
  'output.notStarted': (p) => `${p.program} ließ sich nicht starten: ${p.reason}`,
  'output.endedWithCode': (p) => `${p.program} endete mit Code ${p.code}`,
  'output.endedWithCodeAndText': (p) => `${p.program} endete mit Code ${p.code}: ${p.text}`,
  'output.noAnswer': (p) => `${p.host} hat nicht geantwortet: ${p.reason}`,
  'output.elsewhere': (p) =>
    `${p.host} verweist den Alarm an eine andere Adresse (${p.status}); dem wird nicht gefolgt: Trage diese Adresse in die Einstellungen ein`,
  'output.answered': (p) => `${p.host} antwortete mit ${p.status}`,
};
