#!/usr/bin/env python3
"""Makes fixtures/imports/corpus: well-formed files by independent writers, each of the same numbers by formula.

Needs Debian's python3-openpyxl, r-base-core, libreoffice-calc-nogui, gnumeric, sqlite3, perl, libedf-dev, gcc, biosig-tools.
The tests read what lies in the folder and need none of them. Run: python3 tests/foreign/make-corpus.py
"""
import csv, datetime, io, json, os, shutil, sqlite3, struct, subprocess, sys, tempfile

here = os.path.dirname(os.path.abspath(__file__))
out = os.path.join(here, '..', '..', 'fixtures', 'imports', 'corpus')
shutil.rmtree(out, ignore_errors=True)
os.makedirs(out)
tmp = tempfile.mkdtemp()

COUNT = 40
rows = [(t, 60 + (t * 7) % 23, 98 - (t % 13) * 0.5) for t in range(COUNT)]
start = datetime.datetime(2024, 5, 13, 21, 59, 50)
moments = [start + datetime.timedelta(seconds=t) for t in range(COUNT)]
BERLIN = {'zone': 'Europe/Berlin', 'start': '2024-05-13T19:59:50.000Z'}
NEWYORK = {'zone': 'America/New_York', 'start': '2024-05-14T01:59:50.000Z'}
NONE = {'zone': 'UTC', 'start': None}
index = []

def note(name, writer, where, channels=('heartRateBpm', 'spo2Percent'), **more):
    index.append({'file': name, 'writer': writer, **where, 'channels': list(channels), **more})

def put(name, text, encoding='utf-8'):
    with open(os.path.join(out, name), 'w', encoding=encoding, newline='') as f:
        f.write(text)

# Python's csv module, as spreadsheets and loggers of five countries have it

def table(heading, cells, delimiter=',', quoting=csv.QUOTE_MINIMAL, end='\r\n'):
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, quoting=quoting, lineterminator=end)
    if heading: writer.writerow(heading)
    for each in cells: writer.writerow(each)
    return text.getvalue()

