// Sensors in English: how each link stands, why a link ended, what keeps a radio from working, faults of sensor profiles
// and captures, and what a replay says of its recording.

const reading = {
  heartRate: 'heart rate',
  saturation: 'saturation',
  readings: 'a stream',
} as const;
type Reading = keyof typeof reading;

export const sensorWordsInEnglish = {
  'sensor.inRange':
    'In range. Assign it to an athlete to use it; to tell it from others, switch it off and on and watch here.',
  'sensor.appeared': (p: { readonly agoS: number }) =>
    `Signal appeared ${p.agoS} s ago. Assign it to an athlete to use it.`,
  'sensor.signalGone': (p: { readonly forS: number }) => `Signal gone for ${p.forS} s.`,
  'sensor.notHeard':
    'Not heard. It may be off, out of range, or connected to another device or app. Switch it on or put it on, and keep it within a few metres.',
  'sensor.heardOnly': 'Heard; connecting when it next can be.',
  /** `state` is one of the sentences above. */
  'sensor.lastTime': (p: { readonly state: string; readonly reason: string }) =>
    `${p.state} Last time: ${p.reason}.`,
  'sensor.lost': (p: { readonly reason: string }) =>
    `Lost: ${p.reason}. Reconnecting by itself as soon as it is heard.`,
  'sensor.silent': (p: { readonly forS: number }) =>
    `Lost: nothing for ${p.forS} s and no answer. Check that it is on and near; reconnecting by itself.`,
  'sensor.noReadings': (p: { readonly forS: number }) =>
    `Connected, but no readings for ${p.forS} s. Check that it sits well on the finger or chest.`,
  'sensor.locked':
    'Heard and connected to, but it is locked: it wants to be paired, which this hub cannot do as it was started. On Linux, start it with --radio bluez; elsewhere, see whether it can work unpaired. It is tried again by itself.',
  'sensor.notPaired': (p: { readonly reason: string }) =>
    `Heard and connected to, but not paired: ${p.reason}. It is tried again by itself.`,
  'sensor.typeCode':
    'It wants a code, which it shows or which stands in its manual: type it under Devices within half a minute.',
  'sensor.showCode': 'It wants a code typed on it: Devices shows which.',
  'sensor.compareCode': 'It shows a code: say under Devices within half a minute whether it is the same.',
  'sensor.partlyLocked': (p: { readonly what: Reading }) =>
    `Connected, but its ${reading[p.what]} is locked: it wants to be paired for that, which this hub cannot do. The rest works.`,
  'sensor.partlyRefused': (p: { readonly what: Reading }) =>
    `Connected, but it does not send ${reading[p.what]}. The rest works.`,
  'sensor.takesNoLink':
    'Heard, but it takes no connection now: it may be connected to another device or app. Close that, or switch the sensor off and on.',
  'sensor.advertisesSeldom': (p: { readonly everyS: number }) =>
    `Heard only every ${p.everyS} s: connecting takes up to a minute. Waking it, by putting it on, mostly helps.`,
  'sensor.linkLimit':
    'Every Bluetooth adapter that hears it has as many links as it can hold. Plug in another adapter (it is used by itself, unless --adapter names which), or let a sensor go that is not needed.',
  'sensor.sendsSeldom': (p: { readonly everyS: number }) =>
    `Sends a reading only every ${p.everyS} s: alarms come that much later.`,
  'sensor.onlySpotChecks':
    'It gives one measurement at a time and no stream of them: not fit for a hold, and no alarm rests on it.',
  'sensor.batteryLow': (p: { readonly percent: number }) =>
    `Battery at ${p.percent} %: charge or change it before the session.`,
  'sensor.batteryLowAbout': (p: { readonly percent: number; readonly about: string }) =>
    `Battery at ${p.percent} %: charge or change it before the session. ${p.about}`,
  'sensor.model': (p: { readonly model: string }) => p.model,
  'sensor.firmware': (p: { readonly firmware: string }) => `firmware ${p.firmware}`,
  'sensor.modelAndFirmware': (p: { readonly model: string; readonly firmware: string }) =>
    `${p.model}, firmware ${p.firmware}`,
  'sensor.simulatedLoss': 'SIMULATED loss of the link; it comes back by itself.',

  'link.changedHands': 'it changed hands',
  'link.cameLate': (p: { readonly count: number; readonly forS: number }) =>
    `its radio was not reached for ${p.forS} s; ${p.count} packets of that time came late`,
  'link.cameForNobody': (p: { readonly count: number }) =>
    `${p.count} packets came late that were sent before the session, or while nobody in it wore the sensor: not recorded`,
  'link.wentSilent': 'it went silent',
  'link.cancelNotTaken': 'the adapter did not give up an attempt to connect',
  'link.servicesLate': 'its services were not listed in time',
  'link.noAnswerInTime': 'no answer in time',
  'link.closeNotConfirmed': 'the adapter did not confirm a closed link',
  'link.fellSilent': 'it fell silent and did not answer',
  'link.noReadings': 'it answered but sent no readings',
  'link.adapterRestarted': 'the Bluetooth adapter was started again',
  'link.adapterGone': 'the Bluetooth adapter is not available',
  'link.attemptGivenUp': 'the attempt to connect had been given up',
  'link.nothingUnderstood': 'it offers no readings this hub understands; a sensor profile may help',
  'link.servicesNotListed': (p: { readonly reason: string }) =>
    `its services could not be listed (${p.reason})`,
  'link.wantsPairing': 'it wants to be paired first',
  'link.notSending': (p: { readonly reason: string }) => `it did not start sending (${p.reason})`,
  'link.lost': (p: { readonly reason: string }) => `the link was lost (${p.reason})`,
  'link.lostInSetup': (p: { readonly reason: string }) =>
    `the link was lost while it was being set up (${p.reason})`,
  'link.otherSensor': 'another sensor of its name was not it',
  'link.noCharacteristic': (p: { readonly characteristic: string }) =>
    `it has no characteristic ${p.characteristic}`,
  'link.ended': 'the link ended',
  'link.badServiceList': 'its list of services makes no sense',
  'link.noneThere': 'there is none',
  'link.refusedWithCode': (p: { readonly code: string }) => `refused with code ${p.code}`,
  'link.locked': 'it is locked: it wants to be paired first',
  'link.lockedAfterPairing':
    'it stays locked though a key for it is kept: forget the key under Devices, and it pairs anew',
  'link.keyRefused':
    'it no longer knows the key that this computer keeps: forget the key under Devices, and it pairs anew',
  'link.keyDoubted':
    'its links end as soon as the key that this computer keeps is used; it may no longer know it: forget the key under Devices, and it pairs anew',
  'link.codeRefused': 'the code was not the right one',
  'link.pairingFailed': 'pairing failed; the code may not have been the right one',
  'link.pairingCancelled': 'pairing was cancelled',
  'link.pairingLate': 'nobody answered in time',
  'link.noLongerAnswers': 'it no longer answers on this link',
  'link.didNotAnswer': 'it did not answer',
  'link.notHeardSinceStart': 'it has not been heard since the adapter started',
  'link.openAlready': 'a link to it is open already',
  'link.givenUp': 'given up',
  'link.noSuchLink': 'no such link',
  'link.outOfRange': 'out of range or switched off',
  'link.sensorEnded': 'the sensor ended it',
  'link.sensorLowOnResources': 'the sensor ran low on resources',
  'link.sensorSwitchingOff': 'the sensor is switching off',
  'link.hubEnded': 'the hub ended it',
  'link.sensorTooLate': 'the sensor answered too late',
  'link.timingRefused': 'the sensor refused the timing',
  'link.corrupted': 'the connection was corrupted',
  'link.notEstablished': 'it could not be established',
  'link.code': (p: { readonly code: string }) => `code ${p.code}`,
  'link.noReason': 'no reason given',

  /** What the library or the system said of it, last in brackets. */
  'radio.because': (p: { readonly advice: string; readonly reason: string }) => `${p.advice} (${p.reason})`,
  'radio.noBluetooth.linux':
    'This system has no Bluetooth support: the kernel lacks it or it is blocked in a container or virtual machine. Run the hub on the host itself, or use a radio board on a serial port.',
  'radio.noBluetooth.darwin':
    'This Mac offers no Bluetooth. Run the hub on the machine itself rather than in a virtual machine, or use a radio board on a serial port.',
  'radio.noBluetooth.win32':
    'Windows offers no Bluetooth Low Energy here; it takes Windows 10 version 1703 or later and an adapter. Update, plug in an adapter, or use a radio board on a serial port.',
  'radio.noAdapter.linux':
    'No Bluetooth adapter was found. Plug one in; if there is one, see whether "bluetoothctl list" names it. The hub keeps looking.',
  'radio.noAdapter.darwin':
    'No Bluetooth adapter was found. Check System Settings, Bluetooth. The hub keeps looking.',
  'radio.noAdapter.win32':
    'No Bluetooth adapter was found. Plug one in, or look for it in Device Manager under Bluetooth. The hub keeps looking.',
  'radio.noPermission.linux':
    'The hub may not use the Bluetooth adapter: it needs CAP_NET_RAW. Run: sudo setcap cap_net_raw+eip "$(readlink -f "$(which node)")" and start the hub again; under systemd set AmbientCapabilities=CAP_NET_RAW instead.',
  'radio.noPermission.bluez':
    'The system does not let this user speak to its Bluetooth service. Run: sudo usermod -aG bluetooth "$USER", sign out and in, and start the hub again.',
  'radio.noPermission.darwin':
    'The hub may not use Bluetooth. Open System Settings, Privacy & Security, Bluetooth, allow the terminal you started the hub from, and start the hub again.',
  'radio.noPermission.win32':
    'The hub may not use Bluetooth. Open Settings, Privacy & security, and allow desktop apps to use radios; then start the hub again.',
  'radio.adapterOff.linux':
    'The Bluetooth adapter is switched off. Run "bluetoothctl power on"; if that is refused, "rfkill unblock bluetooth". The hub goes on by itself.',
  'radio.adapterOff.darwin':
    'Bluetooth is switched off. Turn it on in Control Centre or System Settings. The hub goes on by itself.',
  'radio.adapterOff.win32':
    'Bluetooth is switched off. Turn it on in Settings, Bluetooth & devices. The hub goes on by itself.',
  'radio.unsupported':
    'There is no Bluetooth Low Energy here, which heart rate and oximeter sensors need: the adapter is older than version 4.0, or the system (a container, perhaps) has no Bluetooth at all. Use an adapter of version 4.0 or later on the host itself.',
  'radio.libraryMissing.linux':
    'The Bluetooth library could not be loaded. Run "npm install" again with a C++ compiler and Python 3 present; until then, recordings, replay and the simulator work.',
  'radio.libraryMissing.darwin':
    'The Bluetooth library could not be loaded. Run "npm install" again with the Xcode command line tools present; until then, recordings, replay and the simulator work.',
  'radio.libraryMissing.win32':
    'The Bluetooth library could not be loaded. Run "npm install" again with the Visual Studio C++ build tools present; until then, recordings, replay and the simulator work.',
  'radio.radioProcessFailed':
    'The Bluetooth process stopped and is being started again. If this goes on, unplug the adapter and plug it in again.',
  'radio.noDaemon':
    'The Bluetooth service of this system (bluetoothd) does not run or does not answer. Run: sudo systemctl enable --now bluetooth; if there is none, install the package bluez, or start the hub with --radio noble. The hub keeps trying.',
  'radio.bluezOwnAdapter': (p: { readonly adapter: string }) =>
    `--radio bluez uses adapters of this computer: default, hci0, hci1 and so on, not ${p.adapter}`,
  'radio.unreachable': (p: { readonly transport: string }) =>
    `The Bluetooth adapter at ${p.transport} cannot be reached. Check the cable and the address; the hub keeps trying.`,
  'radio.notReached':
    'It is not reached over the network. See that it has power and network; it comes back by itself.',
  'radio.away': (p: { readonly radio: string }) =>
    `The radio ${p.radio} cannot be reached over the network. Its sensors count as silent until it is back; what they send meanwhile is kept there, for up to ten minutes, and recorded then.`,
  'radio.elsewhere': (p: { readonly radio: string; readonly problem: string }) =>
    `Radio ${p.radio}: ${p.problem}`,
  'radio.awayTooLong': 'it could not be reached over the network for ten minutes',
  'radio.begunAnew': 'it was started again',
  'radio.noAnswer': 'the adapter did not answer',
  'radio.connectionEnded': 'the connection ended',
  'radio.framingLost': (p: { readonly packetType: number }) =>
    `the byte stream lost its framing (packet type ${p.packetType})`,
  'radio.lateStart': 'it did not start in time',
  'radio.stoppedAnswering': 'it stopped answering',
  'radio.endedBySignal': (p: { readonly signal: string }) => `it ended with ${p.signal}`,
  'radio.endedWithCode': (p: { readonly code: number }) => `it ended with code ${p.code}`,
  'radio.noSuchPort': (p: { readonly port: string; readonly forms: string }) =>
    `no such port: ${p.port}; ${p.forms}`,
  'radio.notAnAdapter': (p: { readonly text: string; readonly forms: string }) =>
    `"${p.text}" names no Bluetooth adapter; ${p.forms}`,
  'radio.addressForms': 'use serial:PATH, serial:PATH@BAUD, tcp:HOST:PORT or unix:PATH',

  'profile.unreadable': (p: { readonly path: string; readonly reason: string }) =>
    `${p.path}: cannot be read: ${p.reason}`,
  'profile.tooMany': (p: { readonly folder: string; readonly most: number; readonly from: string }) =>
    `${p.folder}: more than ${p.most} profiles lie there; those from ${p.from} on, by name, are not read`,
  'profile.clash': (p: { readonly characteristic: string; readonly file: string }) =>
    `${p.file} reads the characteristic ${p.characteristic} already, and nothing tells its sensors from these: readings of one would be made of the other's bytes. Give each profile a name of its own, and its own beginning of the sensor's name under Recognised by (match.namePrefix), or remove one of the two`,
  'profile.clashOf': (p: { readonly file: string; readonly clash: string }) => `${p.file}: ${p.clash}`,
  'profile.standardCharacteristic':
    'is read by the standard, for every sensor that has it: a profile for it would read all of those',
  'profile.problem': (p: {
    readonly file: string;
    readonly line: number;
    readonly column: number;
    readonly reason: string;
  }) => `${p.file}:${p.line}:${p.column}: ${p.reason}`,
  'profile.problemAt': (p: {
    readonly file: string;
    readonly line: number;
    readonly column: number;
    readonly place: string;
    readonly reason: string;
  }) => `${p.file}:${p.line}:${p.column}: ${p.place}: ${p.reason}`,
  'profile.notUuid': 'is not a UUID: four hex digits, or 32 with or without dashes',
  'profile.notHex': 'needs 1 to 64 bytes in hexadecimal, such as "a5 01"',
  'profile.notByteTable': 'has bytes for keys, such as "220" or "0xdc"',
  'profile.bits': (p: { readonly most: number }) =>
    `needs the lowest and the highest bit, within 0 to ${p.most}`,
  'profile.zero': 'cannot be 0',
  'profile.version': 'needs to be 1, the version of this format',
  'profile.unrecognisable': 'needs a service or a namePrefix, or the sensor cannot be recognised',
  'profile.unknownSource': 'is neither link.notify nor one of link.also',
  'profile.outsideFrame': (p: { readonly bytes: number }) => `lies outside the frame of ${p.bytes} bytes`,
  'profile.partsAlone': 'stands in place of bits and count',
  'profile.waveformRate': 'a waveform needs its rateHz',
  'profile.slowEcg': (p: { readonly hz: number }) => `beats are found from ${p.hz} samples a second on`,
  'profile.onlyWaveformCounts': 'only a waveform or rrIntervalMs can have several numbers',
  'profile.endMark': 'has one to four bytes',
  'profile.oneCounter': 'only one field can be the counter',
  'profile.noReading': (p: { readonly channels: string }) => `none gives a reading (${p.channels})`,
  'profile.notLongerThanSync': 'is not longer than the sync bytes',
  'profile.notBeforeChecksum': 'is not before the checksum itself',
  'profile.maskLength': 'has as many bytes as the sync',
  'profile.maskLeavesOut': 'leaves out bits that are asked for',
  'profile.tooLarge': 'is too large to be a sensor profile',
  'profile.empty': 'is empty',
  'profile.notJson': (p: { readonly fault: string }) => `is not JSON: ${p.fault}`,
  'bench.notHeard':
    'This sensor is not heard any more. Switch it on and bring it close, then look around again.',
  'bench.worn': 'Somebody wears this sensor. Under People and sensors, give it to nobody first.',
  'bench.badFile': 'A profile has a file name of letters, digits, dots and dashes that ends in .json.',
  'bench.notInOrder': (p: { readonly where: string; readonly reason: string }) =>
    `Not saved, because something is not in order yet: ${p.where}: ${p.reason}.`,
  'profile.unknownKeys': (p: { readonly keys: string }) => `does not know ${p.keys}`,

  'capture.line': (p: { readonly line: number; readonly reason: string }) => `line ${p.line}: ${p.reason}`,
  'capture.notMilliseconds': (p: { readonly time: string }) => `"${p.time}" is not a number of milliseconds`,
  'capture.notUuid': (p: { readonly text: string }) => `"${p.text}" is not a UUID`,
  'capture.notHex': 'the bytes are not pairs of hexadecimal digits',

  'replay.unreadable': (p: { readonly path: string }) =>
    `The file ${p.path} can't be read. Check the path and its permissions.`,
  'replay.malformed': (p: { readonly file: string; readonly fault: string }) => `${p.file}, ${p.fault}.`,
  'replay.noRows': 'there is nothing to replay: the file has a header and no rows',
  'replay.beginsAt': (p: { readonly seconds: number }) =>
    `The file begins at ${p.seconds} s; the replay begins there.`,
  'replay.noPleth': 'The pleth wave of this file is not replayed.',
  'replay.noSuchRecording': (p: { readonly sessionId: string }) =>
    `There is no recording ${p.sessionId} in the data folder.`,
  'replay.interrupted': 'This recording was interrupted: the hub stopped before the session was ended.',
};
