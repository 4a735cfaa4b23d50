"""Reads recordings on both sides of a school, a hub's SQLite file and the archive in PostgreSQL, and holds them against each
other. Written from the layouts told in hub/recorder/packet-chunk.ts, packet-batch.ts, number-columns.ts and
payload-columns.ts and from the tables; it runs nothing of the program. Python's own modules and psql.

    read-school.py PSQL_COMMAND HUB=FOLDER [HUB=FOLDER ...]

Writes JSON: for each hub and session the packets, SHA-256 of all of them in their order and numbers of holds and alarms on
either side, and what differs.
"""

import hashlib
import json
import shlex
import sqlite3
import struct
import subprocess
import sys
import zlib


class Bytes:
    def __init__(self, data):
        self.data = bytes(data)
        self.at = 0

    def take(self, count):
        if self.at + count > len(self.data):
            raise ValueError("cut off")
        piece = self.data[self.at : self.at + count]
        self.at += count
        return piece

    def u8(self):
        return self.take(1)[0]

    def varint(self):
        value = shift = 0
        while True:
            byte = self.u8()
            value |= (byte & 0x7F) << shift
            shift += 7
            if byte < 0x80:
                return value

    def f64(self):
        return struct.unpack("<d", self.take(8))[0]

    def block(self):
        return self.take(self.varint())

    def text(self):
        return self.block().decode("utf-8")

    def end(self):
        if self.at != len(self.data):
            raise ValueError("bytes too many")


def unzigzag(code):
    return code // 2 if code % 2 == 0 else -(code // 2) - 1


def column_bytes(source, count):
    if count == 0:
        return b""
    kind = source.u8()
    if kind == 0:
        return source.take(count)
    if kind == 1:
        return bytes([source.u8()]) * count
    if kind == 2:
        out = zlib.decompressobj(-15).decompress(source.block())
        if len(out) != count:
            raise ValueError("column of another length")
        return out
    raise ValueError("unknown column")


def integers(source, count):
    if count == 0:
        return []
    order = source.u8()
    values = [unzigzag(source.varint()) for _ in range(order)]
    codes = [0] * (count - order)
    for plane in range(source.u8()):
        for i, byte in enumerate(column_bytes(source, count - order)):
            codes[i] |= byte << (8 * plane)
    for code in codes:
        change = unzigzag(code)
        if order == 0:
            values.append(change)
        elif order == 1:
            values.append(values[-1] + change)
        else:
            values.append(2 * values[-1] - values[-2] + change)
    return values


def doubles(source, count):
    grid = source.u8()
    if grid == 255:
        planes = [column_bytes(source, count) for _ in range(8)]
        return [struct.unpack("<d", bytes(plane[i] for plane in planes))[0] for i in range(count)]
    return [value / 2**grid for value in integers(source, count)]