comma = lambda value: str(value).replace('.', ',')
P = 'Python csv'
put('py-iso.csv', table(['timestamp', 'heart_rate', 'spo2'], [(m.isoformat(' '), h, s) for m, (_, h, s) in zip(moments, rows)])); note('py-iso.csv', P, BERLIN)
put('py-iso-zone.csv', table(['timestamp', 'hr', 'SpO2'], [(m.isoformat() + '+02:00', h, s) for m, (_, h, s) in zip(moments, rows)])); note('py-iso-zone.csv', P, {'zone': 'Asia/Tokyo', 'start': BERLIN['start']})
put('py-iso-z-millis.csv', table(['time', 'Pulse', 'SpO2'], [(m.isoformat() + '.000Z', h, s) for m, (_, h, s) in zip(moments, rows)])); note('py-iso-z-millis.csv', P, {'zone': 'Asia/Tokyo', 'start': '2024-05-13T21:59:50.000Z'}, ('pulseRateBpm', 'spo2Percent'))
put('py-us-12h.csv', table(['Date/Time', 'Heart Rate (bpm)', 'O2 Saturation (%)'], [(m.strftime('%m/%d/%Y %I:%M:%S %p'), h, s) for m, (_, h, s) in zip(moments, rows)])); note('py-us-12h.csv', P, NEWYORK)
put('py-us-date-and-time.csv', table(['Date', 'Time', 'HR', 'SpO2'], [(m.strftime('%m/%d/%Y'), m.strftime('%I:%M:%S %p'), h, s) for m, (_, h, s) in zip(moments, rows)])); note('py-us-date-and-time.csv', P, NEWYORK)
put('py-gb.csv', table(['Date and time', 'Heart rate', 'Saturation'], [(m.strftime('%d/%m/%Y %H:%M:%S'), h, s) for m, (_, h, s) in zip(moments, rows)])); note('py-gb.csv', P, {'zone': 'Europe/London', 'start': '2024-05-13T20:59:50.000Z'})
put('py-de.csv', table(['Zeitstempel', 'Herzfrequenz', 'Sauerstoffsättigung'], [(m.strftime('%d.%m.%Y %H:%M:%S'), h, comma(s)) for m, (_, h, s) in zip(moments, rows)], ';')); note('py-de.csv', P, BERLIN)
put('py-de-datum-uhrzeit.csv', table(['Datum', 'Uhrzeit', 'Puls', 'SpO2 [%]'], [(m.strftime('%d.%m.%y'), m.strftime('%H:%M:%S'), h, comma(s)) for m, (_, h, s) in zip(moments, rows)], ';'), 'cp1252'); note('py-de-datum-uhrzeit.csv', P, BERLIN, ('pulseRateBpm', 'spo2Percent'))
put('py-fr.csv', table(['Date et heure', 'Fréquence cardiaque (bpm)', 'Saturation en oxygène (%)'], [(m.strftime('%d/%m/%Y %H:%M:%S'), h, comma(s) + ' %') for m, (_, h, s) in zip(moments, rows)], ';'), 'cp1252'); note('py-fr.csv', P, {'zone': 'Europe/Paris', 'start': BERLIN['start']})
put('py-es.csv', table(['Fecha y hora', 'Frecuencia cardíaca', 'Saturación'], [(m.strftime('%d/%m/%Y %H:%M:%S'), h, comma(s)) for m, (_, h, s) in zip(moments, rows)], ';')); note('py-es.csv', P, {'zone': 'Europe/Madrid', 'start': BERLIN['start']})
put('py-it.csv', table(['Data e ora', 'Frequenza cardiaca', 'Saturazione'], [(m.strftime('%d/%m/%Y %H.%M.%S'), h, comma(s)) for m, (_, h, s) in zip(moments, rows)], ';')); note('py-it.csv', P, {'zone': 'Europe/Rome', 'start': BERLIN['start']})
put('py-utf16-tabs.txt', table(['Time (s)', 'HR', 'SpO2'], rows, '\t'), 'utf-16'); note('py-utf16-tabs.txt', P, NONE)
put('py-utf16be-nobom.txt', table(['Time (s)', 'HR', 'SpO2'], rows, '\t'), 'utf-16-be'); note('py-utf16be-nobom.txt', P, NONE)
put('py-utf8-bom-quoted.csv', table(['Time (s)', 'HR', 'SpO2'], rows, ',', csv.QUOTE_ALL), 'utf-8-sig'); note('py-utf8-bom-quoted.csv', P, NONE)
put('py-old-mac.csv', table(['Time (s)', 'HR', 'SpO2'], rows, ',', end='\r')); note('py-old-mac.csv', P, NONE)
put('py-pipes.txt', table(['t', 'HR', 'SpO2'], rows, '|')); note('py-pipes.txt', P, NONE)
put('py-quoted-decimal-comma.csv', table(['t', 'HR', 'SpO2'], [(t, h, comma(s)) for t, h, s in rows], ',')); note('py-quoted-decimal-comma.csv', P, NONE)
put('py-milliseconds.csv', table(['time_ms', 'HR', 'SpO2'], [(t * 1000, h, s) for t, h, s in rows])); note('py-milliseconds.csv', P, NONE)
put('py-milliseconds-unsaid.csv', table(['time', 'HR', 'SpO2'], [(t * 1000, h, s) for t, h, s in rows])); note('py-milliseconds-unsaid.csv', P, NONE)
put('py-minutes.csv', table(['minutes', 'HR', 'SpO2'], [('%.9f' % (t / 60), h, s) for t, h, s in rows])); note('py-minutes.csv', P, NONE)
put('py-clock.csv', table(['elapsed', 'HR', 'SpO2'], [('0:00:%02d' % t, h, s) for t, h, s in rows])); note('py-clock.csv', P, NONE)
put('py-clock-over-midnight.csv', table(['Time', 'HR', 'SpO2'], [((start + datetime.timedelta(hours=2, seconds=t - 10)).strftime('%H:%M:%S'), h, s) for t, h, s in rows])); note('py-clock-over-midnight.csv', P, NONE)
put('py-unix.csv', table(['epoch', 'HR', 'SpO2'], [(1715630390 + t, h, s) for t, h, s in rows])); note('py-unix.csv', P, {'zone': 'Asia/Tokyo', 'start': BERLIN['start']})
put('py-unix-ms.csv', table(['timestamp', 'HR', 'SpO2'], [((1715630390 + t) * 1000, h, s) for t, h, s in rows])); note('py-unix-ms.csv', P, {'zone': 'Asia/Tokyo', 'start': BERLIN['start']})
serial = lambda m: (m - datetime.datetime(1899, 12, 30)).total_seconds() / 86400
put('py-serial-days.csv', table(['Time', 'HR', 'SpO2'], [('%.10f' % serial(m), h, s) for m, (_, h, s) in zip(moments, rows)])); note('py-serial-days.csv', P, BERLIN)
put('py-day-fractions.csv', table(['Time', 'HR', 'SpO2'], [('%.10f' % (t / 86400), h, s) for t, h, s in rows])); note('py-day-fractions.csv', P, NONE)
put('py-long.csv', table(['Time (s)', 'Parameter', 'Value'], [x for t, h, s in rows for x in ((t, 'HR', h), (t, 'SpO2', s))])); note('py-long.csv', P, NONE)
put('py-long-by-channel.csv', table(['Time (s)', 'Signal', 'Value', 'Unit'], [(t, 'Heart rate', h, 'bpm') for t, h, s in rows] + [(t, 'SpO2', s, '%') for t, h, s in rows])); note('py-long-by-channel.csv', P, NONE)
put('py-wide-many.csv', table(['No', 'Time (s)', 'RR (brpm)', 'HR', 'Temp', 'SpO2', 'Status', 'HR max'], [(t + 1, t, 14, h, 36.5, s, 'ok', 180) for t, h, s in rows])); note('py-wide-many.csv', P, NONE)
put('py-units-row.csv', 'Time,HR,SpO2\r\ns,bpm,%\r\n' + table(None, rows)); note('py-units-row.csv', P, NONE)
put('py-preamble.csv', 'Device report\r\nSerial;12345\r\nStart: 13.05.2024 21:59:50\r\n\r\n' + table(['Time (s)', 'HR', 'SpO2'], [(t, h, comma(s)) for t, h, s in rows], ';')); note('py-preamble.csv', P, BERLIN)
put('py-trailer.csv', table(['Time (s)', 'HR', 'SpO2'], rows) + '\r\nAverage,71.0,95.0\r\nMinimum,60,92\r\n'); note('py-trailer.csv', P, NONE)
put('py-headings-again.csv', table(['Time (s)', 'HR', 'SpO2'], rows[:20]) + table(['Time (s)', 'HR', 'SpO2'], rows[20:])); note('py-headings-again.csv', P, NONE)
put('py-blank-rows.csv', table(['Time (s)', 'HR', 'SpO2'], rows[:20]) + '\r\n,,\r\n\r\n' + table(None, rows[20:])); note('py-blank-rows.csv', P, NONE)
put('py-newest-first.csv', table(['Time', 'HR', 'SpO2'], list(reversed([(m.isoformat(' '), h, s) for m, (_, h, s) in zip(moments, rows)])))); note('py-newest-first.csv', P, BERLIN)
put('py-disorder.csv', table(['Time (s)', 'HR', 'SpO2'], rows[:10] + rows[15:20] + rows[10:15] + rows[20:])); note('py-disorder.csv', P, NONE)
put('py-fractions.csv', table(['Time (s)', 'HR', 'SpO2'], [(t, h, s / 100) for t, h, s in rows])); note('py-fractions.csv', P, NONE)
put('py-no-heading.csv', table(None, rows)); note('py-no-heading.csv', P, NONE, choose={'1': 'heartRateBpm', '2': 'spo2Percent'})
put('py-missing.csv', table(['Time (s)', 'HR', 'SpO2'], [(t, h if t % 5 else '--', s if t % 7 else '') for t, h, s in rows])); note('py-missing.csv', P, NONE, missing={'heartRateBpm': 5, 'spo2Percent': 7})
beats = [800 + (t * 37) % 190 for t in range(COUNT)]
put('py-beats.txt', ''.join('%d\n' % b for b in beats)); note('py-beats.txt', P, NONE, ('rrIntervalMs',), beats=True)
put('py-beats-seconds.txt', 'RR intervals (s)\n' + ''.join('%.3f\n' % (b / 1000) for b in beats)); note('py-beats-seconds.txt', P, NONE, ('rrIntervalMs',), beats=True)
ends = [sum(beats[:i + 1]) / 1000 for i in range(COUNT)]
put('py-beats-and-times.csv', table(['Time (s)', 'RR (ms)'], [('%.3f' % e, b) for e, b in zip(ends, beats)])); note('py-beats-and-times.csv', P, NONE, ('rrIntervalMs',), beats=True)
autumn = [datetime.datetime(2024, 10, 27, 2, 59, 40) + datetime.timedelta(seconds=t) if t < 20 else datetime.datetime(2024, 10, 27, 2, 0, 0) + datetime.timedelta(seconds=t - 20) for t in range(COUNT)]
put('py-clocks-back.csv', table(['Time', 'HR', 'SpO2'], [(m.isoformat(' '), h, s) for m, (_, h, s) in zip(autumn, rows)])); note('py-clocks-back.csv', P, {'zone': 'Europe/Berlin', 'start': '2024-10-27T00:59:40.000Z'})
spring = [datetime.datetime(2024, 3, 31, 1, 59, 40) + datetime.timedelta(seconds=t) if t < 20 else datetime.datetime(2024, 3, 31, 3, 0, 0) + datetime.timedelta(seconds=t - 20) for t in range(COUNT)]
put('py-clocks-forward.csv', table(['Time', 'HR', 'SpO2'], [(m.isoformat(' '), h, s) for m, (_, h, s) in zip(spring, rows)])); note('py-clocks-forward.csv', P, {'zone': 'Europe/Berlin', 'start': '2024-03-31T00:59:40.000Z'})

