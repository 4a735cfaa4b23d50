// Sensors in German: how each link stands, why a link ended, what keeps a radio from working, faults of sensor profiles
// and captures, and what a replay says of its recording.

import type { SaidWords } from './en.ts';
import type { sensorWordsInEnglish } from './en-sensors.ts';

const lockedReading = {
  heartRate: 'die Herzfrequenz',
  saturation: 'die Sättigung',
  readings: 'ein Datenstrom',
} as const;
const refusedReading = {
  heartRate: 'keine Herzfrequenz',
  saturation: 'keine Sättigung',
  readings: 'keinen Datenstrom',
} as const;

export const sensorWordsInGerman: Pick<SaidWords, keyof typeof sensorWordsInEnglish> = {
  'sensor.inRange':
    'In Reichweite. Weise ihn einem Athleten zu, um ihn zu verwenden; um ihn von anderen zu unterscheiden, schalte ihn aus und wieder ein und schau hierher.',
  'sensor.appeared': (p) =>
    `Signal vor ${p.agoS} s aufgetaucht. Weise den Sensor einem Athleten zu, um ihn zu verwenden.`,
  'sensor.signalGone': (p) => `Signal seit ${p.forS} s weg.`,
  'sensor.notHeard':
    'Nicht zu hören. Er ist vielleicht ausgeschaltet, außer Reichweite oder mit einem anderen Gerät oder einer App verbunden. Schalte ihn ein oder lege ihn an und bleib im Umkreis weniger Meter.',
  'sensor.heardOnly': 'Zu hören; die Verbindung folgt, sobald es geht.',
  'sensor.lastTime': (p) => `${p.state} Beim letzten Mal: ${p.reason}.`,
  'sensor.lost': (p) => `Verloren: ${p.reason}. Verbindet sich von selbst, sobald er wieder zu hören ist.`,
  'sensor.silent': (p) =>
    `Verloren: seit ${p.forS} s nichts und keine Antwort. Prüfe, ob er an und in der Nähe ist; er verbindet sich von selbst wieder.`,
  'sensor.noReadings': (p) =>
    `Verbunden, aber seit ${p.forS} s keine Messwerte. Prüfe, ob er an Finger oder Brust gut sitzt.`,
  'sensor.locked':
    'Zu hören und verbunden, aber gesperrt: Er verlangt eine Kopplung, vielleicht mit einem Code, und das kann dieser Hub so, wie er gestartet wurde, nicht. Unter Linux starte ihn mit --radio bluez; sonst sieh in der App oder Anleitung des Sensors nach, ob er auch ungekoppelt arbeitet. Der Hub versucht es von selbst wieder.',
  'sensor.notPaired': (p) =>
    `Zu hören und verbunden, aber nicht gekoppelt: ${p.reason}. Der Hub versucht es von selbst wieder.`,
  'sensor.typeCode':
    'Er verlangt einen Code, den er anzeigt oder der in seiner Anleitung steht: Gib ihn binnen einer halben Minute unter Geräte ein.',
  'sensor.showCode': 'Er verlangt, dass auf ihm ein Code eingegeben wird: Welcher, steht unter Geräte.',
  'sensor.compareCode':
    'Er zeigt einen Code: Sag unter Geräte binnen einer halben Minute, ob es derselbe ist.',
  'sensor.partlyLocked': (p) =>
    `Verbunden, aber ${lockedReading[p.what]} ist gesperrt: Dafür verlangt er eine Kopplung, und die kann dieser Hub nicht. Alles andere geht.`,
  'sensor.partlyRefused': (p) => `Verbunden, aber er sendet ${refusedReading[p.what]}. Alles andere geht.`,
  'sensor.takesNoLink':
    'Zu hören, aber er nimmt gerade keine Verbindung an: Er ist vielleicht mit einem anderen Gerät oder einer App verbunden. Beende das, oder schalte den Sensor aus und wieder ein.',
  'sensor.advertisesSeldom': (p) =>
    `Nur alle ${p.everyS} s zu hören: Verbinden dauert bis zu einer Minute. Meist hilft es, ihn zu wecken, indem man ihn anlegt.`,
  'sensor.linkLimit':
    'Jeder Bluetooth-Adapter, der ihn hört, hat so viele Verbindungen, wie er halten kann. Stecke einen weiteren Adapter ein (er wird von selbst benutzt, wenn --adapter keine nennt), oder gib einen Sensor frei, der nicht gebraucht wird.',
  'sensor.sendsSeldom': (p) =>
    `Sendet nur alle ${p.everyS} s einen Messwert: Um so viel später kommen Alarme.`,
  'sensor.onlySpotChecks':
    'Er gibt nur einzelne Messungen und keinen Strom davon: für eine Apnoe ungeeignet, und kein Alarm stützt sich darauf.',
  'sensor.batteryLow': (p) => `Batterie bei ${p.percent} %: vor der Sitzung laden oder wechseln.`,
  'sensor.batteryLowAbout': (p) =>
    `Batterie bei ${p.percent} %: vor der Sitzung laden oder wechseln. ${p.about}`,
  'sensor.model': (p) => p.model,
  'sensor.firmware': (p) => `Firmware ${p.firmware}`,
  'sensor.modelAndFirmware': (p) => `${p.model}, Firmware ${p.firmware}`,
  'sensor.simulatedLoss': 'SIMULIERTER Verlust der Verbindung; sie kommt von selbst wieder.',

  'link.changedHands': 'er ist bei jemand anderem',
  'link.cameLate': (p) =>
    `sein Funkgerät war ${p.forS} s nicht erreichbar; ${p.count} Pakete aus dieser Zeit kamen verspätet`,
  'link.cameForNobody': (p) =>
    `${p.count} Pakete kamen verspätet, die vor der Sitzung gesendet wurden oder als niemand in ihr den Sensor trug: nicht aufgezeichnet`,
  'link.wentSilent': 'er ist verstummt',
  'link.cancelNotTaken': 'der Adapter hat einen Verbindungsversuch nicht abgebrochen',
  'link.servicesLate': 'seine Dienste wurden nicht rechtzeitig aufgezählt',
  'link.noAnswerInTime': 'keine rechtzeitige Antwort',
  'link.closeNotConfirmed': 'der Adapter hat das Ende einer Verbindung nicht bestätigt',
  'link.fellSilent': 'er ist verstummt und hat nicht geantwortet',
  'link.noReadings': 'er hat geantwortet, aber keine Messwerte gesendet',
  'link.adapterRestarted': 'der Bluetooth-Adapter wurde neu gestartet',
  'link.adapterGone': 'der Bluetooth-Adapter ist nicht verfügbar',
  'link.attemptGivenUp': 'der Verbindungsversuch war schon aufgegeben',
  'link.nothingUnderstood':
    'er bietet keine Messwerte, die dieser Hub versteht; vielleicht hilft ein Sensorprofil',
  'link.servicesNotListed': (p) => `seine Dienste ließen sich nicht aufzählen (${p.reason})`,
  'link.wantsPairing': 'er verlangt zuerst eine Kopplung',
  'link.notSending': (p) => `er hat nicht angefangen zu senden (${p.reason})`,
  'link.lost': (p) => `die Verbindung ging verloren (${p.reason})`,
  'link.lostInSetup': (p) => `die Verbindung ging beim Einrichten verloren (${p.reason})`,
  'link.otherSensor': 'ein anderer Sensor seines Namens war nicht dieser',
  'link.noCharacteristic': (p) => `er hat keine Charakteristik ${p.characteristic}`,
  'link.ended': 'die Verbindung ist zu Ende',
  'link.badServiceList': 'seine Liste der Dienste ergibt keinen Sinn',
  'link.noneThere': 'es gibt keine',
  'link.refusedWithCode': (p) => `abgelehnt mit Code ${p.code}`,
  'link.locked': 'er ist gesperrt: er verlangt zuerst eine Kopplung',
  'link.lockedAfterPairing':
    'er bleibt gesperrt, obwohl es einen Schlüssel für ihn gibt: vergiss den Schlüssel unter Geräte, dann koppelt er neu',
  'link.keyRefused':
    'er kennt den Schlüssel nicht mehr, den dieser Computer aufbewahrt: vergiss den Schlüssel unter Geräte, dann koppelt er neu',
  'link.keyDoubted':
    'seine Verbindungen enden, sobald der Schlüssel benutzt wird, den dieser Computer aufbewahrt; vielleicht kennt er ihn nicht mehr: vergiss den Schlüssel unter Geräte, dann koppelt er neu',
  'link.codeRefused': 'der Code war nicht der richtige',
  'link.pairingFailed': 'die Kopplung ist gescheitert; vielleicht war der Code nicht der richtige',
  'link.pairingCancelled': 'die Kopplung wurde abgebrochen',
  'link.pairingLate': 'niemand hat rechtzeitig geantwortet',
  'link.noLongerAnswers': 'er antwortet auf dieser Verbindung nicht mehr',
  'link.didNotAnswer': 'er hat nicht geantwortet',
  'link.notHeardSinceStart': 'er war seit dem Start des Adapters nicht zu hören',
  'link.openAlready': 'eine Verbindung zu ihm ist schon offen',
  'link.givenUp': 'aufgegeben',
  'link.noSuchLink': 'diese Verbindung gibt es nicht',
  'link.outOfRange': 'außer Reichweite oder ausgeschaltet',
  'link.sensorEnded': 'der Sensor hat sie beendet',
  'link.sensorLowOnResources': 'dem Sensor gingen die Mittel aus',
  'link.sensorSwitchingOff': 'der Sensor schaltet sich aus',
  'link.hubEnded': 'der Hub hat sie beendet',
  'link.sensorTooLate': 'der Sensor hat zu spät geantwortet',
  'link.timingRefused': 'der Sensor hat die Zeitvorgaben abgelehnt',
  'link.corrupted': 'die Verbindung war gestört',
  'link.notEstablished': 'sie kam nicht zustande',
  'link.code': (p) => `Code ${p.code}`,
  'link.noReason': 'kein Grund angegeben',

  'radio.because': (p) => `${p.advice} (${p.reason})`,
  'radio.noBluetooth.linux':
    'Dieses System hat keine Unterstützung für Bluetooth: Sie fehlt dem Kernel oder ist in einem Container oder einer virtuellen Maschine gesperrt. Lass den Hub auf dem Rechner selbst laufen, oder verwende ein Funkmodul an einer seriellen Schnittstelle.',
  'radio.noBluetooth.darwin':
    'Dieser Mac bietet kein Bluetooth. Lass den Hub auf dem Rechner selbst laufen statt in einer virtuellen Maschine, oder verwende ein Funkmodul an einer seriellen Schnittstelle.',
  'radio.noBluetooth.win32':
    'Windows bietet hier kein Bluetooth Low Energy; nötig sind Windows 10 ab Version 1703 und ein Adapter. Aktualisiere, stecke einen Adapter ein, oder verwende ein Funkmodul an einer seriellen Schnittstelle.',
  'radio.noAdapter.linux':
    'Kein Bluetooth-Adapter gefunden. Stecke einen ein; ist einer da, sieh nach, ob "bluetoothctl list" ihn nennt. Der Hub sucht weiter.',
  'radio.noAdapter.darwin':
    'Kein Bluetooth-Adapter gefunden. Sieh in den Systemeinstellungen unter Bluetooth nach. Der Hub sucht weiter.',
  'radio.noAdapter.win32':
    'Kein Bluetooth-Adapter gefunden. Stecke einen ein, oder suche ihn im Geräte-Manager unter Bluetooth. Der Hub sucht weiter.',
  'radio.noPermission.linux':
    'Der Hub darf den Bluetooth-Adapter nicht benutzen: Ihm fehlt CAP_NET_RAW. Führe aus: sudo setcap cap_net_raw+eip "$(readlink -f "$(which node)")" und starte den Hub neu; unter systemd setze stattdessen AmbientCapabilities=CAP_NET_RAW.',
  'radio.noPermission.bluez':
    'Das System lässt diesen Benutzer nicht mit seinem Bluetooth-Dienst sprechen. Führe aus: sudo usermod -aG bluetooth "$USER", melde dich ab und wieder an und starte den Hub neu.',
  'radio.noPermission.darwin':
    'Der Hub darf Bluetooth nicht benutzen. Öffne Systemeinstellungen, Datenschutz & Sicherheit, Bluetooth, erlaube es dem Terminal, aus dem du den Hub gestartet hast, und starte den Hub neu.',
  'radio.noPermission.win32':
    'Der Hub darf Bluetooth nicht benutzen. Öffne Einstellungen, Datenschutz & Sicherheit, und erlaube Desktop-Apps die Funkgeräte; starte dann den Hub neu.',
  'radio.adapterOff.linux':
    'Der Bluetooth-Adapter ist ausgeschaltet. Führe "bluetoothctl power on" aus; wird das abgelehnt, "rfkill unblock bluetooth". Der Hub macht von selbst weiter.',
  'radio.adapterOff.darwin':
    'Bluetooth ist ausgeschaltet. Schalte es im Kontrollzentrum oder in den Systemeinstellungen ein. Der Hub macht von selbst weiter.',
  'radio.adapterOff.win32':
    'Bluetooth ist ausgeschaltet. Schalte es unter Einstellungen, Bluetooth und Geräte ein. Der Hub macht von selbst weiter.',
  'radio.unsupported':
    'Hier gibt es kein Bluetooth Low Energy, das Sensoren für Herzfrequenz und Sättigung brauchen: Der Adapter ist älter als Version 4.0, oder das System (vielleicht ein Container) hat gar kein Bluetooth. Verwende einen Adapter ab Version 4.0 am Rechner selbst.',
  'radio.libraryMissing.linux':
    'Die Bluetooth-Bibliothek ließ sich nicht laden. Führe "npm install" noch einmal aus, mit einem C++-Compiler und Python 3; bis dahin gehen Aufzeichnungen, Wiedergabe und Simulator.',
  'radio.libraryMissing.darwin':
    'Die Bluetooth-Bibliothek ließ sich nicht laden. Führe "npm install" noch einmal aus, mit den Befehlszeilenwerkzeugen von Xcode; bis dahin gehen Aufzeichnungen, Wiedergabe und Simulator.',
  'radio.libraryMissing.win32':
    'Die Bluetooth-Bibliothek ließ sich nicht laden. Führe "npm install" noch einmal aus, mit den C++-Buildtools von Visual Studio; bis dahin gehen Aufzeichnungen, Wiedergabe und Simulator.',
  'radio.radioProcessFailed':
    'Der Bluetooth-Prozess ist stehen geblieben und wird neu gestartet. Hört das nicht auf, zieh den Adapter ab und stecke ihn wieder ein.',
  'radio.noDaemon':
    'Der Bluetooth-Dienst dieses Systems (bluetoothd) läuft nicht oder antwortet nicht. Führe aus: sudo systemctl enable --now bluetooth; wenn es ihn nicht gibt, installiere das Paket bluez oder starte den Hub mit --radio noble. Der Hub versucht es weiter.',
  'radio.bluezOwnAdapter': (p) =>
    `--radio bluez benutzt Adapter dieses Computers: default, hci0, hci1 und so weiter, nicht ${p.adapter}`,
  'radio.unreachable': (p) =>
    `Der Bluetooth-Adapter an ${p.transport} ist nicht zu erreichen. Prüfe Kabel und Adresse; der Hub versucht es weiter.`,
  'radio.notReached':
    'Es ist über das Netz nicht erreichbar. Sieh nach, ob es Strom und Netz hat; es kommt von selbst wieder.',
  'radio.away': (p) =>
    `Das Funkgerät ${p.radio} ist über das Netz nicht erreichbar. Seine Sensoren gelten bis dahin als stumm; was sie inzwischen senden, wird dort bis zu zehn Minuten aufgehoben und dann aufgezeichnet.`,
  'radio.elsewhere': (p) => `Funkgerät ${p.radio}: ${p.problem}`,
  'radio.awayTooLong': 'es war zehn Minuten lang über das Netz nicht erreichbar',
  'radio.begunAnew': 'es wurde neu gestartet',
  'radio.noAnswer': 'der Adapter hat nicht geantwortet',
  'radio.connectionEnded': 'die Verbindung ist zu Ende',
  'radio.framingLost': (p) => `der Bytestrom ist aus dem Takt geraten (Pakettyp ${p.packetType})`,
  'radio.lateStart': 'er ist nicht rechtzeitig gestartet',
  'radio.stoppedAnswering': 'er antwortet nicht mehr',
  'radio.endedBySignal': (p) => `er endete mit ${p.signal}`,
  'radio.endedWithCode': (p) => `er endete mit Code ${p.code}`,
  'radio.noSuchPort': (p) => `diesen Port gibt es nicht: ${p.port}; ${p.forms}`,
  'radio.notAnAdapter': (p) => `"${p.text}" bezeichnet keinen Bluetooth-Adapter; ${p.forms}`,
  'radio.addressForms': 'verwende serial:PFAD, serial:PFAD@BAUD, tcp:RECHNER:PORT oder unix:PFAD',

  'profile.unreadable': (p) => `${p.path}: nicht lesbar: ${p.reason}`,
  'profile.tooMany': (p) =>
    `${p.folder}: dort liegen mehr als ${p.most} Profile; dem Namen nach ab ${p.from} werden sie nicht gelesen`,
  'profile.clash': (p) =>
    `${p.file} liest die Charakteristik ${p.characteristic} schon, und nichts unterscheidet ihre Sensoren von diesen: Messwerte des einen würden aus Bytes des anderen gemacht. Jedem Profil einen eigenen Namen geben und unter Erkannt an einen eigenen Anfang des Sensornamens (match.namePrefix), oder eines der beiden entfernen`,
  'profile.clashOf': (p) => `${p.file}: ${p.clash}`,
  'profile.standardCharacteristic':
    'wird nach dem Standard gelesen, bei jedem Sensor, der es hat: ein Profil dafür würde alle diese lesen',
  'profile.problem': (p) => `${p.file}:${p.line}:${p.column}: ${p.reason}`,
  'profile.problemAt': (p) => `${p.file}:${p.line}:${p.column}: ${p.place}: ${p.reason}`,
  'profile.notUuid': 'ist keine UUID: vier Hexadezimalziffern, oder 32 mit oder ohne Striche',
  'profile.notHex': 'braucht 1 bis 64 Bytes in Hexadezimalziffern, etwa "a5 01"',
  'profile.notByteTable': 'hat Bytes als Schlüssel, etwa "220" oder "0xdc"',
  'profile.bits': (p) => `braucht das niedrigste und das höchste Bit, von 0 bis ${p.most}`,
  'profile.zero': 'darf nicht 0 sein',
  'profile.version': 'muss 1 sein, die Version dieses Formats',
  'profile.unrecognisable':
    'braucht einen service oder einen namePrefix, sonst ist der Sensor nicht zu erkennen',
  'profile.unknownSource': 'ist weder link.notify noch eines von link.also',
  'profile.outsideFrame': (p) => `liegt außerhalb des Rahmens von ${p.bytes} Bytes`,
  'profile.partsAlone': 'steht anstelle von bits und count',
  'profile.waveformRate': 'eine Kurve braucht ihre rateHz',
  'profile.slowEcg': (p) => `Schläge werden ab ${p.hz} Werten in der Sekunde gefunden`,
  'profile.onlyWaveformCounts': 'nur eine Kurve oder rrIntervalMs kann mehrere Zahlen haben',
  'profile.endMark': 'hat ein bis vier Bytes',
  'profile.oneCounter': 'nur ein Feld kann der Zähler sein',
  'profile.noReading': (p) => `keines ergibt einen Messwert (${p.channels})`,
  'profile.notLongerThanSync': 'ist nicht länger als die Bytes von sync',
  'profile.notBeforeChecksum': 'liegt nicht vor der Prüfsumme selbst',
  'profile.maskLength': 'hat so viele Bytes wie sync',
  'profile.maskLeavesOut': 'lässt Bits aus, die verlangt sind',
  'profile.tooLarge': 'ist zu groß für ein Sensorprofil',
  'profile.empty': 'ist leer',
  'profile.notJson': (p) => `ist kein JSON: ${p.fault}`,
  'bench.notHeard':
    'Dieser Sensor ist nicht mehr zu hören. Schalte ihn ein, bring ihn in die Nähe und sieh dich noch einmal um.',
  'bench.worn': 'Jemand trägt diesen Sensor. Gib ihn zuerst unter Personen und Sensoren niemandem.',
  'bench.badFile':
    'Die Datei eines Profils heißt mit Buchstaben, Ziffern, Punkten und Strichen und endet auf .json.',
  'bench.notInOrder': (p) => `Nicht gespeichert, weil noch etwas nicht stimmt: ${p.where}: ${p.reason}.`,
  'profile.unknownKeys': (p) => `kennt ${p.keys} nicht`,

  'capture.line': (p) => `Zeile ${p.line}: ${p.reason}`,
  'capture.notMilliseconds': (p) => `"${p.time}" ist keine Zahl von Millisekunden`,
  'capture.notUuid': (p) => `"${p.text}" ist keine UUID`,
  'capture.notHex': 'die Bytes sind keine Paare von Hexadezimalziffern',

  'replay.unreadable': (p) => `Die Datei ${p.path} ist nicht lesbar. Prüfe den Pfad und die Zugriffsrechte.`,
  'replay.malformed': (p) => `${p.file}, ${p.fault}.`,
  'replay.noRows': 'es gibt nichts wiederzugeben: die Datei hat eine Kopfzeile und keine Zeilen',
  'replay.beginsAt': (p) => `Die Datei beginnt bei ${p.seconds} s; dort beginnt die Wiedergabe.`,
  'replay.noPleth': 'Die Pulswelle dieser Datei wird nicht wiedergegeben.',
  'replay.noSuchRecording': (p) => `Im Datenordner gibt es keine Aufzeichnung ${p.sessionId}.`,
  'replay.interrupted':
    'Diese Aufzeichnung wurde unterbrochen: Der Hub wurde beendet, bevor die Sitzung zu Ende war.',
};