def wall_times(source, at_ms):
    if not at_ms:
        return []
    kind = source.u8()
    if kind == 0:
        offset = source.f64()
        return [at + offset for at in at_ms]
    if kind == 1:
        return [float(offset + at // 1) for offset, at in zip(integers(source, len(at_ms)), at_ms)]
    if kind == 2:
        return doubles(source, len(at_ms))
    raise ValueError("unknown wall times")


def byte_columns(source, lengths, packets, most):
    for column in range(min(max(lengths, default=0), most)):
        is_difference = source.u8() == 1
        present = [i for i, length in enumerate(lengths) if length > column]
        last = 0
        for i, byte in zip(present, column_bytes(source, len(present))):
            last = (last + byte) & 0xFF if is_difference else byte
            packets[i][column] = last


PREDICTORS = ((0, 0, 0), (1, 0, 0), (2, -1, 0), (3, -3, 1))


def payloads(source, lengths):
    packets = [bytearray(length) for length in lengths]
    kind = source.u8()
    if kind == 0:
        byte_columns(source, lengths, packets, 1 << 60)
        return packets
    if kind != 1:
        raise ValueError("unknown coding")
    header = source.u8()
    layout = source.u8()
    width, is_big, (a, b, c) = layout & 0x0F, layout & 0x10, PREDICTORS[layout >> 5]
    byte_columns(source, lengths, packets, header)
    each = (lengths[0] - header) // width
    planes = [column_bytes(source, each * len(lengths)) for _ in range(width)]
    last = second = third = 0
    for i, packet in enumerate(packets):
        for sample in range(each):
            code = sum(planes[p][i * each + sample] << (8 * p) for p in range(width))
            value = unzigzag(code) + a * last + b * second + c * third
            third, second, last = second, last, value & 0xFFFFFF
            at = header + sample * width
            packet[at : at + width] = (last % 2 ** (8 * width)).to_bytes(width, "big" if is_big else "little")
    return packets


def stream_names(source):
    return [(source.text(), source.text()) for _ in range(source.varint())]


def chunk(data):
    """A sealed chunk: packets in the order of arrival, as (sensor, characteristic, atMs, wallAtMs, bytes)."""
    source = Bytes(data)
    if source.u8() != 1:
        raise ValueError("another version")
    names = stream_names(source)
    counts = [source.varint() for _ in names]
    by_time = source.u8() == 0
    order = None if by_time else integers(source, sum(counts))
    streams = []
    for name, count in zip(names, counts):
        at_ms = doubles(source, count)
        wall = wall_times(source, at_ms)
        lengths = integers(source, count)
        streams.append([(*name, at, w, bytes(p)) for at, w, p in zip(at_ms, wall, payloads(source, lengths))])
    source.end()
    if order is None:
        order = [stream for _, stream, _ in sorted((p[2], s, i) for s, ps in enumerate(streams) for i, p in enumerate(ps))]
    following = [iter(stream) for stream in streams]
    return [next(following[stream]) for stream in order]


def batch(data):
    """A journal's commit."""
    source = Bytes(data)
    if source.u8() != 1:
        raise ValueError("another version")
    names = stream_names(source)
    packets = []
    for _ in range(source.varint()):
        name = names[source.varint()]
        packets.append((*name, source.f64(), source.f64(), source.block()))
    source.end()
    return packets


class Side:
    """Packets of a session on one side, each with its number."""

    def __init__(self):
        self.sha = hashlib.sha256()
        self.next = 0
        self.gaps = self.doubles = 0
        self.seen = set()

    def add(self, first, packets):
        if first > self.next:
            self.gaps += 1
        if first < self.next:
            self.doubles += 1
        for number, (sensor, characteristic, at_ms, wall_ms, data) in enumerate(packets, first):
            key = (sensor, characteristic, at_ms)
            if key in self.seen:
                self.doubles += 1
            self.seen.add(key)
            self.sha.update(f"{number}\0{sensor}\0{characteristic}\0{at_ms!r}\0{wall_ms!r}\0".encode() + data)
        self.next = first + len(packets)

    def result(self, status, told, holds, alarms):
        return {
            "status": status,
            "packets": len(self.seen),
            "told": told,
            "sha256": self.sha.hexdigest(),
            "gaps": self.gaps,
            "doubles": self.doubles,
            "holds": holds,
            "alarms": alarms,
        }


def texts(rows):
    """How many, and one checksum of all of them."""
    rows = sorted(rows)
    return [len(rows), hashlib.sha256("\0".join(rows).encode()).hexdigest()]


def of_hub(folder):
    database = sqlite3.connect(f"file:{folder}/recordings.sqlite?mode=ro", uri=True)
    found = {}
    for number, session, status, told in database.execute(
        "SELECT session_no, session_id, status, packet_count FROM sessions"
    ):
        side = Side()
        pieces = [
            (first, chunk(body) if kind == "c" else batch(body))
            for kind, first, body in database.execute(
                "SELECT 'c', first_packet, body FROM chunks WHERE session_no = ?1"
                " UNION ALL SELECT 'j', first_packet, body FROM journal WHERE session_no = ?1",
                (number,),
            )
        ]
        for first, packets in sorted(pieces, key=lambda piece: piece[0]):
            side.add(first, packets)
        entries = lambda kind, more="": texts(  # noqa: E731
            body
            for (body,) in database.execute(
                f"SELECT body FROM entries WHERE session_no = ? AND kind = ? {more}", (number, kind)
            )
        )
        found[session] = side.result(status, told, entries("hold", "AND withdrawn = 0"), entries("alarm"))
    return found


def rows_of(psql, statement):
    """Columns as text; bytes as hex."""
    done = subprocess.run(
        [*psql, "-X", "-q", "-v", "ON_ERROR_STOP=1", "-c", f"COPY ({statement}) TO STDOUT (FORMAT csv)"],
        capture_output=True,
        check=True,
    )
    import csv
    import io

    csv.field_size_limit(1 << 30)
    return list(csv.reader(io.StringIO(done.stdout.decode("utf-8"))))


def of_archive(psql, hub):
    found = {}
    for session, status, told, generation in rows_of(
        psql, f"SELECT session_id, status, packet_count, shown_generation FROM sessions WHERE hub_id = '{hub}'"
    ):
        side = Side()
        where = f"hub_id = '{hub}' AND session_id = '{session}'"
        damaged = 0
        for first, count, sha, body in rows_of(
            psql,
            "SELECT first_packet, packet_count, encode(sha256, 'hex'), encode(body, 'hex') FROM segments"
            f" WHERE {where} AND generation = {generation} ORDER BY first_packet",
        ):
            data = bytes.fromhex(body)
            packets = chunk(data)
            if hashlib.sha256(data).hexdigest() != sha or len(packets) != int(count):
                damaged += 1
            side.add(int(first), packets)
        holds = texts(row[0] for row in rows_of(psql, f"SELECT body FROM holds WHERE {where}"))
        alarms = texts(row[0] for row in rows_of(psql, f"SELECT body FROM alarms WHERE {where}"))
        found[session] = side.result(status, int(told) if told else None, holds, alarms)
        if damaged:
            found[session]["damaged"] = damaged
    return found


def main():
    psql = shlex.split(sys.argv[1])
    differences = []
    hubs = {}
    for each in sys.argv[2:]:
        hub, folder = each.split("=", 1)
        there, here = of_archive(psql, hub), of_hub(folder)
        for session in sorted(set(there) | set(here)):
            if there.get(session) != here.get(session):
                differences.append({"hub": hub, "session": session, "hubHas": here.get(session), "archiveHas": there.get(session)})
        hubs[hub] = {
            "sessions": len(here),
            "packets": sum(s["packets"] for s in here.values()),
            "packetsInArchive": sum(s["packets"] for s in there.values()),
            "holds": sum(s["holds"][0] for s in here.values()),
            "alarms": sum(s["alarms"][0] for s in here.values()),
            "gaps": sum(s["gaps"] for s in there.values()),
            "doubles": sum(s["doubles"] for s in there.values()),
            "open": sum(1 for s in here.values() if s["status"] == "recording"),
            "sha256": hashlib.sha256("".join(sorted(s["sha256"] for s in here.values())).encode()).hexdigest(),
            "sha256InArchive": hashlib.sha256("".join(sorted(s["sha256"] for s in there.values())).encode()).hexdigest(),
        }
    refused = rows_of(psql, "SELECT hub_id, kind, reason FROM refused")
    json.dump({"hubs": hubs, "differences": differences, "refused": refused}, sys.stdout)


main()
