#!/usr/bin/python3
"""An independent stand-in for bluetoothd on a bus of its own: adapters, devices and GATT as doc/*-api.txt of BlueZ has them.

Shares no code with the hub or its D-Bus library. Sensors and faults are told by JSON lines on standard input; what happens
is told by JSON lines on standard output. It takes the name org.bluez on the bus of DBUS_SYSTEM_BUS_ADDRESS.
"""
import json
import random
import sys
import time

import dbus
import dbus.lowlevel
import dbus.mainloop.glib
import dbus.service
from gi.repository import GLib

dbus.mainloop.glib.DBusGMainLoop(set_as_default=True)
bus = dbus.SystemBus(private=True)
MANAGER, PROPERTIES = 'org.freedesktop.DBus.ObjectManager', 'org.freedesktop.DBus.Properties'
ADAPTER, DEVICE = 'org.bluez.Adapter1', 'org.bluez.Device1'
SERVICE, CHARACTERISTIC, BATTERY = 'org.bluez.GattService1', 'org.bluez.GattCharacteristic1', 'org.bluez.Battery1'
AGENTS, AGENT = 'org.bluez.AgentManager1', 'org.bluez.Agent1'
chance = random.Random(1)


def say(**event):
    event['t'] = time.monotonic() * 1000
    sys.stdout.write(json.dumps(event) + '\n')
    sys.stdout.flush()


def error(name, text='', domain='org.bluez.Error.'):
    return dbus.exceptions.DBusException(text, name=domain + name)


def uuid(text):
    if len(text) == 4:
        return '0000%s-0000-1000-8000-00805f9b34fb' % text
    return '-'.join((text[:8], text[8:12], text[12:16], text[16:20], text[20:]))


def octets(values):
    return dbus.Array([dbus.Byte(value) for value in values], signature='y')


def texts(values):
    return dbus.Array(list(values), signature='s')


class Fault:
    """Calls that are refused or never answered, by the name of the method; each as often as was said."""
    hang, refuse = {}, {}

    @classmethod
    def swallows(cls, method, fail):
        left = cls.hang.get(method, 0)
        if left:
            cls.hang[method] = left - 1
            say(ev='swallowed', method=method)
            return True
        refusals = cls.refuse.get(method)
        if refusals:
            name, text = refusals.pop(0)
            say(ev='refused', method=method)
            fail(error(name, text, '') if '.' in name else error(name, text))
            return True
        return False


objects = {}


class Item(dbus.service.Object):
    def __init__(self, path, interfaces, announce=True):
        super().__init__(bus, path)
        self.path, self.interfaces = dbus.ObjectPath(path), interfaces
        objects[path] = self
        if announce is True:
            root.InterfacesAdded(self.path, interfaces)
        elif announce:
            GLib.timeout_add(announce, lambda: root.InterfacesAdded(self.path, interfaces) if path in objects else None)

    def change(self, interface, **changed):
        self.interfaces[interface].update(changed)
        self.PropertiesChanged(interface, changed, [])

    def forget(self, interface, *names):
        for name in names:
            self.interfaces[interface].pop(name, None)
        self.PropertiesChanged(interface, {}, list(names))

    def remove(self):
        if objects.pop(str(self.path), None):
            root.InterfacesRemoved(self.path, list(self.interfaces))
            self.remove_from_connection()

    @dbus.service.method(PROPERTIES, in_signature='s', out_signature='a{sv}')
    def GetAll(self, interface):
        return self.interfaces.get(interface, {})

    @dbus.service.signal(PROPERTIES, signature='sa{sv}as')
    def PropertiesChanged(self, interface, changed, invalidated):
        pass


class Root(dbus.service.Object):
    @dbus.service.method(MANAGER, out_signature='a{oa{sa{sv}}}', async_callbacks=('done', 'fail'))
    def GetManagedObjects(self, done, fail):
        if not Fault.swallows('GetManagedObjects', fail):
            done({item.path: item.interfaces for item in objects.values()})

    @dbus.service.signal(MANAGER, signature='oa{sa{sv}}')
    def InterfacesAdded(self, path, interfaces):
        pass

    @dbus.service.signal(MANAGER, signature='oas')
    def InterfacesRemoved(self, path, interfaces):
        pass


