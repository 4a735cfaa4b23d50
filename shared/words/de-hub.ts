// What the hub refuses and gives notice of, in German.

import type { SaidWords } from './en.ts';
import type { hubWordsInEnglish } from './en-hub.ts';

export const hubWordsInGerman: Pick<SaidWords, keyof typeof hubWordsInEnglish> = {
  'refusal.sessionRunning': 'Es wird bereits eine Sitzung aufgezeichnet. Beende sie zuerst.',
  'refusal.noSession': 'Es wird keine Sitzung aufgezeichnet.',
  'refusal.noAthletes': 'Wähle mindestens einen Athleten.',
  'refusal.unknownAthlete': 'Dieser Athlet ist diesem Hub nicht bekannt.',
  'refusal.unknownAmongAthletes': 'Einer dieser Athleten ist diesem Hub nicht bekannt.',
  'refusal.notTheSame':
    'Nur von einem Sensor, der gehört wird und den niemand trägt, kann gesagt werden, dass er einer ist, den jemand trägt.',
  'refusal.notInSession': 'Dieser Athlet ist nicht in der Sitzung.',
  'refusal.notInRecording': 'Dieser Athlet ist nicht in der Aufzeichnung.',
  'refusal.athleteInSession': 'Dieser Athlet ist in der laufenden Sitzung. Beende sie zuerst.',
  'refusal.eraseBetweenSessions':
    'Aufzeichnungen lassen sich nur zwischen Sitzungen löschen. Beende diese zuerst.',
  'refusal.spotChecksOnly': (p: { readonly sensor: string; readonly name: string }) =>
    `${p.sensor} misst immer nur einmal und sendet nicht fortlaufend: kein Alarm könnte sich darauf stützen. Gib ${p.name} ein anderes Oximeter, oder nimm ${p.name} dieses weg und beginne nur mit der Herzfrequenz.`,
  'refusal.alreadyInSession': 'Diese Person ist schon in der Sitzung.',
  'refusal.lastInSession': 'Das ist die letzte Person in der Sitzung. Beende stattdessen die Sitzung.',
  'refusal.drillGoesOn': 'Es läuft schon eine Übung. Beende sie zuerst.',
  'refusal.drillInAlarm': 'Ein echter Alarm steht an. Kümmere dich zuerst um ihn.',
  'refusal.drillInHold': 'Jemand hält die Luft an oder erholt sich. Übt, wenn niemand das tut.',
  'refusal.noWords': 'Diese Nachricht gilt nicht mehr.',
  'refusal.noDrill': 'Es läuft keine Übung mehr.',
  'refusal.unknownIncident': 'Diesen Vorfall gibt es im Protokoll nicht.',
  'refusal.simulatedJoins':
    'Diese Person ist SIMULIERT und kann nicht zu einer Sitzung echter Menschen kommen.',
  'refusal.ownAthleteOnly': 'Diese Seite darf nur für ihren eigenen Athleten handeln.',
  'refusal.unknownMark': 'Diese Marke gibt es nicht, sie kann nicht zurückgenommen werden.',
  'refusal.unknownHold': 'Diese Apnoe gibt es nicht mehr.',
  'refusal.holdGoesOn': 'Diese Apnoe dauert noch an.',
  'refusal.changeNotSaved':
    'Die Änderung konnte nicht gespeichert werden. Schaffe Platz auf dem Datenträger und versuche es noch einmal.',
  'refusal.notSavedYet': (p) =>
    `Das gilt, ist aber noch nicht gesichert: Es steht nur im Speicher und ist verloren, wenn der Hub anhält, bevor der Datenträger es annimmt. Gib es nicht noch einmal ein. ${p.reason}`,
  'refusal.floorLoweredDuringHold':
    'Die Untergrenze lässt sich jederzeit anheben, aber nicht senken während einer Apnoe, in der Minute danach oder solange der Alarm der Untergrenze steht.',
  'refusal.planRunning': 'Es läuft bereits ein Plan. Beende ihn zuerst.',
  'refusal.thisPlanRuns': 'Dieser Plan läuft. Beende ihn zuerst.',
  'refusal.noPlanRuns': 'Es läuft kein Plan.',
  'refusal.athleteTwice': 'Ein Athlet kann nur einmal in einem Plan sein.',
  'refusal.ofTheHub': 'Das zu sagen ist Sache des Hubs.',
  'refusal.notInBin': 'Das liegt nicht mehr im Papierkorb.',
  'refusal.endStands': 'Dieses Ende lässt sich nicht mehr zurücknehmen. Starte den Plan neu.',
  'refusal.notOffered': 'Diese Sicherung liegt nicht mehr bereit. Wähle die Datei noch einmal.',
  'refusal.restoreBetweenSessions':
    'Eine Sicherung lässt sich zwischen Sitzungen zurückspielen. Beende diese zuerst.',
  'refusal.noSchedule':
    'Dieser Hub macht keine Sicherungen nach der Uhr: In seinen Einstellungen fehlt backup-folder.',
  'refusal.noAuthority':
    'Dieser Hub hat keine eigene Ausgabestelle: Sie entsteht, wenn er mit --lan-authority gestartet wird.',
  'refusal.noChecks':
    'Dieser Hub kann seinen Rechner nicht selbst prüfen. Führe dort aus: slackwater doctor.',
  'refusal.noRestore':
    'Dieser Hub kann nicht selbst zurückspielen. Beende ihn und starte: slackwater restore DATEI --replace.',
  'refusal.unknownPlanRun': 'Diesen Durchgang gibt es nicht; vielleicht wurde er gelöscht.',
  'refusal.notJoined': 'Dieses Gerät ist dem Hub nicht beigetreten. Bitte den Trainer um einen Code.',
  'refusal.coachOnly': 'Das darf nur ein Trainer.',
  'refusal.onlookerReads': 'Ein Zuschauer kann zusehen, aber nichts ändern und keine Aufzeichnungen lesen.',
  'refusal.onlookerChanges': 'Ein Zuschauer kann zusehen, aber nichts ändern.',
  'refusal.othersInSession': 'Andere sind in dieser Sitzung. Nur ein Trainer darf sie beenden.',
  'refusal.foreignName': 'Dieser Name ist keiner des Hubs.',
  'refusal.otherSite': 'Anfragen von anderen Seiten werden abgelehnt.',
  'refusal.nothingHere': 'Unter dieser Adresse ist nichts.',
  'refusal.pageNotBuilt': 'Die Seite ist nicht gebaut. Führe "npm run build" aus und starte den Hub neu.',
  'refusal.notUnderstood': 'Der Hub hat die Seite nicht verstanden. Lade sie neu.',
  'refusal.notGreeted': 'Die Seite muss sich zuerst melden. Lade sie neu.',
  'refusal.tooManyRequests': 'Zu viele Anfragen auf einmal. Warte eine Sekunde.',
  'refusal.askedTooOften': (p) => `Zu viele Anfragen auf einmal. Versuche es in ${p.seconds} s wieder.`,
  'refusal.eraseAllOnly': '"recordings" kann nur "all" sein: jede Aufzeichnung dieses Athleten mitlöschen.',
  'refusal.unknownRecording': 'Diese Aufzeichnung gibt es nicht; vielleicht wurde sie gelöscht.',
  'refusal.alreadyInRecording':
    'Diese Person ist schon in der Aufzeichnung: Niemand kann zwei Teile davon haben.',
  'refusal.recordingGoesOn': 'Diese Sitzung wird aufgezeichnet. Beende sie zuerst.',
  'refusal.correctAfterwards':
    'Diese Sitzung wird aufgezeichnet. Apnoen lassen sich korrigieren, sobald sie beendet ist.',
  'refusal.nothingToUndo': 'Es gibt keine Korrektur mehr zurückzunehmen.',
  'refusal.nothingToRedo': 'Es gibt nichts wiederherzustellen.',
  'refusal.unknownEntry': 'Diesen Eintrag gibt es nicht; vielleicht wurde er gelöscht.',
  'refusal.entryElsewhere': 'Der Eintrag gehört zu einer anderen Adresse.',
  'refusal.entryOfAnother': 'Dieser Eintrag gehört einem anderen Athleten.',
  'refusal.logFull': 'Das Tagebuch dieses Athleten ist voll.',
  'refusal.importBetweenSessions':
    'Dateien lassen sich nur zwischen Sitzungen importieren. Beende diese zuerst.',
  'refusal.backupGoesOn': 'Es wird bereits gesichert. Warte, bis das fertig ist.',
  'refusal.backupGone': 'Diese Sicherung wurde schon abgeholt oder ist zu alt. Erstelle eine neue.',
  'refusal.oddName': (p) =>
    `Der Name in "${p.field}" ist leer oder hat Zeichen, die man nicht sieht oder die die Schreibrichtung umkehren. Gib einen lesbaren an.`,
  'refusal.lanOff':
    'Der Hub antwortet nur dem eigenen Rechner. Starte ihn mit --lan, um andere Geräte einzulassen.',
  'refusal.ownMachineNoCode':
    'Auf dem Rechner des Hubs braucht es keinen Beitrittscode: öffne den Link, den der Hub in seinem Terminal gezeigt hat.',
  'refusal.linkOld':
    'Dieser Link ist zu alt oder schon benutzt. Nimm den neuesten aus dem Terminal des Hubs, oder führe "slackwater link" aus.',
  'refusal.linkOfOwnMachine': 'Dieser Link ist für den Rechner des Hubs. Hier tritt man mit einem Code bei.',
  'refusal.ownMachineStays': 'Das ist der Rechner des Hubs; er kann nicht austreten.',
  'refusal.codeGone': 'Dieser Code wurde schon benutzt oder ist schon zu alt.',
  'refusal.unknownCue': 'Diese Ansage gibt es nicht.',
  'refusal.unknownPlan': 'Diesen Plan gibt es nicht; vielleicht wurde er gelöscht.',
  'refusal.othersInPlan': 'Andere sind in diesem Plan. Nur ein Trainer darf das für sie tun.',
  'refusal.notAgreedToBeside': (p) =>
    `Zwei Personen werden nur nebeneinander gezeigt, wenn beide zugestimmt haben. Noch nicht zugestimmt: ${p.names}.`,
  'refusal.whoseDevice': 'Wähle, wessen Gerät es sein wird.',
  'refusal.codeOfAthlete': 'Nur der Code eines Athleten gehört zu einem Athleten.',
  'refusal.roomsOfCoach': 'Nur der Code eines Trainers kann für einzelne Räume sein.',
  'refusal.unknownRoom': 'Diesen Raum gibt es an dieser Schule nicht. Lade die Seite neu.',
  'refusal.wrongCode': 'Das ist kein Code dieses Hubs. Prüfe ihn oder bitte den Trainer um einen neuen.',
  'refusal.usedCode':
    'Dieser Code wurde schon benutzt; jeder lässt ein Gerät ein. Bitte den Trainer um einen anderen.',
  'refusal.codeOfRadio':
    'Dieser Code ist für ein Funkgerät in einem anderen Raum: Gib ihn dort „slackwater radio“.',
  'refusal.codeOfPage': 'Dieser Code ist für eine Seite. Bitte den Trainer um einen Code für ein Funkgerät.',
  'refusal.oldCode': 'Dieser Code ist zu alt. Bitte den Trainer um einen neuen.',
  'refusal.codeWithoutAthlete': 'Der Athlet dieses Codes wurde entfernt. Bitte den Trainer um einen neuen.',
  'refusal.unknownDevice': 'Dieses Gerät gibt es nicht.',
  'refusal.importForWhom': 'Wähle einen Athleten für diese Aufzeichnung oder benenne einen neuen.',
  'refusal.importWhen': 'Die Datei sagt nicht, wann sie aufgezeichnet wurde; gib Datum und Uhrzeit an.',
  'refusal.importSimulated':
    'Diese Aufzeichnung ist SIMULIERT; gib sie einem neuen Athleten, damit sie nie unter echten steht.',
  'refusal.noBuddy': 'Nenne deinen Buddy: Niemand trainiert allein im Wasser.',
  'refusal.correctUnknownMark': 'Diese Marke gibt es in dieser Aufzeichnung nicht mehr.',
  'refusal.correctOtherMark':
    'Hier lassen sich nur Kontraktionen und Notizen korrigieren; verschiebe stattdessen die Grenze der Apnoe.',
  'refusal.correctEmptyNote': 'Schreib zuerst etwas in die Notiz.',
  'refusal.correctMarkOutside': 'Eine Marke muss innerhalb der Aufzeichnung liegen.',
  'refusal.correctUnknownHold': 'Diese Apnoe gibt es in dieser Aufzeichnung nicht mehr.',
  'refusal.correctHoldOutside': 'Eine Apnoe muss innerhalb der Aufzeichnung liegen.',
  'refusal.correctOverlap': 'Diese Apnoe würde eine andere überlappen; verschiebe oder entferne zuerst jene.',
  'refusal.reviewFailed':
    'Die Auswertung dieser Aufzeichnung ist fehlgeschlagen. Was aufgezeichnet wurde, ist sicher. Versuche es noch einmal.',
  'refusal.reviewStopped':
    'Die Auswertung dieser Aufzeichnung wurde angehalten. Was aufgezeichnet wurde, ist sicher. Versuche es noch einmal.',
  'refusal.reviewTooLarge':
    'Diese Aufzeichnung braucht zur Auswertung mehr Speicher als erlaubt. Was aufgezeichnet wurde, ist sicher; ihre CSV-Datei können andere Programme lesen.',
  'refusal.reviewImpossible':
    'Diese Aufzeichnung konnte nicht ausgewertet werden. Was aufgezeichnet wurde, ist sicher; das Protokoll sagt, warum.',
  'refusal.hubStopping': 'Der Hub wird beendet.',
  'refusal.recordingDeleted': 'Diese Aufzeichnung wurde gelöscht.',

  'refusal.unknownImport': 'Es läuft kein solcher Import.',
  'refusal.importCancelled': 'Der Import wurde abgebrochen.',
  'refusal.importAsStream': 'Sende die Datei selbst, als application/octet-stream.',
  'refusal.unknownTimeZone': (p) => `Es gibt keine Zeitzone namens "${p.name}".`,
  'refusal.recordingNotStarted': (p) => `Die Aufzeichnung kann nicht begonnen werden: ${p.reason}`,
  'refusal.bodyField': (p) => `"${p.field}" ist nicht wie erwartet: ${p.issue}.`,
  'refusal.body': (p) => `Die Anfrage ist nicht wie erwartet: ${p.issue}.`,
  'refusal.wrongVersion': (p) =>
    `Diese Seite spricht Version ${p.page}, der Hub Version ${p.hub}. Lade die Seite neu.`,
  'refusal.tooManyCorrections': (p) =>
    `Diese Aufzeichnung hat schon ${p.most} Korrekturen, mehr sind nicht möglich.`,
  'refusal.tooManyPlans': (p) => `Die Sammlung enthält schon ${p.most} Pläne. Lösche zuerst einen.`,
  'refusal.devicesNotSaved': (p) =>
    `Die Liste der Geräte kann nicht gespeichert werden (${p.reason}). Schaffe Platz auf dem Datenträger und versuche es noch einmal.`,
  'refusal.tooManyCodes': (p) =>
    `Es gibt schon ${p.most} unbenutzte Codes. Benutze zuerst welche oder ziehe sie zurück.`,
  'refusal.tooManyWrongCodes': (p) =>
    `Zu viele falsche Codes. Warte ${p.minutes} ${p.minutes === 1 ? 'Minute' : 'Minuten'} oder tritt auf einem anderen Gerät bei.`,
  'refusal.tooManyDevices': (p) =>
    `${p.most} Geräte sind schon beigetreten. Ein Trainer kann welche entfernen.`,
  'refusal.correctTooShort': (p) => `Eine Apnoe muss mindestens ${p.seconds} s nach ihrem Beginn enden.`,
  'refusal.needsChoice': (p) => p.warnings,
  'refusal.internal':
    'Der Hub konnte das nicht tun. Sein Protokoll sagt, warum; nichts Aufgezeichnetes ist verloren.',
  'page.needsScript':
    'Slackwater braucht JavaScript: Ohne wird keine Kurve gezeichnet und ertönt kein Alarm. Erlaube es für diese Adresse.',
  'page.hubSilent': 'der Hub antwortet nicht',
  'page.hubNotAnswering': 'Hub antwortet nicht',
  'page.unknownForm': 'der Hub hat in einer Form geantwortet, die diese Seite nicht kennt',
  'page.hubStatus': (p) => `der Hub antwortete ${p.status}`,

  'resume.tooLong': (p) =>
    `Er war länger als ${p.minutes} min fort, deshalb geht es nicht von selbst weiter.`,
  'resume.timeUnknown':
    'Wie lange er fort war, ist nicht zu erkennen, deshalb geht es nicht von selbst weiter.',
  'resume.damaged': 'Die Aufzeichnung ist beschädigt, deshalb geht es nicht von selbst weiter.',
  'resume.otherVersion':
    'Das Programm ist in einer anderen Version als zuvor, deshalb geht es nicht von selbst weiter.',
  'resume.dataOfTheHub':
    'Daten einer Vorführung oder Wiedergabe beginnen mit dem Hub von vorn, deshalb geht es nicht von selbst weiter.',
  'resume.athleteGone':
    'Jemand aus der Sitzung steht nicht mehr auf der Liste, deshalb geht es nicht von selbst weiter.',
  'resume.diedTrying': 'Bei jedem Versuch endete der Hub, deshalb geht es nicht von selbst weiter.',
  'resume.notWritten': 'Es kann nicht weiter aufgezeichnet werden, deshalb geht es nicht von selbst weiter.',
  'notice.restored': (p) =>
    `Eine Sicherung wurde zurückgespielt: ${p.sessions} Aufzeichnungen. Was vorher da war, liegt in ${p.aside}; lösche es, wenn du es nicht mehr brauchst.`,
  'notice.notRestored': (p) =>
    `Die Sicherung wurde nicht zurückgespielt, und nichts wurde verändert: ${p.reason}`,
  'notice.interrupted':
    'Der Hub wurde während einer Sitzung unterbrochen. Alles davor Gesicherte ist erhalten; du findest es unter Aufzeichnungen, als unterbrochen gekennzeichnet.',
  'notice.recordingFails': (p) =>
    `Die Aufzeichnung kann nicht geschrieben werden. Überwachung und Alarme gehen weiter, und der Hub versucht es weiter. ${p.reason}`,
  'notice.notSaved': (p) =>
    `Seit ${p.since} ist ${p.session === '' ? 'nichts' : `nichts von „${p.session}“`} mehr gesichert: ${p.reason} ${
      p.held === 1 ? '1 Paket der Sensoren steht' : `${p.held} Pakete der Sensoren stehen`
    } im Speicher und ${p.held === 1 ? 'ist' : 'sind'} verloren, wenn der Hub jetzt anhält.${
      p.lost === 0 ? '' : ` ${p.lost} weitere konnten nicht gehalten werden und sind verloren.`
    } Überwachung und Alarme gehen weiter, und der Hub versucht es weiter.`,
  'notice.diskSilent': (p) => `Der Datenträger antwortet seit ${p.seconds} s nicht.`,
  'notice.packetsLost': (p) =>
    `${p.count} Pakete der Sensoren fehlen in „${p.session}“: Der Datenträger nahm sie nicht an, und mehr ließ sich nicht im Speicher halten.`,
  'notice.recordingAgain':
    'Die Aufzeichnung wird wieder geschrieben; was im Speicher gehalten wurde, ist gesichert.',
  'notice.noWatchdog': (p) =>
    `Der Wächter, der Alarm gibt, wenn der Hub selbst stehen bleibt, läuft nicht (${p.reason}); er wird neu gestartet. Halte bis dahin eine Seite offen und sieh hin.`,
  'notice.notListed': (p) =>
    `Die Liste der Aufzeichnungen war nicht lesbar. Überwachung und Alarme gehen weiter; was vorher abbrach, wird nicht gemeldet. ${p.reason}`,
  'notice.auditFull':
    'Die Liste, wer was getan hat, nimmt nichts mehr auf: Ihr Datenträger antwortet nicht. Wie viel fehlt, steht darin, sobald er es tut.',
  'notice.watchdogAgain':
    'Der Wächter, der Alarm gibt, wenn der Hub selbst stehen bleibt, läuft wieder. Dazwischen wäre ein Hub, der stehen bleibt, nicht zu hören gewesen.',
  'output.watchdog': 'Wächter',
  'watchdog.ended': (p) => `sein Prozess ging zu Ende: ${p.how}`,
  'watchdog.hung': 'sein Prozess antwortete nicht mehr und wurde beendet',
  'watchdog.stopped': (p) =>
    `WÄCHTER: Der Hub steht seit ${p.seconds} s still, mitten in einer Sitzung. Niemand wird überwacht. Kümmere dich um deine Athleten und starte dann den Hub neu. „kill ${p.pid}“ stellt das hier stumm.`,
  'watchdog.gone': (p) =>
    `WÄCHTER: Der Hub ist ohne Abschied zu Ende gegangen. Niemand wird mehr überwacht. Was gesichert war, ist erhalten; starte den Hub neu. „kill ${p.pid}“ stellt das hier stumm. Letztes Zeichen von ihm vor ${p.seconds} s.`,
  'watchdog.idleStopped': (p) =>
    `WÄCHTER (${p.pid}): Der Hub steht seit ${p.seconds} s still. Es lief keine Sitzung.`,
  'watchdog.goesOn': (p) =>
    `WÄCHTER (${p.pid}): Der Hub läuft weiter, nachdem er ${p.seconds} s stillstand. In dieser Zeit wurde nichts überwacht.`,
  'watchdog.givesUp': (p) => `WÄCHTER (${p.pid}): verstummt. Der Hub steht seit ${p.seconds} s still.`,
  'watchdog.endedHub': (p) =>
    `WÄCHTER (${p.pid}): Der Hub hing und wurde beendet, damit er neu gestartet wird.`,
  'watchdog.noManager': (p) =>
    `WÄCHTER: Der Dienstverwaltung konnte nichts gesagt werden (${p.reason}); nötig sind systemd-notify und NotifyAccess=all.`,
  'recorder.putAside': (p) =>
    `Die Aufzeichnungen waren beschädigt. Sie wurden beiseitegelegt als ${p.aside}; gelöscht wurde nichts. Ein neues Archiv wurde begonnen, mit ${p.athletes} Athleten und ${p.documents} Plänen und Einträgen, die sich lesen ließen, und du kannst jetzt aufzeichnen. Für die alten Aufzeichnungen, wenn Zeit ist: slackwater salvage --data ${p.directory} --to NEUERORDNER. Lass den Datenträger prüfen.`,
  'salvage.usage':
    'Sag, wohin kommen soll, was sich lesen lässt: slackwater salvage --to NEUERORDNER, und mit --data ORDNER, wo die Aufzeichnungen liegen.',
  'salvage.notEmpty': (p) =>
    `In ${p.directory} liegen schon Aufzeichnungen. Gib einen neuen Ordner an: --to NEUERORDNER.`,
  'salvage.nothing': (p) => `In ${p.directory} liegen keine Aufzeichnungen. Sag, wo sie sind: --data ORDNER.`,
  'salvage.from': (p) => `Gelesen aus ${p.path}; die Datei blieb, wie sie ist.`,
  'salvage.rescued': (p) =>
    `Geschrieben nach ${p.directory}: ${p.sessions} Aufzeichnungen mit ${p.packets} Paketen und ${p.entries} Marken, Apnoen und Ähnlichem; ${p.athletes} Athleten; ${p.documents} Pläne und Einträge.`,
  'salvage.nothingMissing': 'Es ist nicht bekannt, dass etwas fehlt.',
  'salvage.lost': (p) =>
    `Verloren: mindestens ${p.packets} Pakete; ${p.rows} Zeilen passten nicht zu ihrer Prüfsumme; ${p.pages} Seiten der Datei enthalten nur Nullen; ${p.headless} Aufzeichnungen verloren Titel und Athleten und heißen „Salvaged“. Wo Pakete fehlen, sagt es die Aufzeichnung.`,
  'salvage.whatNext': (p) =>
    `Sieh es dir an mit: slackwater --data ${p.directory}. Behalte ${p.path}, bis du das getan hast.`,
  'recorder.notBuilt':
    'Ein Teil des Programms, der aufzeichnet, wurde nicht gebaut. Führe „npm run build“ aus und starte noch einmal.',
  'recorder.noAnswer': 'Der Datenträger antwortet nicht.',
  'recorder.notClosed': (p) =>
    `Die Aufzeichnungen konnten nicht ordentlich geschlossen werden; ${p.held} Pakete, die im Speicher standen, sind verloren. ${p.reason}`,
  'recorder.ended':
    'Der Teil des Hubs, der aufzeichnet, wurde durch einen Fehler beendet. Alarme gehen weiter; beende die Sitzung und starte den Hub neu.',
  'recorder.noMoreHeld':
    'Der Datenträger nimmt das Aufgezeichnete nicht an, und mehr lässt sich nicht im Speicher halten.',
};
