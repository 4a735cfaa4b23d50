#!/usr/bin/python3
"""An independent piece of air: one Bluetooth LE controller and the sensors around it, spoken in raw HCI, L2CAP and ATT.

Shares no code with the hub, its library or the other rig's sensors. The controller is reached over H4 on a unix socket
(`--listen PATH`) or as an adapter of the running kernel (`--vhci`). Sensors are described by JSON lines on standard
input; what happens is told by JSON lines on standard output, times from CLOCK_MONOTONIC in milliseconds.
Section numbers are those of the Bluetooth Core Specification 5.3.
"""
import argparse
import asyncio
import errno
import json
import os
import random
import struct
import sys
import time

from security import Security, resolvable

now = lambda: time.monotonic() * 1000.0
u16 = lambda value: struct.pack('<H', value)


def say(**event):
    event.setdefault('t', now())
    sys.stdout.write(json.dumps(event) + '\n')
    sys.stdout.flush()


def address_bytes(text):
    return bytes.fromhex(text.replace(':', ''))[::-1]


def uuid_bytes(text):
    return bytes.fromhex(text)[::-1]


PROPERTIES = {'broadcast': 1, 'read': 2, 'writeWithoutResponse': 4, 'write': 8, 'notify': 16, 'indicate': 32}
# Vol 3 Part F s3.4.1.1, error codes that sensors refuse with.
AUTHENTICATION, AUTHORIZATION, ENCRYPTION, NOT_FOUND, NOT_SUPPORTED = 0x05, 0x08, 0x0F, 0x0A, 0x06


class Characteristic:
    def __init__(self, plan, handle):
        self.plan, self.uuid = plan, plan['uuid']
        self.declaration, self.value_handle = handle, handle + 1
        self.properties = sum(PROPERTIES[name] for name in plan.get('properties', ['read']))
        self.notifies = self.properties & 48
        self.config_handle = handle + 2 if self.notifies and not plan.get('noConfig') else None
        self.last = self.config_handle or self.value_handle
        self.value = bytes.fromhex(plan.get('value', ''))
        self.enabled = False
        self.number = 0
        self.timer = None