class Agents(dbus.service.Object):
    """Who asked to be one, and who is asked when nobody in particular began the pairing."""
    agents, defaults = {}, []

    @dbus.service.method(AGENTS, in_signature='os', sender_keyword='sender')
    def RegisterAgent(self, path, capability, sender):
        if sender in self.agents:
            raise error('AlreadyExists', 'Already Exists')
        self.agents[sender] = path
        say(ev='agent', capability=capability)

    @dbus.service.method(AGENTS, in_signature='o', sender_keyword='sender')
    def RequestDefaultAgent(self, path, sender):
        if sender not in self.agents:
            raise error('DoesNotExist', 'Does Not Exist')
        self.defaults.append(sender)
        say(ev='defaultAgent', held=True)

    @dbus.service.method(AGENTS, in_signature='o', sender_keyword='sender')
    def UnregisterAgent(self, path, sender):
        if self.agents.pop(sender, None) is None:
            raise error('DoesNotExist', 'Does Not Exist')
        self.drop(sender)

    def drop(self, sender):
        self.agents.pop(sender, None)
        if sender in self.defaults:
            self.defaults.remove(sender)
            say(ev='defaultAgent', held=False)

    def of(self, sender):
        owner = sender if sender in self.agents else (self.defaults[-1] if self.defaults else None)
        return dbus.Interface(bus.get_object(owner, self.agents[owner], introspect=False), AGENT) if owner else None


class Adapter(Item):
    def __init__(self, index, plan):
        self.searching, self.filters = set(), {}
        interfaces = {ADAPTER: {'Address': '00:1B:DC:07:31:%02X' % index, 'Powered': dbus.Boolean(plan.get('on', True)),
                                'Discovering': dbus.Boolean(False), 'Roles': texts(plan.get('roles', ['central', 'peripheral']))}}
        super().__init__('/org/bluez/hci%d' % index, interfaces)

    @property
    def on(self):
        return bool(self.interfaces[ADAPTER]['Powered'])

    @dbus.service.method(ADAPTER, in_signature='a{sv}', sender_keyword='sender')
    def SetDiscoveryFilter(self, filters, sender):
        self.filters[sender] = filters
        say(ev='filter', transport=str(filters.get('Transport', '')), duplicates=bool(filters.get('DuplicateData', False)))

    @dbus.service.method(ADAPTER, async_callbacks=('done', 'fail'), sender_keyword='sender')
    def StartDiscovery(self, done, fail, sender):
        if Fault.swallows('StartDiscovery', fail):
            return
        if not self.on:
            return fail(error('NotReady', 'Resource Not Ready'))
        if sender in self.searching:
            return fail(error('InProgress', 'Operation already in progress'))
        self.searching.add(sender)
        say(ev='scan', on=True)
        done()
        self.change(ADAPTER, Discovering=dbus.Boolean(True))

    @dbus.service.method(ADAPTER, async_callbacks=('done', 'fail'), sender_keyword='sender')
    def StopDiscovery(self, done, fail, sender):
        if Fault.swallows('StopDiscovery', fail):
            return
        if sender not in self.searching:
            return fail(error('Failed', 'No discovery started'))
        self.quiet(sender)
        done()

    def quiet(self, sender):
        self.searching.discard(sender)
        if not self.searching:
            say(ev='scan', on=False)
            for sensor in sensors.values():
                if sensor.device and 'RSSI' in sensor.device.interfaces[DEVICE]:
                    sensor.device.forget(DEVICE, 'RSSI')
            self.change(ADAPTER, Discovering=dbus.Boolean(False))

    @dbus.service.method(ADAPTER, in_signature='o')
    def RemoveDevice(self, path):
        for sensor in sensors.values():
            if sensor.device and sensor.device.path == path:
                sensor.unlink('org.bluez.Reason.Local')
                sensor.forget()
                return
        raise error('DoesNotExist', 'Does Not Exist')


