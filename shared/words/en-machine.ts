// What the checks of the computer find, in English: each line good, or with what to do.

export const machineWordsInEnglish = {
  'machine.node': 'Node',
  'machine.modules': 'Native modules',
  'machine.radio': 'Bluetooth adapter',
  'machine.radioRight': 'Bluetooth right',
  'machine.radioService': 'Bluetooth service',
  'machine.sound': 'Sound',
  'machine.clock': 'Clock',
  'machine.disk': 'Disk',
  'machine.folder': 'Data folder',
  'machine.port': 'Port of the page',
  'machine.lanPort': 'Port for devices',
  'machine.certificate': 'Certificate',
  'machine.backups': 'Backups',
  'machine.names': 'Network names',
  'machine.notLooked': ({ reason }: { readonly reason: string }) => `Could not be looked at: ${reason}.`,
  'machine.notRun': ({ reason }: { readonly reason: string }) =>
    `The checks could not be made: ${reason}. Run on the hub's computer: slackwater doctor.`,
  'machine.tookTooLong': ({ seconds }: { readonly seconds: number }) =>
    `The checks had no end after ${seconds} s: a disk or a folder on a network may not answer. The hub goes on.`,
  'machine.node.good': ({ version }: { readonly version: string }) => `${version}.`,
  'machine.node.new': ({ version, newest }: { readonly version: string; readonly newest: number }) =>
    `${version} is too new: the database can abort on it in the middle of a session. Install Node ${newest}, then Slackwater again.`,
  'machine.node.old': ({ version, least }: { readonly version: string; readonly least: string }) =>
    `${version} is too old. Install Node ${least} or later.`,
  'machine.modules.good': 'All load.',
  'machine.modules.broken': ({ name, reason }: { readonly name: string; readonly reason: string }) =>
    `${name} does not load (${reason}). Install Slackwater again with this version of Node.`,
  'machine.radio.good': ({ name }: { readonly name: string }) => `${name} is there and switched on.`,
  'machine.radio.unknown':
    'Not known: this system keeps no list of adapters. Look whether Bluetooth is switched on; a sensor that appears on the page is the proof.',
  'machine.radio.none':
    'There is none. Plug in a Bluetooth adapter. Without one this computer hears no sensor; the demo, recordings and radios in other rooms still work.',
  'machine.radio.blocked': ({ name }: { readonly name: string }) =>
    `${name} is switched off. Switch Bluetooth on: rfkill unblock bluetooth.`,
  'machine.radioRight.good': 'This program may use the adapter.',
  'machine.radioRight.noAdapter':
    'This program may use an adapter, but there is none. Plug one in, then check again.',
  'machine.radioRight.asked':
    'Not known: this system asks when the hub first looks for sensors. Say yes; if it did not ask and no sensor appears, look under Bluetooth in its privacy settings.',
  'machine.radioRight.missing':
    'Missing. Run: sudo setcap cap_net_raw+eip "$(readlink -f "$(which node)")". As a service it is not needed: the unit gives the right.',
  'machine.radioRight.notNeeded': 'Not needed: the hub goes through BlueZ.',
  'machine.radioService.none': 'The hub needs none here.',
  'machine.radioService.unused': 'Not used. For sensors that bond: install bluez, start with --radio bluez.',
  'machine.radioService.beside': ({ version }: { readonly version: string }) =>
    `BlueZ ${version} runs, not used. For sensors that bond start with --radio bluez.`,
  'machine.radioService.good': ({
    version,
    timeoutS,
  }: {
    readonly version: string;
    readonly timeoutS: number;
  }) => `BlueZ ${version} runs, and this user may speak to it. Links outlive ${timeoutS} s of silence.`,
  'machine.radioService.shortLinks': ({
    version,
    timeoutS,
  }: {
    readonly version: string;
    readonly timeoutS: number;
  }) =>
    `BlueZ ${version} runs, but its links end after ${timeoutS} s without contact: a body in the way is enough. In /etc/bluetooth/main.conf, under [LE], set ConnectionSupervisionTimeout=512, then: sudo systemctl restart bluetooth.`,
  'machine.sound.good': ({ player }: { readonly player: string }) =>
    `Alarms are played here by ${player}. Whether it can be heard only ears can tell: run a drill (on the page, under Course).`,
  'machine.sound.none':
    'No program to play sound. Alarms sound on the pages only: keep one open with its sound on, or install alsa-utils.',
  'machine.clock.good': 'Kept right over the network.',
  'machine.clock.unknown':
    'Not known: this system does not say whether it sets its clock over the network. Compare it with a watch: recordings bear its time of day. Holds and alarms do not depend on it.',
  'machine.clock.alone':
    'Not yet set over the network: recordings may bear a wrong time of day. Holds and alarms do not depend on it.',
  'machine.clock.wrong': 'Years behind. Set the date; recordings would bear a wrong one.',
  'machine.disk.good': ({ freeMb, slowestMs }: { readonly freeMb: number; readonly slowestMs: number }) =>
    `${freeMb} MB free; the slowest of eight writes took ${slowestMs} ms.`,
  'machine.disk.slow': ({ freeMb, slowestMs }: { readonly freeMb: number; readonly slowestMs: number }) =>
    `Slow: a write took ${slowestMs} ms (${freeMb} MB free). Choose another disk with --data, or close what else writes to it.`,
  'machine.disk.unmeasured': ({ freeMb }: { readonly freeMb: number }) =>
    `${freeMb} MB free. Its speed is not measured while a session is recorded: nothing else may write to its disk then. Check again afterwards.`,
  'machine.disk.full': ({ freeMb }: { readonly freeMb: number }) =>
    `Only ${freeMb} MB free. Free some before you record.`,
  'machine.folder.good': ({ folder }: { readonly folder: string }) => `${folder} is there and private.`,
  'machine.folder.new': ({ folder }: { readonly folder: string }) =>
    `${folder} will be made at the first start.`,
  'machine.folder.open': ({ folder }: { readonly folder: string }) =>
    `${folder} can be read by other users. The hub makes it private when it starts.`,
  'machine.folder.unwritable': ({ folder }: { readonly folder: string }) =>
    `Nothing can be written to ${folder}. Change its rights, or choose another folder with --data.`,
  'machine.port.free': ({ port }: { readonly port: number }) => `${port} is free.`,
  'machine.port.ours': ({ port }: { readonly port: number }) => `${port} is used by a hub that runs now.`,
  'machine.port.taken': ({ port, option }: { readonly port: number; readonly option: string }) =>
    `${port} is used by another program. Choose another with ${option}.`,
  'machine.port.forbidden': (p: { readonly port: number; readonly host: string; readonly option: string }) =>
    `${p.port} at ${p.host} may not be opened here. Choose one above 1024 with ${p.option}.`,
  'machine.lanPort.none': 'Closed: other devices may join when the hub is started with --lan.',
  'machine.backups.none':
    'None are made: if this disk breaks, the recordings are gone. Start the hub with --backup-folder FOLDER, best on another disk, and a passphrase of 12 characters or more in SLACKWATER_BACKUP_PASSPHRASE; or now and then save one from the page (Backups).',
  'machine.backups.noneYet': ({ folder }: { readonly folder: string }) =>
    `None in ${folder} yet: the hub makes one when it runs.`,
  'machine.backups.noFolder': ({ folder }: { readonly folder: string }) =>
    `Nothing can be written to ${folder}. Plug the disk in, or name another with --backup-folder.`,
  'machine.backups.good': ({ hours, folder }: { readonly hours: number; readonly folder: string }) =>
    `The newest in ${folder} is ${hours} h old.`,
  'machine.backups.old': ({ hours, folder }: { readonly hours: number; readonly folder: string }) =>
    `OLD: the newest in ${folder} is ${hours} h old. Start the hub and look at Backups on its page.`,
  'machine.certificate.none': 'None yet: it is made when other devices may join (--lan).',
  'machine.certificate.good': (p: { readonly days: number; readonly fingerprint: string }) =>
    `Good for ${p.days} days. SHA-256 ${p.fingerprint}.`,
  'machine.certificate.ended':
    'Has ended: other devices are warned or refused. Start the hub with --lan: it makes a new one.',
  'machine.certificate.ends': ({ days }: { readonly days: number }) =>
    `Ends in ${days} days. Let the hub run: it makes a new one at its start, or within hours between sessions.`,
  'machine.certificate.givenEnds': ({ path, days }: { readonly path: string; readonly days: number }) =>
    `${path} ends in ${days} days. Look whether what renews it still runs; the hub takes up the new files by itself.`,
  'machine.certificate.givenEnded': ({ path }: { readonly path: string }) =>
    `${path} has ended: browsers refuse it. Renew it; the hub takes up the new files by itself.`,
  'machine.names.good': ({ addresses }: { readonly addresses: string }) => `${addresses}.`,
  'machine.names.none': 'This computer is on no network: other devices cannot join.',
  'machine.state.good': 'good',
  'machine.state.warning': 'look',
  'machine.state.fault': 'FAULT',
};
