// The data folder, backups, and what the hub finds wrong with its surroundings, in English.

export interface Path {
  readonly path: string;
}
export interface Directory {
  readonly directory: string;
}

export const dataWordsInEnglish = {
  'data.locked': (p: Path) =>
    `Another hub is already using ${p.path}. Close it, or start this one with another folder: --data FOLDER.`,
  'data.full': (p: Path) =>
    `The disk that holds ${p.path} is full. Nothing recorded so far is lost: free some space, and recording goes on.`,
  'data.failed': (p: { readonly path: string; readonly reason: string }) =>
    `Reading or writing ${p.path} failed (${p.reason}). Check the disk, or start with another folder: --data FOLDER.`,
  'data.corrupt': (p: Path) =>
    `The recordings in ${p.path} are damaged, and the file was left as it is. Keep a copy of it, then start with another folder (--data FOLDER) or put a backup in its place.`,
  'data.unwritable': (p: Path) =>
    `The hub may not write to ${p.path}. Give your user the right to, or start with another folder: --data FOLDER.`,
  'data.readOnly': (p: Path) =>
    `The disk under ${p.path} takes no more writing: it has become read-only, as when it fails. Have it checked, or start with a folder on another disk: --data FOLDER.`,
  'data.newerVersion': (p: { readonly path: string; readonly version: number; readonly known: number }) =>
    `The recordings in ${p.path} were written by a newer version of this program (${p.version}; this one reads up to ${p.known}). Update this program, or start with another folder: --data FOLDER. As they were before the update they may lie beside it, as recordings.sqlite.version-${p.known}.`,
  'data.broughtUpToDate': (p: { readonly from: number; readonly to: number; readonly copy: string }) =>
    `The recordings were brought up to date (version ${p.from} to ${p.to}). As they were before, for a program of before, they lie in ${p.copy}. It goes when a recording or an athlete is deleted; delete it yourself once all is well.`,
  'data.noCopyBefore': (p: { readonly reason: string }) =>
    `The recordings were brought up to date, without a copy of how they were before: ${p.reason}`,
  'data.notOurs': (p: Path) =>
    `${p.path} is damaged or was not made by this program, and was left as it is. Move it away if it is something else, or start with another folder: --data FOLDER.`,
  'data.notAFolder': (p: Directory) =>
    `${p.directory} is not a folder, or lies inside a file. Give a folder: --data FOLDER.`,
  'data.cannotMake': (p: Directory) =>
    `The folder ${p.directory} cannot be made. Give another: --data FOLDER.`,
  'data.notPrivate': (p: Directory) =>
    `${p.directory} can be read by other users and holds other files, so recordings would not be private there. Give a folder of its own: --data FOLDER.`,
  'data.madePrivate': (p: Path) =>
    `${p.path} could be read by other users of this computer; it is now private to you.`,
  'data.littleRoom': (p: { readonly megabytes: number; readonly directory: string }) =>
    `Only ${p.megabytes} MB are free on the disk that holds ${p.directory}. Free some before you record.`,
  'data.documentsDamaged': (p: { readonly count: number }) =>
    `${p.count} saved ${p.count === 1 ? 'plan or training entry is' : 'plans or training entries are'} damaged and left out. Recordings are not affected.`,
  'data.logDamaged': (p: { readonly copy: string }) =>
    `The last moments before the hub stopped could not all be read, because a file was damaged. Everything before them is there. A copy of the damaged file is kept in ${p.copy}.`,
  'data.noSuchAthlete': (p: { readonly athleteId: string }) =>
    `There is no athlete ${p.athleteId} to give a sensor to.`,
  'data.noImportedParts': (p: { readonly sessionId: string }) =>
    `Session ${p.sessionId} is being recorded and takes no imported parts.`,
  'data.notRewritten': 'A recording could not be rewritten; nothing was erased.',
  'data.notRecording': (p: { readonly sessionId: string }) => `Session ${p.sessionId} is not being recorded.`,
  'data.noSuchSession': (p: { readonly sessionId: string }) => `There is no session ${p.sessionId}.`,
  'data.sessionThere': (p: { readonly sessionId: string }) => `There already is a session ${p.sessionId}.`,
  'data.correctionThere': (p: { readonly correctionId: string }) =>
    `There already is a correction ${p.correctionId}.`,
  'data.athleteRecorded': 'This athlete is being recorded. End the session first.',
  'data.sessionRecorded': 'This session is being recorded. End it first.',
  'data.inMemoryOnly': 'These recordings are kept in memory only; there is nothing to copy.',
  'data.restReadable': (p: { readonly damage: string; readonly path: string }) =>
    `${p.damage} The rest of this recording can be read. The file is ${p.path}.`,
  'damage.packetsMissing': (p: { readonly count: number }) =>
    `${p.count} ${p.count === 1 ? 'packet' : 'packets'} of this recording ${p.count === 1 ? 'is' : 'are'} missing.`,
  'damage.packetsDamaged': (p: { readonly count: number }) =>
    `About ${p.count} ${p.count === 1 ? 'packet' : 'packets'} of this recording ${p.count === 1 ? 'is' : 'are'} damaged and cannot be read.`,
  'damage.restMissing': 'The rest of this recording cannot be found any more.',
  'damage.sensor': 'A sensor of this recording is damaged and was left out.',
  'damage.mark': 'A mark of this recording is damaged and was left out.',
  'damage.hold': 'A hold of this recording is damaged and was left out.',
  'damage.alarm': 'An alarm of this recording is damaged and was left out.',
  'damage.settings': 'A change of settings of this recording is damaged and was left out.',
  'damage.link': 'A change of a link of this recording is damaged and was left out.',
  'damage.change':
    'Who came, went or changed sensors in this recording is damaged in one place and was left out.',
  'damage.schedule': 'A planned start in this recording is damaged and was left out.',
  'damage.unwatched': 'A stretch of this recording in which nobody was watched is damaged and was left out.',
  'damage.alive': 'The last sign of life in this recording is damaged and was left out.',
  'damage.correction': 'A correction of this recording is damaged and was left out.',

  'backup.fileThere': (p: Path) => `${p.path} is there already. Give the backup another name.`,
  'backup.noFolder': (p: Path) => `The folder of ${p.path} is not there. Make it first.`,
  'backup.unreadable': (p: Path) => `The file ${p.path} can't be read. Check the path and its permissions.`,
  'backup.notABackup': (p: Path) => `${p.path} is not a backup of this program; nothing was changed.`,
  'backup.cutOff': (p: Path) => `${p.path} is cut off: a part of the backup is missing; nothing was changed.`,
  'backup.somethingAdded': (p: Path) =>
    `${p.path} has something added at its end, so it cannot be trusted; nothing was changed.`,
  'backup.damaged': (p: Path) => `${p.path} is damaged: its checksum does not fit; nothing was changed.`,
  'backup.recordingsThere': (p: Directory) =>
    `${p.directory} holds recordings already. Give an empty folder (--data FOLDER), or add --replace to move them aside.`,
  'backup.newerVersion': (p: Path) =>
    `${p.path} was made by a newer version of this program. Update this program and try again.`,
  'backup.cannotOpen': (p: Path) => `The recordings inside ${p.path} cannot be opened; nothing was changed.`,
  'backup.notUnlocked':
    'The backup could not be unlocked: the passphrase is another, or the file was changed or cut off. Nothing was changed.',
  'backup.noPassphrase':
    'This backup is locked. Give its passphrase in SLACKWATER_BACKUP_PASSPHRASE or the settings file; nothing was changed.',
  'backup.needsPassphrase':
    '--backup-folder needs --backup-passphrase (or SLACKWATER_BACKUP_PASSPHRASE) too, of 12 characters or more: scheduled backups are always locked.',
  'backup.hubRunning': (p: Directory) =>
    `A hub is running on the recordings in ${p.directory}. Stop it and try again.`,

  'build.importMissing':
    'A part of the program that reads files has not been built. Run "npm run build" and start again.',
  'build.reviewMissing':
    'A part of the program that works out recordings has not been built. Run "npm run build" and start again.',
  'server.hostNotLoopback': (p: { readonly host: string }) =>
    `--host ${p.host} is not this machine's own address. To let other devices in, with encryption and join codes, use --lan.`,
  'server.portBusy': (p: { readonly port: number; readonly portOption: string }) =>
    `Port ${p.port} is already in use, perhaps by another hub. Close it or choose another port with ${p.portOption}.`,
  'server.portForbidden': (p: { readonly port: number; readonly portOption: string }) =>
    `Port ${p.port} needs more rights than this user has. Choose one above 1023 with ${p.portOption}.`,
  'server.noSuchHost': (p: { readonly host: string; readonly hostOption: string }) =>
    `This machine has no address "${p.host}". Correct ${p.hostOption}.`,
  'server.cannotListen': (p: { readonly host: string; readonly port: number }) =>
    `The hub can't listen on ${p.host}:${p.port}.`,
  'lan.certificateNotKept': (p: Directory) =>
    `The hub's certificate can't be kept in ${p.directory}. Free some disk space or choose another folder with --data.`,
  'authority.profileTitle': 'Slackwater hub',
  'authority.profileText':
    'Makes this device trust the Slackwater hub it came from: its names and private network addresses, nothing else. Install it only after comparing its code. Remove it when you no longer use the hub.',
  'lan.certificateChanged':
    "The hub's certificate has changed: it was near its end, or the hub has other names, addresses or settings. Devices that accepted the earlier one are warned once more; those that trust the hub's authority are not.",
  'lan.authorityChanged':
    "The hub's authority has changed: the earlier one was near its end or damaged. Remove it from the devices that trusted it, and install this one there.",
  'lan.notVouchedForAddress': (p: { readonly address: string }) =>
    `The hub's authority vouches for addresses of private networks only, and ${p.address} is none: browsers warn there all the same. Join by the hub's name instead.`,
  'lan.notVouchedFor': (p: { readonly name: string }) =>
    `The hub's authority may not vouch for ${p.name}: browsers warn there all the same. Join by another address; or delete lan-authority.pem in the data folder, start the hub again and install the new authority.`,
  'lan.given.pair': '--certificate and --key belong together: give both files, or neither.',
  'lan.given.orAuthority':
    'With --certificate the hub signs nothing itself: leave out either that or --lan-authority.',
  'lan.given.noFile': (p: Path) =>
    `There is no file ${p.path}. Say with --certificate and --key where they are.`,
  'lan.given.mayNotRead': (p: Path) =>
    `The hub may not read ${p.path}. Let the user that it runs as read it.`,
  'lan.given.unreadable': (p: { readonly path: string; readonly reason: string }) =>
    `${p.path} can't be read (${p.reason}).`,
  'lan.given.noCertificate': (p: Path) =>
    `There is no certificate in ${p.path}: it has to be PEM text, the hub's certificate first.`,
  'lan.given.noKey': (p: Path) => `There is no private key in ${p.path}: it has to be PEM text.`,
  'lan.given.lockedKey': (p: Path) =>
    `The key in ${p.path} is locked by a passphrase, which the hub cannot type. Give one without.`,
  'lan.given.otherKey': (p: { readonly path: string; readonly key: string }) =>
    `The first certificate in ${p.path} is not for the key in ${p.key}. The two have to be of one making, and the hub's certificate has to stand before those of its authority.`,
  'lan.given.ended': (p: { readonly path: string; readonly day: string }) =>
    `The certificate in ${p.path} ended on ${p.day}. Renew it.`,
  'lan.given.notBegun': (p: { readonly path: string; readonly day: string }) =>
    `The certificate in ${p.path} begins on ${p.day}. Look whether this computer's clock is right.`,
  'lan.given.noNames': (p: Path) =>
    `The certificate in ${p.path} names no host (subjectAltName): browsers take it nowhere.`,
  'lan.given.notTaken': (p: { readonly problem: string; readonly days: number }) =>
    `The certificate files were changed and are not used: ${p.problem} The one before goes on; it ends in ${p.days} days.`,
  'lan.given.ends': (p: { readonly path: string; readonly days: number }) =>
    `The certificate in ${p.path} ends in ${p.days} days. Renew it; the hub takes the new one up by itself within a minute.`,
  'ownKey.notKept': (p: Directory) =>
    `The key by which the hub knows you can't be kept in ${p.directory}. Free some disk space or choose another folder with --data.`,
  'lan.noNetwork':
    'This machine is on no network that other devices could reach. Connect it and open this page again.',
  'lan.devicesSetAside': (p: { readonly path: string; readonly reason: string }) =>
    `The list of joined devices can't be read and was set aside as ${p.path}.damaged (${p.reason}). Devices have to join again.`,
  'lan.devicesUnreadable': (p: { readonly path: string; readonly reason: string }) =>
    `The list of joined devices ${p.path} can't be read (${p.reason}). Devices have to join again.`,
  'lan.nameNotAnnounced': (p: { readonly name: string; readonly reason: string }) =>
    `The name ${p.name} can't be announced on this network (${p.reason}). Use the address or the QR code.`,

  'output.fails': (p: { readonly output: string; readonly reason: string }) =>
    `The ${p.output} does not work as an alarm output: ${p.reason}.`,
  'output.loudspeaker': (p: { readonly program: string }) => `loudspeaker (${p.program})`,
  'output.command': (p: { readonly program: string }) => `command (${p.program})`,
  'output.webhook': (p: { readonly host: string }) => `webhook (${p.host})`,
  'output.mqtt': (p: { readonly host: string }) => `broker (${p.host})`,
  'output.noMqtt': 'the package mqtt is not installed',
  'output.escalation': (p: { readonly seconds: number; readonly output: string }) =>
    `${p.output}, called after ${p.seconds} s without an answer`,
  'output.endedEarly': (p: { readonly program: string }) => `${p.program} ended before the sound was over`,
  'output.endedBySignal': (p: { readonly program: string; readonly signal: string }) =>
    `${p.program} was ended by ${p.signal}`,
  'output.tooLong': (p: { readonly program: string; readonly seconds: number }) =>
    `${p.program} did not end within ${p.seconds} s`,
  'output.hangs': (p: { readonly program: string }) => `${p.program} hangs`,
  'output.noPlayer':
    'The hub has no program to play sound (looked for pw-play, paplay, aplay, afplay, PowerShell): alarms sound on the pages only. Keep a page open with its sound on.',
  'output.notStarted': (p: { readonly program: string; readonly reason: string }) =>
    `${p.program} could not be started: ${p.reason}`,
  'output.endedWithCode': (p: { readonly program: string; readonly code: number }) =>
    `${p.program} ended with code ${p.code}`,
  'output.endedWithCodeAndText': (p: {
    readonly program: string;
    readonly code: number;
    readonly text: string;
  }) => `${p.program} ended with code ${p.code}: ${p.text}`,
  'output.noAnswer': (p: { readonly host: string; readonly reason: string }) =>
    `${p.host} did not answer: ${p.reason}`,
  'output.elsewhere': (p: { readonly host: string; readonly status: number }) =>
    `${p.host} sends the alarm on to another address (${p.status}), which is not followed: put that address into the settings`,
  'output.answered': (p: { readonly host: string; readonly status: number }) =>
    `${p.host} answered ${p.status}`,
};