# R

r = '''
t <- 0:%d; hr <- 60 + (t * 7) %%%% 23; spo2 <- 98 - (t %%%% 13) * 0.5
d <- data.frame(time_s = t, HR = hr, SpO2 = spo2)
p <- as.POSIXct("2024-05-13 21:59:50", tz = "Europe/Berlin") + t
write.csv(d, "r-write-csv.csv"); write.csv(d, "r-no-row-names.csv", row.names = FALSE)
write.csv2(d, "r-write-csv2.csv", row.names = FALSE); write.table(d, "r-write-table.txt")
write.table(d, "r-tabs.txt", sep = "\\t", quote = FALSE, row.names = FALSE)
write.csv(data.frame(time = format(p), HR = hr, SpO2 = spo2), "r-posixct.csv", row.names = FALSE)
write.csv(data.frame(time = format(p, "%%Y-%%m-%%dT%%H:%%M:%%S%%z"), HR = hr, SpO2 = spo2), "r-iso-zone.csv", row.names = FALSE)
d2 <- d; d2$HR[t %%%% 5 == 0] <- NA; write.csv(d2, "r-na.csv", row.names = FALSE)
long <- reshape(d, direction = "long", varying = c("HR", "SpO2"), v.names = "value", timevar = "variable", times = c("HR", "SpO2"))
write.csv(long[, c("time_s", "variable", "value")], "r-reshape-long.csv", row.names = FALSE)
''' % (COUNT - 1)
subprocess.run(['R', '--vanilla', '--quiet', '--no-echo', '-e', r], cwd=out, check=True, stdout=subprocess.DEVNULL)
for name in ('r-write-csv.csv', 'r-no-row-names.csv', 'r-write-csv2.csv', 'r-write-table.txt', 'r-tabs.txt', 'r-reshape-long.csv'): note(name, 'R', NONE)
note('r-posixct.csv', 'R', BERLIN); note('r-iso-zone.csv', 'R', {'zone': 'Asia/Tokyo', 'start': BERLIN['start']})
note('r-na.csv', 'R', NONE, missing={'heartRateBpm': 5})

