"""The sensor's side of Bluetooth LE pairing and encryption: a Security Manager of its own, legacy and Secure Connections.

Written from the Bluetooth Core Specification 5.3 Vol 3 Part H (section numbers below); shares no code with any host. Keys
are kept as a sensor keeps them, so that a hub that lost its own is refused. `python3 security.py` asks the functions for
the specification's sample data. Not for protecting anything: nothing here resists an attacker who measures time.
"""
import os
import struct

# AES-128, FIPS 197: encryption only.
SBOX = [0] * 256


def _make_sbox():
    p = q = 1
    while True:
        p = p ^ (p << 1 & 255) ^ (0x1B if p & 128 else 0)
        q ^= q << 1
        q ^= q << 2
        q ^= q << 4
        q &= 255
        q ^= 0x09 if q & 128 else 0
        x = q ^ (q << 1 | q >> 7) ^ (q << 2 | q >> 6) ^ (q << 3 | q >> 5) ^ (q << 4 | q >> 4)
        SBOX[p] = (x ^ 0x63) & 255
        if p == 1:
            SBOX[0] = 0x63
            return


_make_sbox()
double = lambda b: (b << 1 ^ (0x1B if b & 128 else 0)) & 255


def aes(key, block):
    """s2.2.1, e: most significant octet first."""
    words = [list(key[i:i + 4]) for i in range(0, 16, 4)]
    rcon = 1
    for i in range(4, 44):
        word = list(words[-1])
        if i % 4 == 0:
            word = [SBOX[b] for b in word[1:] + word[:1]]
            word[0] ^= rcon
            rcon = double(rcon)
        words.append([a ^ b for a, b in zip(words[i - 4], word)])
    keys = [sum(words[i:i + 4], []) for i in range(0, 44, 4)]
    state = [a ^ b for a, b in zip(block, keys[0])]
    for turn in range(1, 11):
        state = [SBOX[state[(i + 4 * (i % 4)) % 16]] for i in range(16)]
        if turn < 10:
            mixed = []
            for c in range(0, 16, 4):
                column = state[c:c + 4]
                for i in range(4):
                    a, b = column[i], column[(i + 1) % 4]
                    mixed.append(double(a) ^ double(b) ^ b ^ column[(i + 2) % 4] ^ column[(i + 3) % 4])
            state = mixed
        state = [a ^ b for a, b in zip(state, keys[turn])]
    return bytes(state)


xor = lambda a, b: bytes(x ^ y for x, y in zip(a, b))


def cmac(key, message):
    """RFC 4493."""
    shift = lambda block: ((int.from_bytes(block, 'big') << 1) & (1 << 128) - 1) ^ (0x87 if block[0] & 128 else 0)
    first = shift(aes(key, bytes(16))).to_bytes(16, 'big')
    second = shift(first).to_bytes(16, 'big')
    blocks = [message[i:i + 16] for i in range(0, len(message), 16)] or [b'']
    last = blocks.pop()
    last = xor(last, first) if len(last) == 16 else xor((last + b'\x80' + bytes(16))[:16], second)
    state = bytes(16)
    for block in blocks + [last]:
        state = aes(key, xor(state, block))
    return state


# P-256, FIPS 186-4 D.1.2.3.
P = 0xFFFFFFFF00000001000000000000000000000000FFFFFFFFFFFFFFFFFFFFFFFF
N = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
B = 0x5AC635D8AA3A93E7B3EBBD55769886BC651D06B0CC53B0F63BCE3C3E27D2604B
G = (0x6B17D1F2E12C4247F8BCE6E563A440F277037D812DEB33A0F4A13945D898C296,
     0x4FE342E2FE1A7F9B8EE7EB4A7C0F9E162BCE33576B315ECECBB6406837BF51F5)


