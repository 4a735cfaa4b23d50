#!/usr/bin/python3
"""Makes the bytes of a sensor from its profile: the opposite of what the hub does, written without its code.

One JSON object a line on standard input: {"profile": {...}, "from": UUID or null, "frames": [[[raw, ...] a field, or null], ...]}.
A null leaves the field's place as it is: frames of other types. One line of hexadecimal a request on standard output.
Cyclic redundancy checks go byte by byte over a table, the other way round than in src/profiles/checksum.ts.
"""
import json
import sys

SIZES = {'8': 1, '16': 2, '24': 3, '32': 4}


def size_of(kind):
    return SIZES[''.join(c for c in kind if c.isdigit())]


def crc(data, width, polynomial, initial, final, reflected):
    top, mask = 1 << (width - 1), (1 << width) - 1
    flip = lambda value, bits: int(format(value, '0%db' % bits)[::-1], 2)
    table = []
    for index in range(256):
        if reflected:
            value, turned = index, flip(polynomial, width)
            for _ in range(8):
                value = (value >> 1) ^ turned if value & 1 else value >> 1
        else:
            value = index << (width - 8)
            for _ in range(8):
                value = ((value << 1) ^ polynomial if value & top else value << 1) & mask
        table.append(value)
    register = flip(initial, width) if reflected else initial
    for byte in data:
        if reflected:
            register = (register >> 8) ^ table[(register ^ byte) & 0xFF]
        else:
            register = ((register << 8) & mask) ^ table[((register >> (width - 8)) ^ byte) & 0xFF]
    return register ^ final


def checksum(rule, data):
    kind = rule['kind']
    if kind == 'xor8':
        value = 0
        for byte in data:
            value ^= byte
        return bytes([value])
    if kind in ('sum8', 'sum7', 'negatedSum8'):
        total = sum(data)
        return bytes([{'sum8': total, 'sum7': total % 128, 'negatedSum8': -total}[kind] % 256])
    width = 16 if kind == 'crc16' else 8
    usual = (0x1021, 0xFFFF) if width == 16 else (0x07, 0)
    value = crc(data, width, rule.get('polynomial', usual[0]), rule.get('initial', usual[1]), rule.get('final', 0),
                rule.get('reflected', False))
    return value.to_bytes(width // 8, 'little' if rule.get('lowByteFirst') else 'big')


def put(frame, at, size, value):
    while len(frame) < at + size:
        frame.append(0)
    frame[at:at + size] = value


def put_field(frame, field, raws):
    kind = field.get('type', 'u8')
    size, order = size_of(kind), 'big' if kind.endswith('be') else 'little'
    if 'parts' in field:
        left = sum(part.get('bits', [0, 7])[1] - part.get('bits', [0, 7])[0] + 1 for part in field['parts'])
        for part in field['parts']:
            low, high = part.get('bits', [0, 7])
            left -= high - low + 1
            piece = ((raws[0] >> left) & ((1 << (high - low + 1)) - 1)) << low
            put(frame, part['at'], 0, b'')
            while len(frame) < part['at'] + 1:
                frame.append(0)
            frame[part['at']] |= piece
        return
    for index, raw in enumerate(raws):
        at = field.get('at', 0) + index * field.get('stride', size)
        if field.get('bits') is None:
            put(frame, at, size, (raw % (1 << (8 * size))).to_bytes(size, order))
            continue
        low, high = field['bits']
        while len(frame) < at + size:
            frame.append(0)
        there = int.from_bytes(frame[at:at + size], order)
        there |= (raw % (1 << (high - low + 1))) << low
        put(frame, at, size, there.to_bytes(size, order))


def encode(request):
    profile, source = request['profile'], request.get('from')
    framing = profile.get('frame')
    for also in profile['link'].get('also', []):
        if also['notify'] == source:
            framing = also.get('frame')
    out = bytearray()
    for values in request['frames']:
        frame = bytearray()
        for field, raws in zip(profile['fields'], values):
            if raws is None:
                continue
            when = field.get('when')
            if when is not None:
                put(frame, when['at'], 0, b'')
                while len(frame) < when['at'] + 1:
                    frame.append(0)
                frame[when['at']] |= when['is']
            put_field(frame, field, raws)
        out += finish(framing, frame)
    return out.hex()


def finish(framing, frame):
    if framing is None:
        return frame
    sync, length, rule = bytes.fromhex(framing['sync'].replace(' ', '')), framing['length'], framing.get('checksum')
    mask = bytes.fromhex(framing.get('syncMask', 'ff' * len(sync)))
    while len(frame) < len(sync):
        frame.append(0)
    for index, byte in enumerate(sync):
        frame[index] = (frame[index] & ~mask[index] & 0xFF) | byte
    width = 0 if rule is None else 2 if rule['kind'] == 'crc16' else 1
    if 'fixed' in length:
        while len(frame) < length['fixed'] - width:
            frame.append(0)
    elif 'sizes' in length:
        wanted = length['sizes'][str(frame[length['at']])]
        while len(frame) < wanted - width:
            frame.append(0)
    elif 'plus' in length or 'most' in length and 'at' in length:
        while len(frame) <= length['at']:
            frame.append(0)
        frame[length['at']] = len(frame) + width - length.get('plus', 0)
    if rule is not None:
        frame += checksum(rule, bytes(frame[rule.get('from', 0):]))
    body, tail = bytes(frame[len(sync):]), b''
    if 'until' in length:
        tail = bytes.fromhex(length['until'].replace(' ', ''))
    escape = framing.get('escape')
    if escape is not None:
        special = {escape['mark'], *sync, *tail}
        written = bytearray()
        for byte in body:
            if byte in special:
                if 'xor' in escape:
                    written += bytes([escape['mark'], byte ^ escape['xor']])
                else:
                    stands = {value: int(key, 0) for key, value in escape['stands'].items()}
                    written += bytes([escape['mark'], stands[byte]])
            else:
                written.append(byte)
        body = bytes(written)
    return bytes(frame[:len(sync)]) + body + tail


for line in sys.stdin:
    if line.strip():
        print(encode(json.loads(line)), flush=True)