class Device(Item):
    def __init__(self, sensor, interfaces):
        self.sensor = sensor
        super().__init__('%s/dev_%s' % (adapters[0].path, sensor.address.replace(':', '_')), interfaces)

    @dbus.service.method(DEVICE, async_callbacks=('done', 'fail'))
    def Connect(self, done, fail):
        say(ev='connect', id=self.sensor.id)
        if not Fault.swallows('Connect', fail):
            self.sensor.connect(done, fail)

    @dbus.service.method(DEVICE, async_callbacks=('done', 'fail'))
    def Disconnect(self, done, fail):
        say(ev='disconnect', id=self.sensor.id)
        if Fault.swallows('Disconnect', fail):
            return
        if self.sensor.attempt:
            _, failed = self.sensor.attempt
            self.sensor.attempt = None
            failed(error('Failed', 'le-connection-abort-by-local'))
        self.sensor.unlink('org.bluez.Reason.Local')
        done()

    @dbus.service.method(DEVICE, async_callbacks=('done', 'fail'), sender_keyword='sender')
    def Pair(self, done, fail, sender):
        say(ev='pair', id=self.sensor.id)
        if self.sensor.bonded:
            return fail(error('AlreadyExists', 'Already Exists'))
        if not Fault.swallows('Pair', fail):
            self.sensor.pair(agents.of(sender), done, fail)

    @dbus.service.signal(DEVICE, signature='ss')
    def Disconnected(self, reason, message):
        pass


class Characteristic(Item):
    def __init__(self, sensor, path, service, plan):
        self.sensor, self.plan, self.listeners, self.number, self.timer = sensor, plan, set(), 0, 0
        super().__init__(path, {CHARACTERISTIC: {
            'UUID': uuid(plan['uuid']), 'Service': service.path, 'Flags': texts(plan.get('properties', ['read'])),
            'Notifying': dbus.Boolean(False)}}, sensor.plan.get('tellsServicesAfterMs', True))

    def guarded(self, go, fail):
        """As the kernel does: a lock is tried to be opened by pairing, with whoever is the default agent."""
        lock = self.plan.get('locked')
        if not lock or self.sensor.bonded or lock in self.sensor.unlocked:
            return go()
        if self.sensor.plan.get('pairing') is None or self.plan.get('waitsForPair'):
            return fail(error('NotPermitted', 'Not paired'))
        self.sensor.pair(agents.of(None), go, lambda _: fail(error('NotPermitted', 'Not paired')))

    @dbus.service.method(CHARACTERISTIC, in_signature='a{sv}', out_signature='ay', async_callbacks=('done', 'fail'))
    def ReadValue(self, options, done, fail):
        if Fault.swallows('ReadValue', fail) or self.plan.get('hangRead'):
            return
        if 'refuseRead' in self.plan:
            return fail(error(*self.plan['refuseRead']))

        def go():
            value = octets(bytes.fromhex(self.plan.get('value', '')))
            # bluetoothd tells what was read as it tells notifications, before it answers.
            self.PropertiesChanged(CHARACTERISTIC, {'Value': value}, [])
            say(ev='read', id=self.sensor.id, characteristic=self.plan['uuid'])
            done(value)
        self.guarded(go, fail)

    @dbus.service.method(CHARACTERISTIC, in_signature='aya{sv}', async_callbacks=('done', 'fail'))
    def WriteValue(self, value, options, done, fail):
        if Fault.swallows('WriteValue', fail):
            return

        def go():
            say(ev='written', id=self.sensor.id, characteristic=self.plan['uuid'], bytes=bytes(value).hex(), kind=str(options.get('type', '')))
            done()
        self.guarded(go, fail)

    @dbus.service.method(CHARACTERISTIC, async_callbacks=('done', 'fail'), sender_keyword='sender')
    def StartNotify(self, done, fail, sender):
        if Fault.swallows('StartNotify', fail):
            return
        if sender in self.listeners:
            return fail(error('InProgress', 'Operation already in progress'))

        def go():
            say(ev='subscribe', id=self.sensor.id, characteristic=self.plan['uuid'], sender=str(sender))
            self.listeners.add(sender)
            done()
            stream = self.plan.get('stream')
            if stream and not self.timer:
                self.timer = GLib.timeout_add(stream['everyMs'], self.tick)
        self.guarded(go, fail)

    @dbus.service.method(CHARACTERISTIC, sender_keyword='sender')
    def StopNotify(self, sender):
        self.listeners.discard(sender)
        if not self.listeners:
            self.quiet()

    def quiet(self):
        if self.timer:
            GLib.source_remove(self.timer)
        self.timer = 0

    def tick(self):
        if not self.listeners or not self.sensor.linked:
            self.timer = 0
            return False
        if not self.plan.get('dead'):
            self.number += 1
            value = [0x16, 60 + self.number % 40, self.number & 255, self.number >> 8 & 255]
            say(ev='sent', id=self.sensor.id, characteristic=self.plan['uuid'], number=self.number)
            self.PropertiesChanged(CHARACTERISTIC, {'Value': octets(value)}, [])
        return True


