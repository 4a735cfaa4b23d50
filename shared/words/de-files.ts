// Files that are read, in German: what is wrong with them and where, what was read round, and why a file cannot be
// imported.

import type { SaidWords } from './en.ts';
import type { fileWordsInEnglish } from './en-files.ts';

const one = (count: number, single: string, several: string): string => (count === 1 ? single : several);
const rows = (count: number): string => `${count} ${one(count, 'Zeile', 'Zeilen')}`;
const were = (count: number): string => one(count, 'wurde', 'wurden');
/** Any number of decimals, with the comma. */
const decimal = (value: number): string => String(value).replace('.', ',');

export const fileWordsInGerman: Pick<SaidWords, keyof typeof fileWordsInEnglish> = {
  'file.atLine': (p) => `Zeile ${p.line}, Spalte ${p.column}: ${p.what}`,
  'file.atByte': (p) => `Byte ${p.byte}: ${p.what}`,
  'file.longLine': (p) => `die Zeile ist länger als ${p.most} Zeichen`,

  'csv.blankLine': (p) => `vor weiteren Zeilen (Zeile ${p.line}) steht eine leere`,
  'csv.header': (p) => `die Kopfzeile muss "${p.header}" sein, gefunden wurde ${p.found}`,
  'csv.headerEnds': (p) => `die Kopfzeile muss "${p.header}" sein, hier steht nichts mehr`,
  'csv.noHeader': (p) => `der Datei fehlt die Kopfzeile; ihre erste Zeile muss "${p.header}" sein`,
  'csv.fieldCount': (p) => `eine Zeile hat 3 Felder (${p.header}), gefunden ${were(p.count)} ${p.count}`,
  'csv.timeNotNumber': (p) => `die Zeit muss eine Zahl von Sekunden sein, gefunden wurde ${p.found}`,
  'csv.timeRange': (p) => `die Zeit muss von 0 bis ${p.most} s reichen, gefunden wurde ${p.found}`,
  'csv.unknownMark': (p) => `eine Marke ist eine von ${p.known}, gefunden wurde ${p.found}`,
  'csv.unknownChannel': (p) => `ein Kanal ist einer von ${p.known}, gefunden wurde ${p.found}`,
  'csv.unknownQuality': (p) => `eine Güte ist eines von ${p.known}, nicht ${p.found}`,
  'csv.notNumber': (p) => `${p.name} muss eine Zahl sein, gefunden wurde ${p.found}`,
  'csv.range': (p) =>
    `${p.name} muss zwischen ${decimal(p.least)} und ${decimal(p.most)} liegen, gefunden wurde ${p.found}`,
  'csv.outOfOrder': (p) =>
    `die Zeit ${p.found} liegt mehr als ${decimal(p.seconds)} s vor der von Zeile ${p.line}; die Zeilen müssen nach der Zeit geordnet sein`,
  'csv.quoteOpen': 'ein Feld in Anführungszeichen ist auf seiner Zeile nicht geschlossen',
  'csv.afterQuote': 'auf ein Feld in Anführungszeichen darf nur ein Komma folgen',
  'csv.strayQuote': 'ein Anführungszeichen steht in einem Feld, das nicht mit einem beginnt',
  'csv.reordered': (p) =>
    `${rows(p.count)} ${one(p.count, 'stand', 'standen')} um weniger als ${decimal(p.seconds)} s außer der Reihe (die erste ist Zeile ${p.line}) und ${were(p.count)} eingeordnet.`,

  'edf.recordWithoutBeginning': (p) => `Datensatz ${p.record} sagt nicht, wann er beginnt`,
  'edf.recordsBackwards': (p) =>
    `${p.count} ${one(p.count, 'Datensatz soll', 'Datensätze sollen')} vor dem jeweils vorigen beginnen; gelesen, als schlössen sie an.`,
  'edf.annotationsUnreadable': (p) =>
    `${p.count} ${one(p.count, 'Anmerkung war', 'Anmerkungen waren')} nicht lesbar.`,
  'edf.annotationsLeftOut': (p) => `${p.count} Anmerkungen nach den ersten ${p.most} wurden ausgelassen.`,
  'edf.endsInHeader': 'die Datei endet in ihrem Kopf',
  'edf.wholeNumber': (p) =>
    `${p.field} muss eine ganze Zahl von ${p.least} bis ${p.most} sein, gefunden wurde ${p.found}`,
  'edf.number': (p) => `${p.field} muss eine Zahl sein, gefunden wurde ${p.found}`,
  'edf.notEdf': 'das ist keine EDF-Datei: sie beginnt nicht mit "0" und sieben Leerzeichen',
  'edf.noDate': (p) => `Die Datei sagt nicht, wann sie aufgezeichnet wurde: ihr Datum ist ${p.found}.`,
  'edf.headerLength': (p) => `der Kopf von ${p.signals} Signalen hat ${p.bytes} Bytes, nicht ${p.found}`,
  'edf.recordDurationZero': 'die Dauer eines Datensatzes muss größer als 0 s sein',
  'edf.noRecord': 'die Datei hat einen Kopf und keinen ganzen Datensatz',
  'edf.cutOff': (p) =>
    `Die Datei ist abgeschnitten: Sie endet in Datensatz ${p.record} von ${p.stated}. Die ${p.present} ganzen Datensätze wurden gelesen.`,
  'edf.endsInRecord': 'Die Datei endet mitten in einem Datensatz; er wurde ausgelassen.',
  'edf.moreBytes': (p) => `Die Datei hat ${p.count} Bytes mehr, als ihr Kopf angibt; sie wurden ausgelassen.`,
  'edf.field.recordDuration': 'die Dauer eines Datensatzes',
  'edf.field.signalCount': 'die Zahl der Signale',
  'edf.field.physicalMin': (p) => `das physikalische Minimum von ${p.signal}`,
  'edf.field.physicalMax': (p) => `das physikalische Maximum von ${p.signal}`,
  'edf.field.digitalMin': (p) => `das digitale Minimum von ${p.signal}`,
  'edf.field.digitalMax': (p) => `das digitale Maximum von ${p.signal}`,
  'edf.field.samplesPerRecord': (p) => `die Zahl der Werte je Datensatz von ${p.signal}`,
  'edf.noScale': (p) => `${p.signal} hat eine Skala ohne Ausdehnung und ist nicht lesbar.`,
  'edf.impossible': (p) =>
    `Signal ${p.signal}: ${decimal(p.value)} liegt nicht zwischen ${decimal(p.least)} und ${decimal(p.most)}, ebenso ${p.count} von ${p.of} Werten: wähle eine andere Einheit oder ein anderes Signal`,
  'edf.repeated': (p) =>
    `${p.signal} hat ${decimal(p.perSecond)} Werte je Sekunde; gelesen wurden die, die sich ändern.`,
  'edf.beats': (p) =>
    `${p.signal} sagt nicht, wo Schläge sind; wo sich der Wert ändert, wird ein Abstand gelesen.`,
  'edf.noReading': (p) =>
    `${p.count} ${one(p.count, 'Wert', 'Werte')} von ${p.signal} ${one(p.count, 'kann kein Messwert sein', 'können keine Messwerte sein')} und ${were(p.count)} übergangen.`,
  'edf.derivedLeftOut': (p) =>
    `${p.count} ${one(p.count, 'Anmerkung', 'Anmerkungen')} zu Apnoen, Alarmen und Lücken ${were(p.count)} nicht übernommen; sie werden neu gefunden.`,

  'table.unit.s': 'Sekunden',
  'table.unit.ms': 'Millisekunden',
  'table.unit.min': 'Minuten',
  'table.unit.clock': 'Stunden:Minuten:Sekunden',
  'table.unit.dateTime': 'Datum und Uhrzeit',
  'table.unit.unixS': 'Unix-Sekunden',
  'table.unit.unixMs': 'Unix-Millisekunden',
  'table.unit.unixUs': 'Unix-Mikrosekunden',
  'table.unit.days': 'Bruchteile eines Tages',
  'table.unit.serialDays': 'Tage einer Tabellenkalkulation',
  'table.unit.beats': 'Summen der Schlagabstände',
  'table.notText': 'das ist keine Textdatei',
  'table.none':
    'keine Tabelle gefunden: nötig sind eine Zeile mit Namen und Zeilen mit einer Zeit und Werten',
  'table.tooWide': (p) => `eine Tabelle darf höchstens ${p.most} Spalten haben`,
  'table.noTime': (p) => `${p.found} ist keine Zeit (${p.unit})`,
  'table.longRow': (p) => `diese Zeile hat mehr Zellen als die Tabelle Spalten (${p.width})`,
  'table.impossible': (p) =>
    `${p.found} in ${p.column} liegt nicht zwischen ${decimal(p.least)} und ${decimal(p.most)}, ebenso ${p.count} von ${p.of} Werten: wähle eine andere Einheit oder Spalte`,
  'table.notNumber': (p) => `${p.found} in ${p.column} ist keine Zahl`,
  'table.noColumn': (p) => `es gibt keine Spalte ${p.index}`,
  'table.chooseTime': 'eine Spalte mit der Zeit muss gewählt sein',
  'table.beatsNeedIntervals':
    'aus Schlagabständen lassen sich Zeiten nur aufsummieren, wenn eine Spalte damit gewählt ist',
  'table.beginsAt': (p) => `Die Datei beginnt bei ${decimal(p.seconds)} s; dort beginnt die Aufzeichnung.`,
  'table.statedBegin': (p) => `Der Beginn wurde aus Zeile ${p.line} gelesen, vor der Tabelle.`,
  'table.clocksPutBack': (p) =>
    `Während dieser Aufzeichnung wurden die Uhren zurückgestellt (${p.zone}); ihre Zeiten laufen ohne Sprung weiter.`,
  'table.impossibleLeftOut': (p) =>
    `${p.count} ${one(p.count, 'unmöglicher Wert', 'unmögliche Werte')} in ${p.column} ${were(p.count)} ausgelassen.`,
  'table.unreadableLeftOut': (p) =>
    `${p.count} ${one(p.count, 'Zelle', 'Zellen')} in ${p.column} ${one(p.count, 'war keine Zahl', 'waren keine Zahlen')} (die erste in Zeile ${p.line}) und ${were(p.count)} ausgelassen.`,
  'table.noReadings': (p) =>
    `${rows(p.count)} ${one(p.count, 'hat', 'haben')} keinen Messwert in ${p.column}.`,
  'table.headingAgain': (p) => `Die Kopfzeile steht noch ${p.count}-mal da; übergangen.`,
  'table.rowsWithoutTime': (p) =>
    `${rows(p.count)} ohne Zeit ${were(p.count)} übergangen (die erste ist Zeile ${p.line}).`,
  'table.longRows': (p) =>
    `${rows(p.count)} ${one(p.count, 'hat', 'haben')} mehr Zellen als die Tabelle Spalten; diese wurden ausgelassen.`,
  'table.lateRows': (p) =>
    `${rows(p.count)} ${one(p.count, 'stand', 'standen')} hinter einer späteren Zeit und ${were(p.count)} eingeordnet.`,
  'table.spread': (p) =>
    `${p.count} Werte teilen ihre Zeit mit anderen; sie wurden gleichmäßig bis zur nächsten Zeit verteilt.`,

  'import.fault': (p) => `${p.file}, ${p.fault}.`,
  'import.empty': (p) => `${p.file} ist leer.`,
  'import.zip': (p) =>
    `${p.file} ist eine Tabellenkalkulation oder sonst eine gepackte Datei; speichere die Tabelle als CSV, oder entpacke die Datei, und importiere das.`,
  'import.oldOffice': (p) =>
    `${p.file} ist eine alte Tabellenkalkulation oder ein altes Dokument; speichere die Tabelle als CSV und importiere das.`,
  'import.pdf': (p) =>
    `${p.file} ist ein PDF und enthält keine Messwerte in lesbarer Form; exportiere stattdessen eine Tabelle.`,
  'import.parquet': (p) =>
    `${p.file} ist eine Parquet-Datei; die werden hier geschrieben, aber nicht gelesen. Exportiere stattdessen CSV oder EDF.`,
  'import.hdf5': (p) =>
    `${p.file} ist eine HDF5-Datei; die werden nicht gelesen. Exportiere stattdessen CSV oder EDF.`,
  'import.sqlite': (p) =>
    `${p.file} ist eine Datenbank; eine Sicherung wird mit "slackwater restore" zurückgeholt, nicht importiert.`,
  'import.gzip': (p) => `${p.file} ist mit gzip gepackt; entpacke die Datei und importiere, was darin ist.`,
  'import.xml': (p) =>
    `${p.file} ist XML oder eine Webseite, keine Tabelle; exportiere stattdessen CSV oder EDF.`,
  'import.json': (p) => `${p.file} ist JSON, keine Tabelle; exportiere stattdessen CSV oder EDF.`,
  'import.asSuggested': (p) => `Wie vorgeschlagen geht es nicht: ${p.fault}.`,
  'import.asSuggestedWhole': (p) => `Wie vorgeschlagen geht es nicht: ${p.sentence}`,
  'import.noSignal': (p) => `${p.file} hat kein Signal ${p.index}.`,
  'import.rowsFixed': (p) => `${p.file} sagt selbst, was die Zeilen bedeuten; lass Spalten und Zeit weg.`,
  'import.noTimeColumn': 'Keine Spalte mit der Zeit erkannt; wähle eine.',
  'import.chooseTimeColumn': (p) => `Für ${p.file} muss eine Spalte mit der Zeit gewählt werden.`,
  'import.dateOrder': (p) =>
    `${p.file}: Daten wie "${p.example}" lassen sich mit dem Tag oder mit dem Monat zuerst lesen; gib an, wie.`,
  'import.tooManyReadings': (p) =>
    `${p.file} hat in den gewählten Spalten mehr als ${p.most} Messwerte. Teile die Datei auf.`,
  'import.tooManyWaveSamples': (p) =>
    `${p.file} hat in den gewählten Spalten mehr als ${p.most} Werte einer Pulswelle. Teile die Datei auf.`,
  'import.tooManyMarks': (p) => `${p.file} hat mehr als ${p.most} Marken und Notizen. Teile die Datei auf.`,
  'import.noReadings': (p) =>
    `${p.file} hat in den gewählten Spalten keine Messwerte; es gibt nichts zu importieren.`,
  'import.tooLong': (p) =>
    `${p.file} ist ${p.hours} h lang; höchstens ${p.most} h lassen sich importieren. Teile die Datei auf, oder prüfe die Zeiteinheit.`,
  'import.impossible': (p) =>
    `${p.file}: ${p.count} von ${p.of} Werten von ${p.channel} liegen nicht zwischen ${decimal(p.least)} und ${decimal(p.most)}, etwa ${decimal(p.example)}; wähle eine andere Einheit oder Spalte.`,
  'import.lateMarks': (p) =>
    `${p.count} ${one(p.count, 'Marke oder Notiz liegt', 'Marken oder Notizen liegen')} nach dem Ende der Aufzeichnung und ${were(p.count)} ausgelassen.`,
  'import.notStored': (p) =>
    `${p.count} ${one(p.count, 'Wert ließ', 'Werte ließen')} sich nicht speichern, weil kein Sensor solche Zahlen sendet.`,
  'import.notReplayed': (p) =>
    `${p.count} ${one(p.count, 'Wert, den', 'Werte, die')} kein Sensor sendet, ${one(p.count, 'wird', 'werden')} nicht wiedergegeben.`,
  'import.tooDisordered':
    'Die Zeilen dieser Datei sind zu weit außer der Reihe; ordne sie nach der Zeit und importiere sie noch einmal.',
  'import.tooLarge': (p) =>
    `Die Datei ist größer als ${p.megabytes} MB, und mehr lässt sich nicht importieren.`,
  'import.tooMuchMemory': 'Diese Datei braucht mehr Speicher, als das Lesen haben darf. Teile sie auf.',
  'import.brokeDown':
    'Diese Datei war durch einen Fehler dieses Programms nicht lesbar; nichts wurde gespeichert. Das Protokoll sagt mehr.',
  'import.simulated': 'SIMULIERT: Diese Aufzeichnung stammt nicht von einem Menschen.',
  'import.noSuchFile': (p) => `${p.path}: diese Datei gibt es nicht.`,
  'import.notAllowed': (p) => `${p.path}: diese Datei darf nicht gelesen werden.`,
  'import.unreadable': (p) => `${p.path}: nicht lesbar (${p.reason}).`,
  'import.isFolder': (p) => `${p.path}: das ist ein Ordner, keine Datei.`,
  'import.readAs': (p) => `${p.path} wurde gelesen als ${p.format}: ${p.columns}.`,
  'import.format.longCsv': 'CSV mit einem Wert je Zeile',
  'import.format.wideCsv': 'Tabelle',
  'import.format.edf': 'EDF-Datei',
  'import.format.session': 'Sitzungsdatei',
  'import.sessionFile': (p) => `${p.file} ist eine Sitzungsdatei, aber ${p.fault}.`,
  'import.sessionRowsFixed': (p) =>
    `${p.file} ist eine Sitzungsdatei und sagt selbst, was darin ist; lass Spalten, Zeit und Beginn weg.`,
  'import.incomplete':
    'Teile der Aufzeichnung waren schon nicht mehr lesbar, als diese Datei geschrieben wurde.',
  'export.noSessionFile': (p) =>
    `Diese Aufzeichnung lässt sich nicht als Sitzungsdatei schreiben: ${p.fault}.`,

  'sessionFile.newer': (p) =>
    `sie hat Version ${p.version}, und dieses Programm liest Versionen bis ${p.most}: bringe dieses Programm auf den neuesten Stand`,
  'sessionFile.damaged': 'sie ist abgeschnitten oder beschädigt: hole oder kopiere sie noch einmal',
  'sessionFile.checksum': (p) =>
    `${p.name} darin ist nicht mehr, was es beim Schreiben der Datei war: hole oder kopiere sie noch einmal`,
  'sessionFile.missing': (p) => `${p.name} fehlt darin`,
  'sessionFile.unknownPart': (p) => `${p.name} darin ist kein Teil einer Sitzungsdatei`,
  'sessionFile.tooLarge': (p) =>
    `was darin gepackt ist, ist größer als ${p.megabytes} MB, und mehr wird nicht gelesen`,
  'sessionFile.field': (p) => `in ${p.name}, ${p.place}: ${p.fault}`,
  'sessionFile.notJson': (p) => `${p.name} darin ist kein JSON`,
  'sessionFile.packets': (p) => `${p.name} darin enthält keine lesbaren Pakete`,
  'sessionFile.profile': (p) => `Sensorprofil ${p.number} darin ist nicht brauchbar: ${p.fault}`,
  'sessionFile.disagrees':
    'sie sagt an einer Stelle, dass sie SIMULATED (simuliert) ist, und an einer anderen, dass nicht',
};
