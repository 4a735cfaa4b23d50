#!/usr/bin/python3
"""A heart rate and pulse oximeter sensor served by BlueZ's own daemon: gatt-server.py hciN NAME.

Independent of everything the hub uses: its GATT server is bluetoothd's. SIGUSR1 ends the link to the hub.
"""
import signal
import sys

import dbus
import dbus.mainloop.glib
import dbus.service
from gi.repository import GLib

adapter, name = sys.argv[1:3]
dbus.mainloop.glib.DBusGMainLoop(set_as_default=True)
bus = dbus.SystemBus(private=True)
MANAGER, PROPERTIES = 'org.freedesktop.DBus.ObjectManager', 'org.freedesktop.DBus.Properties'
SERVICE, CHARACTERISTIC, ADVERTISEMENT = 'org.bluez.GattService1', 'org.bluez.GattCharacteristic1', 'org.bluez.LEAdvertisement1'
BASE = '/rig/' + adapter


def uuid(short):
    return '0000%s-0000-1000-8000-00805f9b34fb' % short


def octets(values):
    return dbus.Array([dbus.Byte(value) for value in values], signature='y')


class Item(dbus.service.Object):
    def __init__(self, path, interface, properties):
        self.path, self.interface, self.properties = dbus.ObjectPath(path), interface, properties
        super().__init__(bus, path)

    @dbus.service.method(PROPERTIES, in_signature='s', out_signature='a{sv}')
    def GetAll(self, _interface):
        return self.properties

    @dbus.service.signal(PROPERTIES, signature='sa{sv}as')
    def PropertiesChanged(self, interface, changed, invalidated):
        pass


class Stream(Item):
    def __init__(self, path, service, short, flags, make, every_ms):
        super().__init__(path, CHARACTERISTIC, {
            'UUID': uuid(short), 'Service': service.path, 'Flags': dbus.Array(flags, signature='s')})
        self.make, self.every_ms, self.number, self.timer = make, every_ms, 0, 0

    @dbus.service.method(CHARACTERISTIC)
    def StartNotify(self):
        if self.every_ms:
            self.timer = self.timer or GLib.timeout_add(self.every_ms, self.tick)
        else:
            GLib.timeout_add(50, lambda: self.tick() and False)

    @dbus.service.method(CHARACTERISTIC)
    def StopNotify(self):
        if self.timer:
            GLib.source_remove(self.timer)
            self.timer = 0

    def tick(self):
        self.number += 1
        self.PropertiesChanged(CHARACTERISTIC, {'Value': octets(self.make(self.number))}, [])
        return True


class Root(dbus.service.Object):
    @dbus.service.method(MANAGER, out_signature='a{oa{sa{sv}}}')
    def GetManagedObjects(self):
        return {item.path: {item.interface: item.properties} for item in items}


class Advertisement(Item):
    @dbus.service.method(ADVERTISEMENT)
    def Release(self):
        pass


items = []
for short in ('180d', '1822'):
    path = '%s/%s' % (BASE, short)
    service = Item(path, SERVICE, {'UUID': uuid(short), 'Primary': dbus.Boolean(True)})
    items.append(service)
    if short == '180d':
        # The packet's number stands in the RR field.
        items.append(Stream(path + '/measurement', service, '2a37', ['notify'],
                            lambda n: [0x16, 60 + n % 40, n & 255, n >> 8 & 255], 250))
    else:
        items.append(Stream(path + '/continuous', service, '2a5f', ['notify'],
                            lambda n: [0x00, 80 + n % 20, 0, n & 255, n >> 8 & 7], 250))
        items.append(Stream(path + '/spot', service, '2a5e', ['indicate'], lambda n: [0x00, 97, 0, 61, 0], 0))
Root(bus, BASE)
advertisement = Advertisement(BASE + '/advertisement', ADVERTISEMENT, {
    'Type': 'peripheral', 'LocalName': name,
    'ServiceUUIDs': dbus.Array([uuid('180d'), uuid('1822')], signature='s')})
device = bus.get_object('org.bluez', '/org/bluez/' + adapter)
loop = GLib.MainLoop()


def failed(error):
    print('error', error, flush=True)
    loop.quit()


def drop():
    objects = dbus.Interface(bus.get_object('org.bluez', '/'), MANAGER).GetManagedObjects()
    for path, interfaces in objects.items():
        peer = interfaces.get('org.bluez.Device1')
        if peer and peer.get('Connected') and path.startswith('/org/bluez/' + adapter):
            dbus.Interface(bus.get_object('org.bluez', path), 'org.bluez.Device1').Disconnect()
    return True


GLib.unix_signal_add(GLib.PRIORITY_DEFAULT, signal.SIGUSR1, drop)
dbus.Interface(device, 'org.bluez.GattManager1').RegisterApplication(
    BASE, {}, reply_handler=lambda: None, error_handler=failed)
dbus.Interface(device, 'org.bluez.LEAdvertisingManager1').RegisterAdvertisement(
    advertisement, {}, reply_handler=lambda: print('advertising', flush=True), error_handler=failed)
loop.run()