def add(one, other):
    if one is None or other is None:
        return other if one is None else one
    (x1, y1), (x2, y2) = one, other
    if x1 == x2 and (y1 + y2) % P == 0:
        return None
    slope = (3 * x1 * x1 - 3) * pow(2 * y1, -1, P) if one == other else (y2 - y1) * pow(x2 - x1, -1, P)
    x = (slope * slope - x1 - x2) % P
    return x, (slope * (x1 - x) - y1) % P


def multiply(number, point):
    total = None
    while number:
        if number & 1:
            total = add(total, point)
        point, number = add(point, point), number >> 1
    return total


# s2.2: all values most significant octet first.
def c1(k, r, preq, pres, iat, rat, ia, ra):
    p1 = pres + preq + bytes([rat, iat])
    return aes(k, xor(aes(k, xor(r, p1)), bytes(4) + ia + ra))


s1 = lambda k, r1, r2: aes(k, r1[8:] + r2[8:])
f4 = lambda u, v, x, z: cmac(x, u + v + bytes([z]))


def f5(w, n1, n2, a1, a2):
    t = cmac(bytes.fromhex('6c888391aaf5a53860370bdb5a6083be'), w)
    part = lambda counter: cmac(t, bytes([counter]) + b'btle' + n1 + n2 + a1 + a2 + b'\x01\x00')
    return part(0), part(1)


f6 = lambda w, n1, n2, r, io, a1, a2: cmac(w, n1 + n2 + r + io + a1 + a2)
ah = lambda irk, prand: aes(irk, bytes(13) + prand)[13:]


def resolvable(irk):
    """Vol 6 Part B s1.3.2.2: a private address that only who has the key can tell from others; least significant first."""
    prand = bytearray(os.urandom(3))
    prand[0] = prand[0] & 0x3F | 0x40
    return (bytes(prand) + ah(irk, bytes(prand)))[::-1]


NO_INPUT, DISPLAY = 3, 0
BONDING, MITM, SECURE = 1, 4, 8
CONFIRM_FAILED, REQUIREMENTS, DHKEY_FAILED, UNSPECIFIED = 0x04, 0x03, 0x0B, 0x08