class Sensor:
    def __init__(self, plan):
        self.plan, self.id, self.address = plan, plan['id'], plan['address'].upper()
        self.on, self.linked, self.bonded, self.device, self.attempt, self.tree = True, False, False, None, None, []
        self.unlocked = set()
        GLib.timeout_add(plan.get('advertiseEveryMs', 60), self.advertise)

    def advertise(self):
        if self.on and not self.linked and adapters and adapters[0].on:
            if self.attempt:
                GLib.timeout_add(20, self.establish)
            elif adapters[0].searching:
                rssi = dbus.Int16(-60 + chance.randint(-6, 6))
                if self.device is None:
                    self.device = Device(self, {DEVICE: {
                        'Address': self.address, 'AddressType': 'random', 'Name': self.plan['name'], 'Alias': self.plan['name'],
                        'Adapter': adapters[0].path, 'Paired': dbus.Boolean(self.bonded), 'Bonded': dbus.Boolean(self.bonded),
                        'Connected': dbus.Boolean(False), 'ServicesResolved': dbus.Boolean(False), 'RSSI': rssi,
                        'UUIDs': texts(uuid(one) for one in self.plan.get('advertises', [s['uuid'] for s in self.plan['services'][:1]]))}})
                elif self.device.interfaces[DEVICE].get('RSSI') != rssi:
                    self.device.change(DEVICE, RSSI=rssi)
        return True

    def connect(self, done, fail):
        if self.linked:
            return done()
        if self.attempt:
            return fail(error('InProgress', 'In Progress'))
        self.attempt = (done, fail)

    def establish(self):
        if self.attempt:
            done, _ = self.attempt
            self.attempt, self.linked = None, True
            if self.plan.get('hidesConnected'):
                self.device.interfaces[DEVICE]['Connected'] = dbus.Boolean(True)
            else:
                self.device.change(DEVICE, Connected=dbus.Boolean(True))
            say(ev='connected', id=self.id)
            done()
            if self.bonded and self.plan.get('lostItsKey'):
                # The kernel ends the link when encryption fails; whether the daemon says why is `tellsReason`.
                GLib.timeout_add(15, lambda: self.unlink('org.bluez.Reason.Authentication'))
                return False
            GLib.timeout_add(self.plan.get('resolveAfterMs', 20), self.resolve)
            if self.plan.get('securityRequest') and not self.bonded:
                GLib.timeout_add(5, lambda: self.pair(agents.of(None), lambda: None, lambda _: self.unlink('org.bluez.Reason.Remote')))
        return False

    def resolve(self):
        if self.linked and not self.plan.get('neverResolves'):
            for number, service in enumerate(self.plan['services']):
                path = '%s/service%04x' % (self.device.path, number)
                if service.get('asBattery'):
                    self.device.interfaces[BATTERY] = {'Percentage': dbus.Byte(service['asBattery'])}
                    root.InterfacesAdded(self.device.path, {BATTERY: self.device.interfaces[BATTERY]})
                    continue
                held = Item(path, {SERVICE: {'UUID': uuid(service['uuid']), 'Primary': dbus.Boolean(True), 'Device': self.device.path}},
                            self.plan.get('tellsServicesAfterMs', True))
                self.tree.append(held)
                for index, plan in enumerate(service['characteristics']):
                    self.tree.append(Characteristic(self, '%s/char%04x' % (path, index), held, plan))
            self.device.change(DEVICE, ServicesResolved=dbus.Boolean(True))
        return False

    def unlink(self, reason):
        if not self.linked:
            return
        self.linked = False
        say(ev='disconnected', id=self.id)
        for item in self.tree:
            if isinstance(item, Characteristic):
                item.quiet()
            item.remove()
        self.tree = []
        self.device.interfaces.pop(BATTERY, None)
        if self.plan.get('tellsReason', True):
            self.device.Disconnected(reason, '')
        self.device.change(DEVICE, ServicesResolved=dbus.Boolean(False), Connected=dbus.Boolean(False))

    def forget(self):
        self.bonded = False
        self.unlocked.clear()
        if self.device:
            self.device.remove()
        self.device = None
        say(ev='forgotten', id=self.id)

    def pair(self, agent, done, fail):
        kind = self.plan.get('pairing')
        if agent is None and kind != 'justWorks':
            return fail(error('AuthenticationFailed', 'Authentication Failed'))
        say(ev='pairing', id=self.id, kind=kind)

        def well(*_):
            self.bonded = True
            say(ev='bonded', id=self.id)
            if 'identity' in self.plan:
                self.device.change(DEVICE, Address=self.plan['identity'].upper())
            self.device.change(DEVICE, Paired=dbus.Boolean(True), Bonded=dbus.Boolean(True))
            done()

        def ill(problem):
            say(ev='pairingFailed', id=self.id, name=problem.get_dbus_name())
            if self.plan.get('hangsUpWhenPairingFails'):
                # As the kernel does, and the call that met the lock is not answered before.
                return self.unlink('org.bluez.Reason.Authentication')
            cancelled = problem.get_dbus_name() == 'org.bluez.Error.Canceled'
            return fail(error('AuthenticationCanceled' if cancelled else 'AuthenticationFailed', 'Authentication Failed'))

        def typed(code):
            if int(code) == self.plan['code']:
                return well()
            return ill(error('AuthenticationFailed'))

        path = self.device.path
        if kind == 'typeCode':
            agent.RequestPasskey(path, reply_handler=typed, error_handler=ill, timeout=60)
        elif kind == 'compareCode':
            agent.RequestConfirmation(path, dbus.UInt32(self.plan['code']), reply_handler=well, error_handler=ill, timeout=60)
        elif kind == 'showCode':
            agent.DisplayPasskey(path, dbus.UInt32(self.plan['code']), dbus.UInt16(0), reply_handler=lambda: None, error_handler=ill)
            self.entered = well
        elif kind == 'justWorks':
            if agent is None:
                well()
            else:
                agent.RequestAuthorization(path, reply_handler=well, error_handler=ill, timeout=60)
        else:
            fail(error('AuthenticationRejected', 'Authentication Rejected'))