class Sensor:
    """A peripheral: advertises, takes one link, answers ATT, streams."""

    def __init__(self, air, plan):
        self.air, self.plan, self.id = air, plan, plan['id']
        self.address, self.random_address = address_bytes(plan['address']), 1 if plan.get('random') else 0
        self.link = None
        self.on = plan.get('on', True)
        self.advertise_every = plan.get('advertiseEveryMs', 100)
        self.mtu = 23
        self.muted = plan.get('muted', False)
        self.timers = set()
        self.beats = None
        self.security = Security(self, plan['security'], say) if 'security' in plan else None
        self.rotate()
        handle, self.services, self.characteristics = 1, [], []
        for service in plan.get('services', []):
            first, handle = handle, handle + 1
            inside = []
            for described in service['characteristics']:
                found = Characteristic(described, handle)
                handle = found.last + 1
                inside.append(found)
            self.services.append((first, handle - 1, service['uuid'], inside))
            self.characteristics += inside
        self.schedule_advertising()

    def rotate(self):
        """A new address of those that only who has the sensor's key can tell (Vol 6 Part B s1.3.2.2)."""
        if self.security and self.security.irk:
            self.address, self.random_address = resolvable(self.security.irk), 1

    # Advertising, Vol 6 Part B s4.4.2.2: the interval plus 0 to 10 ms.
    def schedule_advertising(self):
        delay = self.advertise_every + self.air.chance.uniform(0, 10)
        self.air.loop.call_later(delay / 1000, self.advertise)

    def advertise(self):
        if self.on and self.link is None and not self.plan.get('connectedElsewhere'):
            self.air.heard(self)
        self.schedule_advertising()

    def payload(self):
        data = b'\x02\x01\x06'
        for uuid in self.plan.get('advertises', [service[2] for service in self.services if len(service[2]) == 4]):
            data += bytes([3, 3]) + uuid_bytes(uuid) if len(uuid) == 4 else bytes([17, 7]) + uuid_bytes(uuid)
        name = self.plan.get('name', '').encode()
        return data, bytes([len(name) + 1, 9]) + name if name else b''

    def later(self, ms, call, *args):
        handle = self.air.loop.call_later(ms / 1000, call, *args)
        self.timers.add(handle)
        return handle

    def linked(self, link):
        self.link, self.mtu = link, 23
        say(ev='connected', id=self.id, interval=link.interval * 1.25, latency=link.latency, timeout=link.timeout * 10)
        request = self.plan.get('parameterRequest')
        if request:
            self.later(request.get('afterMs', 300), self.request_parameters, request)
        if 'hangUpAfterMs' in self.plan:
            self.later(self.plan['hangUpAfterMs'], self.hang_up, self.plan.get('hangUpReason', 0x13))
        if self.plan.get('securityRequest'):
            # SMP Security Request, Vol 3 Part H s3.6.7: bonding.
            self.later(100, lambda: self.link and self.link.to_hub(6, bytes([0x0B, 0x01])))
        if self.security:
            self.security.reset()
            if self.plan.get('asksForSecurity'):
                self.later(100, self.security.begin)
                # Those that insist hang up where nobody answers.
                self.later(self.plan['asksForSecurity'], lambda: self.security.encrypted or self.hang_up(0x05))

    def request_parameters(self, request):
        """L2CAP Connection Parameter Update Request, Vol 3 Part A s4.20."""
        if self.link:
            say(ev='parameterRequest', id=self.id)
            self.link.to_hub(5, struct.pack('<BBHHHHH', 0x12, 7, 8, request['min'], request['max'],
                                            request.get('latency', 0), request['timeout']))

    def hang_up(self, reason):
        if self.link:
            self.air.end_link(self.link, reason)

    def unlinked(self, reason):
        say(ev='disconnected', id=self.id, reason=reason)
        self.link = None
        for handle in self.timers:
            handle.cancel()
        self.timers.clear()
        for characteristic in self.characteristics:
            characteristic.enabled = False

    # Streams
    def start_stream(self, characteristic):
        stream = characteristic.plan.get('stream')
        if not stream or characteristic.plan.get('dead'):
            return
        if stream.get('burst'):
            for _ in range(stream['burst']):
                self.send(characteristic, stream)
        self.later(stream.get('firstAfterMs', stream['everyMs']), self.tick, characteristic, stream, self.link)

    def tick(self, characteristic, stream, link):
        if self.link is not link or not characteristic.enabled:
            return
        if not self.muted:
            self.send(characteristic, stream)
        jitter = stream.get('jitterMs', 0)
        characteristic.due = getattr(characteristic, 'due', now()) + stream['everyMs']
        if characteristic.due < now() - stream['everyMs']:
            characteristic.due = now() + stream['everyMs']
        wait = max(1, characteristic.due - now() + (self.air.chance.uniform(0, jitter) if jitter else 0))
        self.later(wait, self.tick, characteristic, stream, link)

    def send(self, characteristic, stream):
        if self.link is None:
            return
        characteristic.number += 1
        number, kind = characteristic.number, stream['kind']
        if kind == 'heartRate':
            # Flags: contact supported and present, RR present; the packet's number stands in the RR field.
            value = bytes([0x16, 60 + number % 40]) + u16(number & 0xFFFF)
        elif kind == 'oximeter':
            value = bytes([0, 80 + number % 20, 0]) + u16(number % 2000)
        elif kind == 'beats':
            value = self.beat_packet(stream)
        elif kind == 'bytes':
            value = bytes.fromhex(stream['frames'][(number - 1) % len(stream['frames'])])
        else:
            raise ValueError(kind)
        if value is None:
            return
        say(ev='sent', id=self.id, characteristic=characteristic.uuid, number=number, bytes=value.hex())
        opcode = 0x1D if characteristic.properties & 32 and not characteristic.properties & 16 else 0x1B
        for part in range(0, len(value), self.mtu - 3) if stream.get('split') else [0]:
            piece = value[part:part + self.mtu - 3]
            self.link.to_hub(4, bytes([opcode]) + u16(characteristic.value_handle) + piece,
                             lost=stream.get('lossShare', 0) > self.air.chance.random())

    def beat_packet(self, stream):
        """A strap's packet: every interval that has ended since the one before, at times that are told as truth."""
        at = now()
        if self.beats is None:
            self.beats = {'last': at, 'next': at + 900.0, 'count': 0}
        intervals = []
        while self.beats['next'] <= at:
            beat = self.beats['next']
            interval = beat - self.beats['last']
            ticks = round(interval * 1024 / 1000)
            say(ev='beat', id=self.id, at=beat, interval=interval)
            intervals.append(ticks)
            self.beats['last'] = beat
            self.beats['count'] += 1
            wave = 0.12 * ((self.beats['count'] % 16) / 8 - 1)
            self.beats['next'] = beat + stream.get('meanMs', 850) * (1 + wave + self.air.chance.uniform(-0.03, 0.03))
        return bytes([0x16, 70]) + b''.join(u16(ticks) for ticks in intervals[-9:])

    # ATT, Vol 3 Part F s3.4
    def take(self, channel, data):
        if channel == 5:
            say(ev='signal', id=self.id, bytes=data.hex())
            return
        if channel == 6 and self.security:
            self.security.take(data)
            return
        if channel == 6:
            if data[:1] == b'\x01':
                say(ev='pairingRequest', id=self.id)
                if self.plan.get('pairing') != 'silent':
                    self.link.to_hub(6, bytes([0x05, self.plan.get('pairingRefusal', 0x03)]))
            return
        if channel != 4 or not data:
            return
        reply = self.answer(data)
        if reply is not None:
            delay = self.plan.get('answerAfterMs', 0)
            if delay:
                link = self.link
                self.later(delay, lambda: self.link is link and link.to_hub(4, reply))
            else:
                self.link.to_hub(4, reply)

    def answer(self, data):
        opcode = data[0]
        refuse = lambda handle, code: bytes([0x01, opcode]) + u16(handle) + bytes([code])
        if opcode == 0x02:
            mtu = self.plan.get('mtu', 23)
            self.mtu = max(23, min(mtu, struct.unpack('<H', data[1:3])[0]))
            return bytes([0x03]) + u16(mtu)
        if opcode == 0x10:
            start, end = struct.unpack('<HH', data[1:5])
            found = [s for s in self.services if start <= s[0] <= end]
            if not found or data[5:7] != b'\x00\x28':
                return refuse(start, NOT_FOUND)
            width = len(found[0][2])
            rows = b''
            for first, last, uuid, _ in found:
                if len(uuid) != width or len(rows) + 4 + width // 2 > self.mtu - 2:
                    break
                rows += u16(first) + u16(last) + uuid_bytes(uuid)
            return bytes([0x11, 4 + width // 2]) + rows
        if opcode == 0x08:
            start, end = struct.unpack('<HH', data[1:5])
            wanted = data[5:7]
            if wanted == b'\x02\x29':
                for c in self.characteristics:
                    if c.config_handle and start <= c.config_handle <= end:
                        return bytes([0x09, 4]) + u16(c.config_handle) + u16(1 if c.enabled else 0)
            if wanted != b'\x03\x28':
                return refuse(start, NOT_FOUND)
            found = [c for c in self.characteristics if start <= c.declaration <= end]
            if not found:
                return refuse(start, NOT_FOUND)
            width = len(found[0].uuid)
            rows = b''
            for c in found:
                if len(c.uuid) != width or len(rows) + 5 + width // 2 > self.mtu - 2:
                    break
                rows += u16(c.declaration) + bytes([c.properties]) + u16(c.value_handle) + uuid_bytes(c.uuid)
            return bytes([0x09, 5 + width // 2]) + rows
        if opcode == 0x04:
            start, end = struct.unpack('<HH', data[1:5])
            rows = b''
            for c in self.characteristics:
                if c.config_handle and start <= c.config_handle <= end and len(rows) < self.mtu - 6:
                    rows += u16(c.config_handle) + b'\x02\x29'
            return bytes([0x05, 1]) + rows if rows else refuse(start, NOT_FOUND)
        if opcode in (0x0A, 0x0C):
            handle = struct.unpack('<H', data[1:3])[0]
            offset = struct.unpack('<H', data[3:5])[0] if opcode == 0x0C else 0
            for c in self.characteristics:
                if handle == c.config_handle:
                    return bytes([opcode + 1]) + (u16(1) if c.enabled else u16(0))
                if handle == c.value_handle:
                    say(ev='read', id=self.id, characteristic=c.uuid)
                    if c.plan.get('hangRead'):
                        return None
                    if self.is_locked(c):
                        return refuse(handle, c.plan['locked'])
                    if not c.properties & 2:
                        return refuse(handle, 0x02)
                    return bytes([opcode + 1]) + c.value[offset:offset + self.mtu - 1]
            if self.plan.get('frozenReads'):
                return None
            return refuse(handle, 0x01)
        if opcode in (0x12, 0x52):
            handle, value = struct.unpack('<H', data[1:3])[0], data[3:]
            for c in self.characteristics:
                if handle == c.config_handle:
                    say(ev='subscribe', id=self.id, characteristic=c.uuid, handle=handle, bytes=value.hex())
                    if c.plan.get('hangSubscribe'):
                        return None
                    if c.plan.get('refuseSubscribe') or self.is_locked(c):
                        return refuse(handle, c.plan.get('refuseSubscribe') or c.plan['locked'])
                    was, c.enabled = c.enabled, value[:1] not in (b'\x00', b'')
                    if c.enabled and not was:
                        self.later(1, self.start_stream, c)
                    return bytes([0x13])
                if handle == c.value_handle:
                    # Write Not Permitted (Vol 3 Part F s3.4.1.1); a command that is not taken is dropped without a word.
                    if not c.properties & (8 if opcode == 0x12 else 4):
                        return refuse(handle, 0x03) if opcode == 0x12 else None
                    say(ev='written', id=self.id, characteristic=c.uuid, bytes=value.hex())
                    starts = self.plan.get('startCommand')
                    if starts and value.hex() == starts:
                        self.muted = False
                    keep = self.plan.get('keepAlive')
                    if keep and value.hex() == keep['bytes']:
                        self.muted = False
                        self.keep_until = now() + keep['withinMs']
                        self.later(keep['withinMs'] + 5, self.check_alive)
                    return bytes([0x13]) if opcode == 0x12 else None
            return refuse(handle, 0x01)
        if opcode == 0x1E:
            return None
        return refuse(0, NOT_SUPPORTED) if opcode % 2 == 0 else None

    def is_locked(self, characteristic):
        return characteristic.plan.get('locked') and not (self.security and self.security.is_open())

    def check_alive(self):
        if now() >= self.keep_until:
            self.muted = True
            say(ev='fellSilent', id=self.id)


class Link:
    def __init__(self, air, sensor, handle, interval, latency, timeout):
        self.air, self.sensor, self.handle = air, sensor, handle
        self.interval, self.latency, self.timeout = interval, latency, timeout
        self.faded_until, self.last_contact, self.waiting, self.fragments = 0.0, now(), [], b''

    def faded(self):
        return now() < self.faded_until

    def to_hub(self, channel, payload, lost=False):
        if lost:
            return
        if self.faded():
            self.waiting.append((True, channel, payload))
        else:
            self.hand_over(channel, payload)

    def hand_over(self, channel, payload):
        self.air.acl(self.handle, channel, payload)
        if self.air.tell_delivered and channel == 4 and payload[0] in (0x1B, 0x1D):
            say(ev='delivered', id=self.sensor.id, bytes=payload[3:].hex())

    def from_hub(self, channel, payload):
        if self.faded():
            self.waiting.append((False, channel, payload))
        else:
            self.sensor.take(channel, payload)

    def fade(self, ms):
        """Nothing passes for a while, as when a body is in the way; the link ends when that outlasts its timeout."""
        self.faded_until = now() + ms
        if ms >= self.timeout * 10:
            self.air.loop.call_later(self.timeout / 100, self.give_up)
        else:
            self.air.loop.call_later(ms / 1000, self.clear)

    def give_up(self):
        if self.sensor.link is self and self.faded():
            self.air.end_link(self, 0x08)

    def clear(self):
        if self.sensor.link is not self or self.faded():
            return
        waiting, self.waiting = self.waiting, []
        for outward, channel, payload in waiting:
            if outward:
                self.hand_over(channel, payload)
            elif self.sensor.link is self:
                self.sensor.take(channel, payload)


class Air:
    def __init__(self, loop, seed, most_links, tell_delivered=False):
        self.loop, self.chance, self.most_links = loop, random.Random(seed), most_links
        self.tell_delivered = tell_delivered
        self.sensors, self.links, self.write = {}, {}, None
        self.scanning, self.scan_interval, self.scan_window, self.duplicates_hidden, self.reported = False, 16, 16, False, set()
        self.scan_active = True
        self.attempt, self.accept_list, self.next_handle = None, set(), 0x40
        self.refuse, self.acl_length = {}, 251
        self.hub_address = address_bytes('00:1b:dc:07:31:7a')
        self.pending = b''

    # Events, Vol 4 Part E s7.7
    def event(self, code, parameters):
        if self.write:
            self.write(bytes([4, code, len(parameters)]) + parameters)

    def complete(self, opcode, parameters=b'\x00'):
        self.event(0x0E, b'\x01' + u16(opcode) + parameters)

    def status(self, opcode, code=0):
        self.event(0x0F, bytes([code, 1]) + u16(opcode))

    def acl(self, handle, channel, payload):
        if not self.write:
            return
        packet, first = u16(len(payload)) + u16(channel) + payload, True
        while packet:
            piece, packet = packet[:27], packet[27:]
            self.write(b'\x02' + u16(handle | (0x2000 if first else 0x1000)) + u16(len(piece)) + piece)
            first = False

    def heard(self, sensor):
        phase = (now() / 0.625) % self.scan_interval
        if self.attempt and self.attempt['address'] in (None, sensor.address):
            if self.attempt['address'] or sensor.address in self.accept_list:
                self.loop.call_later(0.002, self.establish, sensor)
                return
        if not self.scanning or phase > self.scan_window:
            return
        if self.duplicates_hidden and sensor.address in self.reported:
            return
        self.reported.add(sensor.address)
        data, response = sensor.payload()
        rssi = (sensor.plan.get('rssi', -60) & 0xFF).to_bytes(1, 'little')
        head = bytes([sensor.random_address]) + sensor.address
        self.event(0x3E, b'\x02\x01\x00' + head + bytes([len(data)]) + data + rssi)
        if self.scan_active:
            self.event(0x3E, b'\x02\x01\x04' + head + bytes([len(response)]) + response + rssi)

    def establish(self, sensor):
        attempt = self.attempt
        if not attempt or sensor.link or not sensor.on:
            return
        self.attempt = None
        handle = self.next_handle
        self.next_handle = 0x40 + (self.next_handle - 0x3F) % 0x200
        link = Link(self, sensor, handle, attempt['interval'], attempt['latency'], attempt['timeout'])
        self.links[handle] = link
        self.event(0x3E, b'\x01\x00' + u16(handle) + bytes([0, sensor.random_address]) + sensor.address +
                   u16(link.interval) + u16(link.latency) + u16(link.timeout) + b'\x00')
        sensor.linked(link)
        if sensor.plan.get('dropsAtOnce', 0) > 0:
            sensor.plan['dropsAtOnce'] -= 1
            self.end_link(link, 0x3E)

    def end_link(self, link, reason):
        if self.links.pop(link.handle, None) is None:
            return
        self.event(0x05, b'\x00' + u16(link.handle) + bytes([reason]))
        link.sensor.unlinked(reason)

    # What comes from the host
    def take_bytes(self, data):
        self.pending += data
        while self.pending:
            kind = self.pending[0]
            if kind == 1:
                if len(self.pending) < 4:
                    return
                size = 4 + self.pending[3]
            elif kind == 2:
                if len(self.pending) < 5:
                    return
                size = 5 + struct.unpack('<H', self.pending[3:5])[0]
            else:
                size = len(self.pending)
            if len(self.pending) < size:
                return
            packet, self.pending = self.pending[:size], self.pending[size:]
            self.take(packet)

    def take(self, packet):
        if packet[0] == 1:
            self.command(struct.unpack('<H', packet[1:3])[0], packet[4:])
        elif packet[0] == 2:
            head = struct.unpack('<H', packet[1:3])[0]
            handle, flags = head & 0xFFF, head >> 12
            self.loop.call_later(0.003, self.event, 0x13, b'\x01' + u16(handle) + u16(1))
            link = self.links.get(handle)
            if link is None:
                return
            link.fragments = packet[5:] if flags & 3 != 1 else link.fragments + packet[5:]
            if len(link.fragments) >= 4:
                length, channel = struct.unpack('<HH', link.fragments[:4])
                if len(link.fragments) >= 4 + length:
                    payload, link.fragments = link.fragments[4:4 + length], b''
                    # Within a connection event or two.
                    self.loop.call_later(link.interval * 1.25 / 1000 / 2, self.deliver, link, channel, payload)

    def deliver(self, link, channel, payload):
        if link.sensor.link is link:
            link.from_hub(channel, payload)

    def command(self, opcode, data):
        refusals = self.refuse.get(opcode)
        if refusals:
            code = refusals.pop(0)
            if code:
                say(ev='refused', opcode=opcode, code=code)
                (self.status if opcode in (0x200D, 0x2013, 0x0406) else lambda o, c: self.complete(o, bytes([c])))(opcode, code)
                return
        if opcode == 0x0C03:
            for link in list(self.links.values()):
                self.links.pop(link.handle)
                link.sensor.unlinked(0x16)
            self.scanning, self.attempt = False, None
            self.accept_list.clear()
            self.complete(opcode)
        elif opcode == 0x1001:
            self.complete(opcode, b'\x00' + bytes([9, 0, 0, 9, 0x02, 0x00, 0, 0]))
        elif opcode == 0x1002:
            self.complete(opcode, b'\x00' + bytes(64))
        elif opcode == 0x1003:
            # LE supported, BR/EDR not (Vol 2 Part C s3.3).
            self.complete(opcode, b'\x00' + bytes([0, 0, 0, 0, 0x60, 0, 0, 0]))
        elif opcode == 0x1005:
            self.complete(opcode, b'\x00' + u16(251) + b'\x00' + u16(8) + u16(0))
        elif opcode == 0x1009:
            self.complete(opcode, b'\x00' + self.hub_address)
        elif opcode == 0x2002:
            self.complete(opcode, b'\x00' + u16(self.acl_length) + b'\x08')
        elif opcode == 0x2003:
            # LE Encryption (Vol 6 Part B s4.6).
            self.complete(opcode, b'\x00\x01' + bytes(7))
        elif opcode == 0x200F:
            self.complete(opcode, b'\x00\x08')
        elif opcode == 0x201C:
            self.complete(opcode, b'\x00' + b'\xff' * 8)
        elif opcode == 0x200B:
            self.scan_active = data[0] == 1
            self.scan_interval, self.scan_window = struct.unpack('<HH', data[1:5])
            say(ev='scanParameters', interval=self.scan_interval * 0.625, window=self.scan_window * 0.625, links=len(self.links))
            self.complete(opcode, b'\x0c' if self.scanning else b'\x00')
        elif opcode == 0x200C:
            enable = data[0] == 1
            if enable == self.scanning:
                self.complete(opcode, b'\x0c')
                return
            self.scanning, self.duplicates_hidden = enable, data[1] == 1
            self.reported.clear()
            say(ev='scan', on=enable)
            self.complete(opcode)
        elif opcode == 0x2005:
            self.complete(opcode)
        elif opcode == 0x2010:
            self.accept_list.clear()
            self.complete(opcode)
        elif opcode == 0x2011:
            self.accept_list.add(bytes(data[1:7]))
            self.complete(opcode)
        elif opcode == 0x2012:
            self.accept_list.discard(bytes(data[1:7]))
            self.complete(opcode)
        elif opcode == 0x200D:
            policy, peer = data[4], bytes(data[6:12])
            smallest, largest, latency, timeout = struct.unpack('<HHHH', data[13:21])
            say(ev='connect', address=peer[::-1].hex(':'), timeout=timeout * 10, interval=largest * 1.25)
            if self.attempt:
                self.status(opcode, 0x0C)
            elif len(self.links) >= self.most_links:
                # Connection Limit Exceeded (Vol 1 Part F s1.3).
                self.status(opcode, 0x09)
            else:
                self.attempt = {'address': None if policy else peer, 'interval': largest, 'latency': latency, 'timeout': timeout}
                self.status(opcode)
        elif opcode == 0x200E:
            if self.attempt is None:
                self.complete(opcode, b'\x0c')
                return
            say(ev='cancel')
            self.attempt = None
            self.complete(opcode)
            self.event(0x3E, b'\x01\x02' + bytes(17))
        elif opcode == 0x2013:
            handle, smallest, largest, latency, timeout = struct.unpack('<HHHHH', data[:10])
            link = self.links.get(handle)
            self.status(opcode, 0 if link else 0x02)
            if link:
                link.interval, link.latency, link.timeout = largest, latency, timeout
                say(ev='update', id=link.sensor.id, interval=largest * 1.25, latency=latency, timeout=timeout * 10)
                self.loop.call_later(0.05, self.event, 0x3E, b'\x03\x00' + u16(handle) + u16(largest) + u16(latency) + u16(timeout))
        elif opcode == 0x0406:
            link = self.links.get(struct.unpack('<H', data[:2])[0])
            self.status(opcode, 0 if link else 0x02)
            if link:
                self.loop.call_later(0.02, self.end_link, link, 0x16)
        elif opcode == 0x2016:
            self.status(opcode)
            self.event(0x3E, b'\x04\x00' + data[:2] + bytes(8))
        elif opcode == 0x041D:
            self.status(opcode)
            self.event(0x0C, b'\x00' + data[:2] + bytes([9, 2, 0, 0, 0]))
        elif opcode == 0x2018:
            self.complete(opcode, b'\x00' + self.chance.randbytes(8))
        elif opcode == 0x2017:
            self.complete(opcode, b'\x00' + bytes(16))
        elif opcode == 0x2019:
            self.status(opcode)
            handle, ediv = struct.unpack('<H', data[:2])[0], struct.unpack('<H', data[10:12])[0]
            link = self.links.get(handle)
            if link and link.sensor.security:
                is_right = link.sensor.security.encrypt(data[2:10], ediv, data[12:28])
                # PIN or Key Missing (Vol 1 Part F s1.3).
                self.loop.call_later(0.02, self.event, 0x08, bytes([0 if is_right else 0x06]) + u16(handle) + bytes([int(is_right)]))
        else:
            self.complete(opcode, bytes(65))

    # What comes from the test
    def order(self, order):
        name = order['do']
        sensor = self.sensors.get(order.get('id'))
        if sensor:
            say(ev='ordered', id=sensor.id, do=name, ms=order.get('ms'))
        if name == 'add':
            self.sensors[order['sensor']['id']] = Sensor(self, order['sensor'])
        elif name == 'set':
            sensor.plan.update(order.get('plan', {}))
            for key in ('on', 'muted', 'advertise_every'):
                if key in order:
                    setattr(sensor, key, order[key])
            if 'address' in order:
                sensor.address, sensor.random_address = address_bytes(order['address']), 1
        elif name == 'fade':
            if sensor.link:
                sensor.link.fade(order['ms'])
        elif name == 'drop':
            sensor.hang_up(order.get('reason', 0x08))
        elif name == 'vanish':
            # Switched off without a word: the hub's side sees it only by its timeout.
            sensor.on = False
            if sensor.link:
                sensor.link.fade(10 ** 9)
        elif name == 'send':
            for c in sensor.characteristics:
                if c.uuid == order['characteristic'] and c.enabled:
                    say(ev='sent', id=sensor.id, characteristic=c.uuid, number=0, bytes=order['bytes'])
                    sensor.link.to_hub(4, b'\x1b' + u16(c.value_handle) + bytes.fromhex(order['bytes']))
        elif name == 'refuse':
            self.refuse.setdefault(order['opcode'], []).extend(order['codes'])
        elif name == 'rotate':
            sensor.rotate()
        elif name == 'forgetKey':
            sensor.security.kept = None
        elif name == 'done':
            pass
        say(ev='did', do=name, seq=order.get('seq'))


async def main():
    options = argparse.ArgumentParser()
    options.add_argument('--listen')
    options.add_argument('--vhci', action='store_true')
    options.add_argument('--seed', type=int, default=1)
    options.add_argument('--most-links', type=int, default=10)
    options.add_argument('--tell-delivered', action='store_true', help='tell each notification handed to the host')
    options = options.parse_args()
    loop = asyncio.get_running_loop()
    air = Air(loop, options.seed, options.most_links, options.tell_delivered)
    if options.vhci:
        device = os.open('/dev/vhci', os.O_RDWR | os.O_NONBLOCK)
        os.write(device, bytes([0xFF, 0x00]))

        def readable():
            try:
                packet = os.read(device, 4096)
            except BlockingIOError:
                return
            if packet[:1] == b'\xff':
                say(ev='adapter', index=struct.unpack('<H', packet[2:4])[0])
                return
            air.take(packet)

        def write(packet):
            try:
                os.write(device, packet)
            except OSError as error:
                # The kernel hears nothing of an adapter that it has switched off (hci_recv_frame).
                if error.errno != errno.ENXIO:
                    raise

        air.write = write
        loop.add_reader(device, readable)
    else:
        async def host(reader, writer):
            air.write, air.pending = writer.write, b''
            try:
                while data := await reader.read(4096):
                    air.take_bytes(data)
            except ConnectionError:
                pass
            air.write = None
            for link in list(air.links.values()):
                air.links.pop(link.handle)
                link.sensor.unlinked(0x08)
            air.scanning, air.attempt = False, None

        await asyncio.start_unix_server(host, options.listen)
    say(ev='ready')
    orders = asyncio.StreamReader()
    await loop.connect_read_pipe(lambda: asyncio.StreamReaderProtocol(orders), sys.stdin)
    while line := await orders.readline():
        air.order(json.loads(line))


asyncio.run(main())