class Security:
    """`plan`: `code` (six digits that the sensor shows; without one, just works), `secure` (Secure Connections or nothing),
    `irk` and `identity` for a sensor whose address changes."""

    def __init__(self, sensor, plan, say):
        self.sensor, self.plan, self.say = sensor, plan, say
        self.code, self.secure = plan.get('code'), bool(plan.get('secure'))
        self.irk = bytes.fromhex(plan['irk']) if 'irk' in plan else None
        self.kept = None
        self.reset()

    def reset(self):
        self.key = self.state = None
        self.encrypted = self.authenticated = False

    def is_open(self):
        return self.encrypted and (self.authenticated or self.code is None)

    def send(self, *parts):
        if self.sensor.link:
            self.sensor.link.to_hub(6, b''.join(parts))

    def fail(self, reason):
        self.say(ev='pairingFailed', id=self.sensor.id, reason=reason)
        self.state = None
        self.send(bytes([0x05, reason]))

    def begin(self):
        """s3.6.7: asks the hub for it."""
        self.send(bytes([0x0B, self.wishes()]))

    def wishes(self):
        return BONDING | (MITM if self.code is not None else 0) | (SECURE if self.secure else 0)

    def take(self, data):
        handler = {0x01: self.on_request, 0x03: self.on_confirm, 0x04: self.on_random, 0x05: self.on_failed,
                   0x0C: self.on_public_key, 0x0D: self.on_check}.get(data[0])
        if handler:
            handler(data[1:])

    def on_failed(self, data):
        self.say(ev='pairingFailed', id=self.sensor.id, reason=data[0], by='hub')
        self.state = None

    def on_request(self, data):
        if self.secure and not data[2] & SECURE:
            self.say(ev='pairingRequest', id=self.sensor.id, secure=False)
            return self.fail(REQUIREMENTS)
        response = bytes([DISPLAY if self.code is not None else NO_INPUT, 0, self.wishes(), 16,
                          data[4] & 2, data[5] & (2 if self.secure else 3) & (3 if self.irk else 1)])
        self.state = {'preq': b'\x01' + data[:6], 'pres': b'\x02' + response, 'round': 0, 'confirms': []}
        hub = self.sensor.air.hub_address
        self.state['a'] = b'\x00' + hub[::-1]
        self.state['b'] = bytes([self.sensor.random_address]) + self.sensor.address[::-1]
        self.say(ev='pairingRequest', id=self.sensor.id, secure=bool(data[2] & SECURE), keyboard=data[0] in (2, 4))
        self.send(self.state['pres'])

    # Legacy, s2.3.5
    def passkey(self):
        return (self.code or 0).to_bytes(16, 'big')

    def confirmed_by(self, nonce):
        s = self.state
        return c1(self.passkey(), nonce, s['preq'][::-1], s['pres'][::-1], s['a'][0], s['b'][0], s['a'][1:], s['b'][1:])

    def on_confirm(self, data):
        s = self.state
        if not s:
            return
        s['theirs'], s['nonce'] = data[::-1], os.urandom(16)
        if self.secure:
            self.send(b'\x03', f4(s['pk'][:32], s['peer'][:32], s['nonce'], self.bit())[::-1])
        else:
            self.send(b'\x03', self.confirmed_by(s['nonce'])[::-1])

    def bit(self):
        return 0 if self.code is None else 0x80 | self.code >> self.state['round'] & 1

    def on_random(self, data):
        s = self.state
        if not s:
            return
        theirs = data[::-1]
        if not self.secure:
            if self.confirmed_by(theirs) != s['theirs']:
                return self.fail(CONFIRM_FAILED)
            self.send(b'\x04', s['nonce'][::-1])
            self.key = s1(self.passkey(), s['nonce'], theirs)
            return None
        if self.code is not None and f4(s['peer'][:32], s['pk'][:32], theirs, self.bit()) != s['theirs']:
            return self.fail(CONFIRM_FAILED)
        s['na'], s['nb'] = theirs, s['nonce']
        self.send(b'\x04', s['nonce'][::-1])
        s['round'] += 1
        return None

    # Secure Connections, s2.3.5.6
    def on_public_key(self, data):
        s = self.state
        if not s:
            return
        s['peer'] = data[:32][::-1] + data[32:64][::-1]
        point = int.from_bytes(s['peer'][:32], 'big'), int.from_bytes(s['peer'][32:], 'big')
        if (point[1] ** 2 - point[0] ** 3 + 3 * point[0] - B) % P:
            return self.fail(UNSPECIFIED)
        secret = int.from_bytes(os.urandom(32), 'big') % (N - 1) + 1
        mine = multiply(secret, G)
        s['pk'] = mine[0].to_bytes(32, 'big') + mine[1].to_bytes(32, 'big')
        s['dh'] = multiply(secret, point)[0].to_bytes(32, 'big')
        self.send(b'\x0C', s['pk'][:32][::-1], s['pk'][32:][::-1])
        if self.code is None:
            s['nonce'] = os.urandom(16)
            self.send(b'\x03', f4(s['pk'][:32], s['peer'][:32], s['nonce'], 0)[::-1])
        return None

    def on_check(self, data):
        s = self.state
        if not s or 'na' not in s:
            return
        mac, ltk = f5(s['dh'], s['na'], s['nb'], s['a'], s['b'])
        capabilities = lambda pdu: bytes([pdu[3], pdu[2], pdu[1]])
        if f6(mac, s['na'], s['nb'], self.passkey(), capabilities(s['preq']), s['a'], s['b']) != data[::-1]:
            return self.fail(DHKEY_FAILED)
        self.send(b'\x0D', f6(mac, s['nb'], s['na'], self.passkey(), capabilities(s['pres']), s['b'], s['a'])[::-1])
        self.key = ltk
        return None

    # Encryption, Vol 4 Part E s7.8.24
    def encrypt(self, rand, ediv, ltk):
        """True where the hub has the key that the sensor has."""
        ltk = ltk[::-1]
        if self.state and self.key is not None:
            if ltk != self.key:
                return False
            self.encrypted, self.authenticated = True, self.code is not None
            self.say(ev='paired', id=self.sensor.id, secure=self.secure, withCode=self.code is not None)
            # After the controllers have told that the link is encrypted.
            self.sensor.later(100, self.distribute)
            return True
        if self.kept is None or (rand, ediv, ltk) != self.kept[:3]:
            self.say(ev='unknownKey', id=self.sensor.id)
            return False
        self.encrypted, self.authenticated = True, self.kept[3]
        self.say(ev='encrypted', id=self.sensor.id, withCode=self.kept[3])
        return True

    def distribute(self):
        """s3.6: the sensor first."""
        wanted = self.state['pres'][6]
        if self.secure:
            self.kept = (bytes(8), 0, self.key, self.code is not None)
        else:
            ltk, rand, ediv = os.urandom(16), os.urandom(8), struct.unpack('<H', os.urandom(2))[0]
            self.kept = (rand, ediv, ltk, self.code is not None)
            self.send(b'\x06', ltk[::-1])
            self.send(b'\x07', struct.pack('<H', ediv), rand)
        if wanted & 2 and self.irk:
            self.send(b'\x08', self.irk[::-1])
            self.send(b'\x09\x01', bytes.fromhex(self.plan['identity'].replace(':', ''))[::-1])
        self.state = self.key = None