root = Root(bus, '/')
agents = Agents(bus, '/org/bluez')
adapters, sensors = [], {}
name = dbus.service.BusName('org.bluez', bus)
bus.add_signal_receiver(lambda who, old, new: not new and gone(str(who)), 'NameOwnerChanged', 'org.freedesktop.DBus')


def gone(who):
    """A client that leaves the bus leaves its searches and its place as an agent, and not its links."""
    agents.drop(who)
    for adapter in adapters:
        if who in adapter.searching:
            adapter.quiet(who)
    for sensor in sensors.values():
        for item in sensor.tree:
            if isinstance(item, Characteristic):
                item.listeners.discard(who)


def order(what):
    global name
    do, sensor = what['do'], sensors.get(what.get('id'))
    if do == 'addAdapter':
        adapters.append(Adapter(what.get('index', 0), what))
    elif do == 'removeAdapter':
        for one in sensors.values():
            one.unlink('org.bluez.Reason.Local')
            if one.device:
                one.device.remove()
            one.device = None
        adapters.pop().remove()
    elif do == 'power':
        if not what['on']:
            adapters[0].searching.clear()
            for one in sensors.values():
                one.unlink('org.bluez.Reason.Local')
        adapters[0].change(ADAPTER, Powered=dbus.Boolean(what['on']))
    elif do == 'add':
        sensors[what['sensor']['id']] = Sensor(what['sensor'])
    elif do == 'set':
        sensor.plan.update(what['plan'])
    elif do == 'on':
        sensor.on = what['on']
    elif do == 'drop':
        sensor.unlink('org.bluez.Reason.' + what.get('reason', 'Timeout'))
    elif do == 'entered':
        sensor.entered()
    elif do == 'evict':
        sensor.unlink('org.bluez.Reason.Local')
        sensor.forget()
    elif do == 'hang':
        Fault.hang[what['method']] = what.get('times', 1)
    elif do == 'refuse':
        Fault.refuse.setdefault(what['method'], []).append((what['name'], what.get('text', '')))
    elif do == 'notify':
        for item in sensor.tree:
            if isinstance(item, Characteristic) and item.plan['uuid'] == what['characteristic']:
                item.PropertiesChanged(CHARACTERISTIC, {'Value': octets(bytes.fromhex(what['bytes']))}, [])
    elif do == 'battery':
        sensor.device.change(BATTERY, Percentage=dbus.Byte(what['percent']))
    elif do == 'askStranger':
        # Another device than any that the hub has a link to asks whoever is the default agent.
        agent = agents.of(None)
        if agent is None:
            say(ev='stranger', answer='nobody')
        else:
            agent.RequestAuthorization(dbus.ObjectPath('/org/bluez/hci0/dev_00_00_00_00_00_01'),
                                       reply_handler=lambda: say(ev='stranger', answer='accepted'),
                                       error_handler=lambda e: say(ev='stranger', answer=e.get_dbus_name()))
    elif do == 'forge':
        # Another user of the bus, in the daemon's place: a value of a characteristic, and a question to the agent.
        stranger = dbus.SystemBus(private=True)
        for item in sensor.tree:
            if isinstance(item, Characteristic):
                for listener in item.listeners:
                    signal = dbus.lowlevel.SignalMessage(item.path, PROPERTIES, 'PropertiesChanged')
                    signal.append(CHARACTERISTIC, {'Value': octets(bytes.fromhex(what['bytes']))}, texts([]), signature='sa{sv}as')
                    signal.set_destination(listener)
                    stranger.send_message(signal)
                    signal = dbus.lowlevel.SignalMessage('/', 'org.freedesktop.DBus', 'NameOwnerChanged')
                    signal.append('org.bluez', ':1.1', '', signature='sss')
                    signal.set_destination(listener)
                    stranger.send_message(signal)
        stranger.flush()
    elif do == 'leaveBus':
        del name
        bus.release_name('org.bluez')
        for one in sensors.values():
            one.unlink('org.bluez.Reason.Local')
    elif do == 'joinBus':
        name = dbus.service.BusName('org.bluez', bus)
    say(ev='did', seq=what.get('seq'))


buffer = ''


def readable(channel, condition):
    line = channel.readline()
    if not line:
        loop.quit()
        return False
    order(json.loads(line))
    return True


loop = GLib.MainLoop()
stdin = GLib.IOChannel.unix_new(0)
GLib.io_add_watch(stdin, GLib.PRIORITY_DEFAULT, GLib.IOCondition.IN | GLib.IOCondition.HUP, readable)
say(ev='ready')
loop.run()