# A workbook with real dates, as two spreadsheets write it in their countries' ways

import openpyxl
book = openpyxl.Workbook(); sheet = book.active
sheet.append(['Date and time', 'Heart rate', 'SpO2'])
for m, (_, h, s) in zip(moments, rows): sheet.append([m, h, s])
for each in sheet['A'][1:]: each.number_format = 'yyyy\\-mm\\-dd\\ hh:mm:ss'
book.save(os.path.join(tmp, 'iso.xlsx'))
for each in sheet['A'][1:]: each.number_format = 'General'
for each in sheet['A'][1:]: each.value = serial(each.value)
book.save(os.path.join(tmp, 'serial.xlsx'))
local = openpyxl.Workbook(); sheet = local.active
sheet.append(['Date', 'Time', 'Pulse', 'SpO2'])
for m, (_, h, s) in zip(moments, rows): sheet.append([m.date(), m.time(), h, s / 100])
for each in sheet['A'][1:]: each.number_format = 'mm-dd-yy'
for each in sheet['B'][1:]: each.number_format = 'h:mm:ss AM/PM'
for each in sheet['D'][1:]: each.number_format = '0.0%'
local.save(os.path.join(tmp, 'local.xlsx'))

def office(book, name, options, **more):
    subprocess.run(['soffice', '--headless', '--convert-to', 'csv:Text - txt - csv (StarCalc):' + options, '--outdir', tmp, os.path.join(tmp, book)], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    shutil.move(os.path.join(tmp, book.replace('.xlsx', '.csv')), os.path.join(out, name))

# separator, quote, character set, first line, column formats, language, quote all, as numbers or as shown
L = 'LibreOffice Calc'
office('iso.xlsx', 'lo-iso.csv', '44,34,76,1,,1033,false,true'); note('lo-iso.csv', L, BERLIN)
office('iso.xlsx', 'lo-de.csv', '59,34,76,1,,1031,false,true'); note('lo-de.csv', L, BERLIN)
office('iso.xlsx', 'lo-utf16.csv', '9,34,65535,1,,1036,true,true'); note('lo-utf16.csv', L, BERLIN)
office('serial.xlsx', 'lo-serial.csv', '44,34,76,1,,1033,false,false'); note('lo-serial.csv', L, BERLIN)
pulse = ('pulseRateBpm', 'spo2Percent')
for name, day, clock, where in (('us', 'm/d/yyyy', 'h:mm:ss AM/PM', NEWYORK), ('de', 'dd.mm.yyyy', 'hh:mm:ss', BERLIN), ('fr', 'dd/mm/yyyy', 'hh:mm:ss', BERLIN), ('ch', 'd. mmmm yyyy', 'hh:mm:ss', BERLIN), ('nl', 'dd-mm-yyyy', 'h:mm:ss', BERLIN)):
    for each in sheet['A'][1:]: each.number_format = day
    for each in sheet['B'][1:]: each.number_format = clock
    local.save(os.path.join(tmp, 'local.xlsx'))
    office('local.xlsx', 'lo-shown-%s.csv' % name, '59,34,76,1,,1033,false,true'); note('lo-shown-%s.csv' % name, L, where, pulse)
G = 'Gnumeric'
for name, options in (('gnumeric-raw.csv', 'separator=, format=raw'), ('gnumeric-preserve.txt', "separator='\t' format=preserve"), ('gnumeric-automatic.txt', 'separator=; format=automatic quoting-mode=always')):
    subprocess.run(['ssconvert', '-T', 'Gnumeric_stf:stf_assistant', '-O', options, os.path.join(tmp, 'iso.xlsx'), os.path.join(tmp, name.replace('.csv', '.txt'))], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    shutil.move(os.path.join(tmp, name.replace('.csv', '.txt')), os.path.join(out, name)); note(name, G, BERLIN)
subprocess.run(['ssconvert', os.path.join(tmp, 'serial.xlsx'), os.path.join(out, 'gnumeric-serial.csv')], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL); note('gnumeric-serial.csv', G, BERLIN)

# SQLite's shell and Perl

database = os.path.join(tmp, 'x.db'); link = sqlite3.connect(database)
link.execute('create table d (time_s real, heart_rate integer, spo2 real)'); link.executemany('insert into d values (?, ?, ?)', rows); link.commit(); link.close()
for mode, name in (('csv', 'sqlite.csv'), ('tabs', 'sqlite-tabs.txt'), ('list', 'sqlite-list.txt')):
    with open(os.path.join(out, name), 'wb') as f: subprocess.run(['sqlite3', '-header', '-' + mode if mode != 'tabs' else '-tabs', database, 'select * from d'], stdout=f, check=True)
    note(name, 'SQLite shell', NONE)
perl = 'print "Time (s);HR;SpO2\\n"; for my $t (0..%d) { printf "%%.1f;%%d;%%.1f\\n", $t, 60 + ($t*7) %% 23, 98 - ($t %% 13) * 0.5 }' % (COUNT - 1)
with open(os.path.join(out, 'perl-printf.csv'), 'wb') as f: subprocess.run(['perl', '-e', perl], stdout=f, check=True)
note('perl-printf.csv', 'Perl', NONE)

# libedf: EDF+ and BDF+; biosig: from these to plain EDF, BDF and back

program = os.path.join(tmp, 'write')
subprocess.run(['gcc', '-O1', '-o', program, os.path.join(here, 'edf-corpus.c'), '-ledf'], check=True)
for name in ('libedf.edf', 'libedf.bdf', 'libedf-quarter.edf', 'libedf-fraction.edf', 'libedf-100hz.edf', 'libedf-wave.bdf'):
    subprocess.run([program, os.path.join(out, name), name], check=True, stdout=subprocess.DEVNULL)
    note(name, 'libedf', BERLIN, ('pleth',) if 'wave' in name else ('heartRateBpm', 'spo2Percent'), marks=1, held='100hz' in name)
for kind, source, name in (('EDF', 'libedf.edf', 'biosig.edf'), ('BDF', 'libedf.bdf', 'biosig.bdf'), ('EDF', 'libedf-quarter.edf', 'biosig-quarter.edf')):
    subprocess.run(['save2gdf', '-f=' + kind, os.path.join(out, source), os.path.join(out, name)], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    # save2gdf 3.0.1 keeps dates as days in floating point and cuts the second: its files say 21:59:49.
    note(name, 'biosig save2gdf', {'zone': 'Europe/Berlin', 'start': '2024-05-13T19:59:49.000Z'})

# EDF by Python's struct: the shapes that libraries do not write

def edf(name, reserved='', count=None, gap=False, extra=b'', cut=0, unit='%', scale=1, low=0, date='13.05.24', flat=False):
    signals = [('HR', 'bpm', 0, 250, 0, 250, 1), ('SpO2', unit, low, 100 * scale, int(low / scale * 2), 200, 1)]
    if flat: signals.append(('Unused', '', 0, 0, 0, 0, 2))
    plus = reserved != ''
    if plus: signals.append(('EDF Annotations', '', -1, 1, -32768, 32767, 20))
    f = lambda value, width: str(value).ljust(width).encode('latin1')
    head = f('0', 8) + f('X X X X' if plus else 'Invented', 80) + f('Startdate 13-MAY-2024 X X X' if plus else 'lab', 80) + f(date, 8) + f('21.59.50', 8)
    head += f(256 * (len(signals) + 1), 8) + f(reserved, 44) + f(COUNT if count is None else count, 8) + f(1, 8) + f(len(signals), 4)
    for pick, width in ((0, 16), (None, 80), (1, 8), (2, 8), (3, 8), (4, 8), (5, 8), (None, 80), (6, 8), (None, 32)):
        for signal in signals: head += f('' if pick is None else signal[pick], width)
    body = b''
    for t, h, s in rows:
        body += struct.pack('<hh', h, int(s * 2)) + (b'\0\0\0\0' if flat else b'')
        if plus: body += ('+%d\x14\x14\0' % (t if not gap or t < 20 else t + 60)).encode().ljust(40, b'\0')
    data = head + body + extra
    with open(os.path.join(out, name), 'wb') as file: file.write(data[:len(data) - cut])

S = 'Python struct'
edf('edf-plain.edf'); note('edf-plain.edf', S, BERLIN)
edf('edf-minimum-is-real.edf', low=92); note('edf-minimum-is-real.edf', S, BERLIN)
edf('edf-gap.edf', 'EDF+D', gap=True); note('edf-gap.edf', S, BERLIN, gapMs=60000)
edf('edf-cut.edf', cut=1); note('edf-cut.edf', S, BERLIN, rows=39, notice='cut off')
edf('edf-extra.edf', extra=b'more'); note('edf-extra.edf', S, BERLIN, notice='4 more bytes')
edf('edf-unfinished.edf', count=-1); note('edf-unfinished.edf', S, BERLIN)
edf('edf-flat.edf', flat=True); note('edf-flat.edf', S, BERLIN, notice='scale without extent')
edf('edf-fraction.edf', unit='', scale=0.01); note('edf-fraction.edf', S, BERLIN)
edf('edf-no-date.edf', date='00.00.00'); note('edf-no-date.edf', S, NONE, notice='does not say when')
edf('edf-pressure.edf', unit='mmHg'); note('edf-pressure.edf', S, BERLIN, ('heartRateBpm',))

with open(os.path.join(out, 'index.json'), 'w') as f: json.dump({'rows': rows, 'beatsMs': beats, 'files': index}, f, separators=(',', ':'))
print(len(index), 'files by', len(set(each['writer'] for each in index)), 'writers')