def check_samples():
    """Vol 3 Part H s2.2.3, s2.2.4 and Appendix D; FIPS 197 C.1; RFC 4493 s4."""
    h = bytes.fromhex
    assert aes(h('000102030405060708090a0b0c0d0e0f'), h('00112233445566778899aabbccddeeff')) == h('69c4e0d86a7b0430d8cdb78070b4c55a')
    assert cmac(h('2b7e151628aed2a6abf7158809cf4f3c'), b'') == h('bb1d6929e95937287fa37d129b756746')
    assert c1(bytes(16), h('5783d52156ad6f0e6388274ec6702ee0'), h('07071000000101'), h('05000800000302'), 1, 0,
              h('a1a2a3a4a5a6'), h('b1b2b3b4b5b6')) == h('1e1e3fef878988ead2a74dc5bef13b86')
    assert s1(bytes(16), h('000f0e0d0c0b0a091122334455667788'), h('010203040506070899aabbccddeeff00')) == h('9a1fe1f0e8b0f49b5b4216ae796da062')
    u = h('20b003d2f297be2c5e2c83a7e9f9a5b9eff49111acf4fddbcc0301480e359de6')
    v = h('55188b3d32f6bb9a900afcfbeed4e72a59cb9ac2f19d7cfb6b4fdd49f47fc5fd')
    x = h('d5cb8454d177733effffb2ec712baeab')
    assert f4(u, v, x, 0) == h('f2c916f107a9bd1cf1eda1bea974872d')
    w = h('ec0234a357c8ad05341010a60a397d9b99796b13b4f866f1868d34f373bfa698')
    n2, a1, a2 = h('a6e8e7cc25a75f6e216583f7ff3dc4cf'), h('0056123737bfce'), h('00a713702dcfc1')
    mac, ltk = f5(w, x, n2, a1, a2)
    assert ltk == h('6986791169d7cd23980522b594750a38') and mac == h('2965f176a1084a02fd3f6a20ce636e20')
    assert f6(mac, x, n2, h('12a3343bb453bb5408da42d20c2d0fc8'), h('010102'), a1, a2) == h('e3c473989cd0e8c5d26c0b09da958f61')
    assert ah(h('ec0234a357c8ad05341010a60a397d9b'), h('708194')) == h('0dfbaa')
    secret = 0x3F49F6D4A3C55F3874C9B3E3D2103F504AFF607BEB40B7995899B8A6CD3C1ABD
    assert multiply(secret, G)[0] == int(u.hex(), 16)


if __name__ == '__main__':
    check_samples()
    print('as the specification says')
