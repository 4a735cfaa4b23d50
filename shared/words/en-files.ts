// Files that are read, in English: what is wrong with them and where, what was read round, and why a file cannot be
// imported. A fault is a clause without a full stop: its place comes before it.

const one = (count: number, single: string, several: string): string => (count === 1 ? single : several);
const rows = (count: number): string => `${count} ${one(count, 'row', 'rows')}`;
const were = (count: number): string => one(count, 'was', 'were');

export interface Found {
  readonly found: string;
}
export interface Count {
  readonly count: number;
}
export interface OfFile {
  readonly file: string;
}
export interface Range {
  readonly least: number;
  readonly most: number;
}

export const fileWordsInEnglish = {
  'file.atLine': (p: { readonly line: number; readonly column: number; readonly what: string }) =>
    `line ${p.line}, column ${p.column}: ${p.what}`,
  'file.atByte': (p: { readonly byte: number; readonly what: string }) => `byte ${p.byte}: ${p.what}`,
  'file.longLine': (p: { readonly most: number }) => `the line is longer than ${p.most} characters`,

  'csv.blankLine': (p: { readonly line: number }) => `a blank line stands before more rows (line ${p.line})`,
  'csv.header': (p: Found & { readonly header: string }) =>
    `the header must be "${p.header}", but ${p.found} was found`,
  'csv.headerEnds': (p: { readonly header: string }) =>
    `the header must be "${p.header}", but nothing was found`,
  'csv.noHeader': (p: { readonly header: string }) =>
    `the file has no header; its first line must be "${p.header}"`,
  'csv.fieldCount': (p: Count & { readonly header: string }) =>
    `a row has 3 fields (${p.header}), but ${p.count} ${were(p.count)} found`,
  'csv.timeNotNumber': (p: Found) => `the time must be a number of seconds, but ${p.found} was found`,
  'csv.timeRange': (p: Found & { readonly most: number }) =>
    `the time must be from 0 to ${p.most} s, but ${p.found} was found`,
  'csv.unknownMark': (p: Found & { readonly known: string }) =>
    `a mark is one of ${p.known}, but ${p.found} was found`,
  'csv.unknownChannel': (p: Found & { readonly known: string }) =>
    `a channel is one of ${p.known}, but ${p.found} was found`,
  'csv.unknownQuality': (p: Found & { readonly known: string }) =>
    `a quality is one of ${p.known}, not ${p.found}`,
  'csv.notNumber': (p: Found & { readonly name: string }) =>
    `${p.name} must be a number, but ${p.found} was found`,
  'csv.range': (p: Found & Range & { readonly name: string }) =>
    `${p.name} must be from ${p.least} to ${p.most}, but ${p.found} was found`,
  'csv.outOfOrder': (p: Found & { readonly seconds: number; readonly line: number }) =>
    `the time ${p.found} is more than ${p.seconds} s before that of line ${p.line}; rows must be in order of time`,
  'csv.quoteOpen': 'a quoted field is not closed on its line',
  'csv.afterQuote': 'only a comma may follow a quoted field',
  'csv.strayQuote': 'a quote stands inside a field that does not begin with one',
  'csv.reordered': (p: Count & { readonly seconds: number; readonly line: number }) =>
    `${rows(p.count)} ${were(p.count)} out of order by less than ${p.seconds} s (the first in line ${p.line}) and put in order.`,

  'edf.recordWithoutBeginning': (p: { readonly record: number }) =>
    `record ${p.record} does not say when it begins`,
  'edf.recordsBackwards': (p: Count) =>
    `${p.count} ${one(p.count, 'record says that it begins', 'records say that they begin')} before the one before; read as if they followed on.`,
  'edf.annotationsUnreadable': (p: Count) =>
    `${p.count} ${one(p.count, 'annotation', 'annotations')} could not be read.`,
  'edf.annotationsLeftOut': (p: Count & { readonly most: number }) =>
    `${p.count} annotations beyond the first ${p.most} were left out.`,
  'edf.endsInHeader': 'the file ends inside its header',
  'edf.wholeNumber': (p: Found & Range & { readonly field: string }) =>
    `${p.field} must be a whole number from ${p.least} to ${p.most}, but ${p.found} was found`,
  'edf.number': (p: Found & { readonly field: string }) =>
    `${p.field} must be a number, but ${p.found} was found`,
  'edf.notEdf': 'this is not an EDF file: it does not begin with "0" and seven spaces',
  'edf.noDate': (p: Found) => `The file does not say when it was recorded: its date is ${p.found}.`,
  'edf.headerLength': (p: Found & { readonly signals: number; readonly bytes: number }) =>
    `the header of ${p.signals} signals has ${p.bytes} bytes, not ${p.found}`,
  'edf.recordDurationZero': 'the duration of a record must be more than 0 s',
  'edf.noRecord': 'the file has a header and no whole record',
  'edf.cutOff': (p: { readonly record: number; readonly stated: number; readonly present: number }) =>
    `The file is cut off: it ends in record ${p.record} of ${p.stated}. The ${p.present} whole records were read.`,
  'edf.endsInRecord': 'The file ends inside a record, which was left out.',
  'edf.moreBytes': (p: Count) =>
    `The file has ${p.count} more bytes than its header says, which were left out.`,
  'edf.field.recordDuration': 'the duration of a record',
  'edf.field.signalCount': 'the number of signals',
  'edf.field.physicalMin': (p: { readonly signal: string }) => `the physical minimum of ${p.signal}`,
  'edf.field.physicalMax': (p: { readonly signal: string }) => `the physical maximum of ${p.signal}`,
  'edf.field.digitalMin': (p: { readonly signal: string }) => `the digital minimum of ${p.signal}`,
  'edf.field.digitalMax': (p: { readonly signal: string }) => `the digital maximum of ${p.signal}`,
  'edf.field.samplesPerRecord': (p: { readonly signal: string }) => `the samples a record of ${p.signal}`,
  'edf.noScale': (p: { readonly signal: string }) =>
    `${p.signal} has a scale without extent and cannot be read.`,
  'edf.impossible': (
    p: Range & {
      readonly signal: string;
      readonly value: number;
      readonly count: number;
      readonly of: number;
    },
  ) =>
    `signal ${p.signal}: ${p.value} is outside ${p.least} to ${p.most}, as are ${p.count} of ${p.of} values: choose another unit or signal`,
  'edf.repeated': (p: { readonly signal: string; readonly perSecond: number }) =>
    `${p.signal} has ${p.perSecond} values a second; those that change were read.`,
  'edf.beats': (p: { readonly signal: string }) =>
    `${p.signal} does not say where beats are; an interval is read wherever its value changes.`,
  'edf.noReading': (p: Count & { readonly signal: string }) =>
    `${p.count} ${one(p.count, 'value', 'values')} of ${p.signal} cannot be a reading and ${were(p.count)} passed over.`,
  'edf.derivedLeftOut': (p: Count) =>
    `${p.count} ${one(p.count, 'annotation', 'annotations')} of holds, alarms and gaps ${were(p.count)} not taken over; they are found anew.`,

  'table.unit.s': 'seconds',
  'table.unit.ms': 'milliseconds',
  'table.unit.min': 'minutes',
  'table.unit.clock': 'hours:minutes:seconds',
  'table.unit.dateTime': 'date and time',
  'table.unit.unixS': 'Unix seconds',
  'table.unit.unixMs': 'Unix milliseconds',
  'table.unit.unixUs': 'Unix microseconds',
  'table.unit.days': 'parts of a day',
  'table.unit.serialDays': 'days of a spreadsheet',
  'table.unit.beats': 'sums of the beat intervals',
  'table.notText': 'this is not a text file',
  'table.none': 'no table was found: a line of names and lines with a time and values are needed',
  'table.tooWide': (p: { readonly most: number }) => `a table may have ${p.most} columns at most`,
  'table.noTime': (p: Found & { readonly unit: string }) => `${p.found} is no time (${p.unit})`,
  'table.longRow': (p: { readonly width: number }) =>
    `this row has more cells than the table has columns (${p.width})`,
  'table.impossible': (
    p: Found & Range & { readonly column: string; readonly count: number; readonly of: number },
  ) =>
    `${p.found} in ${p.column} is outside ${p.least} to ${p.most}, as are ${p.count} of ${p.of} values: choose another unit or column`,
  'table.notNumber': (p: Found & { readonly column: string }) => `${p.found} in ${p.column} is not a number`,
  'table.noColumn': (p: { readonly index: number }) => `there is no column ${p.index}`,
  'table.chooseTime': 'a column of time must be chosen',
  'table.beatsNeedIntervals':
    'times can be summed up from beat intervals only where a column of these is chosen',
  'table.beginsAt': (p: { readonly seconds: number }) =>
    `The file begins at ${p.seconds} s; the recording begins there.`,
  'table.statedBegin': (p: { readonly line: number }) =>
    `The beginning was read from line ${p.line}, before the table.`,
  'table.clocksPutBack': (p: { readonly zone: string }) =>
    `Clocks were put back during this recording (${p.zone}); its times go on without a step.`,
  'table.impossibleLeftOut': (p: Count & { readonly column: string }) =>
    `${p.count} impossible ${one(p.count, 'value', 'values')} in ${p.column} ${were(p.count)} left out.`,
  'table.unreadableLeftOut': (p: Count & { readonly column: string; readonly line: number }) =>
    `${p.count} ${one(p.count, 'cell', 'cells')} in ${p.column} ${were(p.count)} no number (the first in line ${p.line}) and left out.`,
  'table.noReadings': (p: Count & { readonly column: string }) =>
    `${rows(p.count)} ${one(p.count, 'has', 'have')} no reading in ${p.column}.`,
  'table.headingAgain': (p: Count) =>
    `The heading stands ${p.count} more ${one(p.count, 'time', 'times')}; passed over.`,
  'table.rowsWithoutTime': (p: Count & { readonly line: number }) =>
    `${rows(p.count)} without a time ${were(p.count)} passed over (the first in line ${p.line}).`,
  'table.longRows': (p: Count) =>
    `${rows(p.count)} ${one(p.count, 'has', 'have')} more cells than the table has columns; these were left out.`,
  'table.lateRows': (p: Count) =>
    `${rows(p.count)} stood after a later time and ${were(p.count)} put in order.`,
  'table.spread': (p: Count) =>
    `${p.count} values share their time with others; they were spread evenly up to the next time.`,

  'import.fault': (p: OfFile & { readonly fault: string }) => `${p.file}, ${p.fault}.`,
  'import.empty': (p: OfFile) => `${p.file} is empty.`,
  'import.zip': (p: OfFile) =>
    `${p.file} is a spreadsheet or another packed file; save the table as CSV, or unpack it, and import that.`,
  'import.oldOffice': (p: OfFile) =>
    `${p.file} is an old spreadsheet or document; save the table as CSV and import that.`,
  'import.pdf': (p: OfFile) =>
    `${p.file} is a PDF, which has no readings in a form that can be read; export a table instead.`,
  'import.parquet': (p: OfFile) =>
    `${p.file} is a Parquet file, which is written here but not read; export CSV or EDF instead.`,
  'import.hdf5': (p: OfFile) => `${p.file} is an HDF5 file, which is not read; export CSV or EDF instead.`,
  'import.sqlite': (p: OfFile) =>
    `${p.file} is a database; a backup is restored with "slackwater restore", not imported.`,
  'import.gzip': (p: OfFile) => `${p.file} is packed with gzip; unpack it and import what is in it.`,
  'import.xml': (p: OfFile) => `${p.file} is XML or a web page, not a table; export CSV or EDF instead.`,
  'import.json': (p: OfFile) => `${p.file} is JSON, not a table; export CSV or EDF instead.`,
  'import.asSuggested': (p: { readonly fault: string }) => `As suggested, ${p.fault}.`,
  'import.asSuggestedWhole': (p: { readonly sentence: string }) => `As suggested: ${p.sentence}`,
  'import.noSignal': (p: OfFile & { readonly index: number }) => `${p.file} has no signal ${p.index}.`,
  'import.rowsFixed': (p: OfFile) =>
    `${p.file} says itself what its rows are; leave out the columns and the time.`,
  'import.noTimeColumn': 'No column of time was recognised; choose one.',
  'import.chooseTimeColumn': (p: OfFile) => `${p.file} needs a column of time to be chosen.`,
  'import.dateOrder': (p: OfFile & { readonly example: string }) =>
    `${p.file}: its dates, such as "${p.example}", can be read with the day or with the month first; say which.`,
  'import.tooManyReadings': (p: OfFile & { readonly most: number }) =>
    `${p.file} has more than ${p.most} readings in the chosen columns. Cut it into parts.`,
  'import.tooManyWaveSamples': (p: OfFile & { readonly most: number }) =>
    `${p.file} has more than ${p.most} samples of a wave in the chosen columns. Cut it into parts.`,
  'import.tooManyMarks': (p: OfFile & { readonly most: number }) =>
    `${p.file} has more than ${p.most} marks and notes. Cut it into parts.`,
  'import.noReadings': (p: OfFile) =>
    `${p.file} has no readings in the chosen columns; there is nothing to import.`,
  'import.tooLong': (p: OfFile & { readonly hours: number; readonly most: number }) =>
    `${p.file} is ${p.hours} h long; at most ${p.most} h can be imported. Cut it into parts, or check the unit of time.`,
  'import.impossible': (
    p: OfFile &
      Range & {
        readonly count: number;
        readonly of: number;
        readonly channel: string;
        readonly example: number;
      },
  ) =>
    `${p.file}: ${p.count} of ${p.of} values of ${p.channel} are outside ${p.least} to ${p.most}, such as ${p.example}; choose another unit or column.`,
  'import.lateMarks': (p: Count) =>
    `${p.count} ${one(p.count, 'mark or note lies', 'marks or notes lie')} after the end of the recording and ${were(p.count)} left out.`,
  'import.notStored': (p: Count) =>
    `${p.count} ${one(p.count, 'value', 'values')} could not be stored, since no sensor sends such numbers.`,
  'import.notReplayed': (p: Count) =>
    `${p.count} ${one(p.count, 'value', 'values')} that no sensor sends ${one(p.count, 'is', 'are')} not replayed.`,
  'import.tooDisordered':
    'The rows of this file are too far out of the order of time; sort them by time and import it again.',
  'import.tooLarge': (p: { readonly megabytes: number }) =>
    `The file is larger than ${p.megabytes} MB, which is the most that can be imported.`,
  'import.tooMuchMemory': 'This file needs more memory than reading it may take. Cut it into parts.',
  'import.brokeDown':
    'This file could not be read, by a fault of this program; nothing was stored. The log says more.',
  'import.simulated': 'SIMULATED: this recording is not of a person.',
  'import.noSuchFile': (p: { readonly path: string }) => `${p.path}: there is no such file.`,
  'import.notAllowed': (p: { readonly path: string }) => `${p.path}: this file may not be read.`,
  'import.unreadable': (p: { readonly path: string; readonly reason: string }) =>
    `${p.path}: it can't be read (${p.reason}).`,
  'import.isFolder': (p: { readonly path: string }) => `${p.path}: this is a folder, not a file.`,
  'import.readAs': (p: { readonly path: string; readonly format: string; readonly columns: string }) =>
    `${p.path} was read as ${p.format}: ${p.columns}.`,
  'import.format.longCsv': 'a CSV with one value a line',
  'import.format.wideCsv': 'a table',
  'import.format.edf': 'an EDF file',
  'import.format.session': 'a session file',
  'import.sessionFile': (p: OfFile & { readonly fault: string }) =>
    `${p.file} is a session file, but ${p.fault}.`,
  'import.sessionRowsFixed': (p: OfFile) =>
    `${p.file} is a session file and says itself what is in it; leave out columns, time and start.`,
  'import.incomplete': 'Parts of the recording could not be read any more when this file was written.',
  'export.noSessionFile': (p: { readonly fault: string }) =>
    `This recording cannot be written as a session file: ${p.fault}.`,

  'sessionFile.newer': (p: { readonly version: number; readonly most: number }) =>
    `it is of version ${p.version}, and this program reads versions up to ${p.most}: bring this program up to date`,
  'sessionFile.damaged': 'it is cut off or damaged: fetch or copy it again',
  'sessionFile.checksum': (p: { readonly name: string }) =>
    `${p.name} in it is not what it was when the file was written: fetch or copy it again`,
  'sessionFile.missing': (p: { readonly name: string }) => `${p.name} is missing in it`,
  'sessionFile.unknownPart': (p: { readonly name: string }) => `${p.name} in it is no part of a session file`,
  'sessionFile.tooLarge': (p: { readonly megabytes: number }) =>
    `what is packed in it is larger than ${p.megabytes} MB, which is the most that is read`,
  'sessionFile.field': (p: { readonly name: string; readonly place: string; readonly fault: string }) =>
    `in ${p.name}, ${p.place} ${p.fault}`,
  'sessionFile.notJson': (p: { readonly name: string }) => `${p.name} in it is no JSON`,
  'sessionFile.packets': (p: { readonly name: string }) =>
    `${p.name} in it holds no packets that can be read`,
  'sessionFile.profile': (p: { readonly number: number; readonly fault: string }) =>
    `sensor profile ${p.number} in it cannot be used: ${p.fault}`,
  'sessionFile.disagrees': 'it says in one place that it is SIMULATED and in another that it is not',
};
