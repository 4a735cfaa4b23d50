// What the hub refuses and gives notice of, in English.

export const hubWordsInEnglish = {
  'refusal.sessionRunning': 'A session is already being recorded. End it first.',
  'refusal.noSession': 'No session is being recorded.',
  'refusal.noAthletes': 'Choose at least one athlete.',
  'refusal.unknownAthlete': 'This athlete is not known to this hub.',
  'refusal.unknownAmongAthletes': 'One of these athletes is not known to this hub.',
  'refusal.notTheSame':
    'Only a sensor that is heard and that nobody wears can be said to be one that somebody wears.',
  'refusal.notInSession': 'This athlete is not in the session.',
  'refusal.notInRecording': 'This athlete is not in the recording.',
  'refusal.athleteInSession': 'This athlete is in the running session. End it first.',
  'refusal.eraseBetweenSessions': 'Recordings can be erased between sessions. End this one first.',
  'refusal.spotChecksOnly': (p: { readonly sensor: string; readonly name: string }) =>
    `${p.sensor} measures once at a time and sends no stream: no alarm could rest on it. Give ${p.name} another oximeter, or take this one off ${p.name} and start with heart rate alone.`,
  'refusal.alreadyInSession': 'This athlete is in the session already.',
  'refusal.lastInSession': 'This is the last athlete in the session. End the session instead.',
  'refusal.drillGoesOn': 'A drill is going on already. End it first.',
  'refusal.drillInAlarm': 'A real alarm stands. See to it first.',
  'refusal.drillInHold': 'Somebody is holding or recovering. Drill when nobody is.',
  'refusal.noWords': 'This message stands no longer.',
  'refusal.noDrill': 'No drill is going on any more.',
  'refusal.unknownIncident': 'There is no such incident in the log.',
  'refusal.simulatedJoins': 'This athlete is SIMULATED and can’t come to a session of real people.',
  'refusal.ownAthleteOnly': 'This page may act only for its own athlete.',
  'refusal.unknownMark': 'There is no such mark to take back.',
  'refusal.unknownHold': 'There is no such hold any more.',
  'refusal.holdGoesOn': 'This hold is still going on.',
  'refusal.changeNotSaved': 'The change could not be saved. Free some disk space and try again.',
  'refusal.notSavedYet': (p: { readonly reason: string }) =>
    `This is in force, but not saved yet: it is held in memory and lost if the hub stops before the disk takes it. Don't enter it again. ${p.reason}`,
  'refusal.floorLoweredDuringHold':
    'The floor can be raised at any time, but not lowered during a hold, in the minute after it, or while the floor alarm stands.',
  'refusal.planRunning': 'A plan is already running. End it first.',
  'refusal.thisPlanRuns': 'This plan is running. End it first.',
  'refusal.noPlanRuns': 'No plan is running.',
  'refusal.athleteTwice': 'An athlete can be in a plan only once.',
  'refusal.ofTheHub': 'This is for the hub itself to say.',
  'refusal.notInBin': 'This is not in the bin any more.',
  'refusal.endStands': 'This end can’t be taken back any more. Start the plan anew.',
  'refusal.notOffered': 'This backup is not here any more. Choose the file again.',
  'refusal.restoreBetweenSessions': 'A backup can be restored between sessions. End this one first.',
  'refusal.noSchedule': 'This hub makes no backups by the clock: its settings name no backup-folder.',
  'refusal.noAuthority':
    'This hub has no authority of its own: it is made when the hub is started with --lan-authority.',
  'refusal.noChecks': 'This hub cannot check its computer by itself. Run there: slackwater doctor.',
  'refusal.noRestore':
    'This hub cannot restore by itself. Stop it and run: slackwater restore FILE --replace.',
  'refusal.unknownPlanRun': 'There is no such run; it may have been deleted.',
  'refusal.notJoined': 'This device has not joined the hub. Ask the coach for a join code.',
  'refusal.coachOnly': 'Only a coach may do this.',
  'refusal.onlookerReads': 'An onlooker can watch but not change or read recordings.',
  'refusal.onlookerChanges': 'An onlooker can watch but not change anything.',
  'refusal.othersInSession': 'Others are in this session. Only a coach may end it.',
  'refusal.foreignName': 'This name is not one of the hub’s.',
  'refusal.otherSite': 'Requests from other sites are refused.',
  'refusal.nothingHere': 'There is nothing at this address.',
  'refusal.pageNotBuilt': 'The page has not been built. Run "npm run build" and start the hub again.',
  'refusal.notUnderstood': 'The hub did not understand the page. Reload it.',
  'refusal.notGreeted': 'The page must say hello first. Reload it.',
  'refusal.tooManyRequests': 'Too many requests at once. Wait a second.',
  'refusal.askedTooOften': (p: { readonly seconds: number }) =>
    `Too many requests at once. Try again in ${p.seconds} s.`,
  'refusal.eraseAllOnly': '"recordings" can only be "all": erase every recording of this athlete too.',
  'refusal.unknownRecording': 'There is no such recording; it may have been deleted.',
  'refusal.alreadyInRecording': 'They are in this recording already: one person cannot have two parts of it.',
  'refusal.recordingGoesOn': 'This session is being recorded. End it first.',
  'refusal.correctAfterwards': 'This session is being recorded. Holds can be corrected once it has ended.',
  'refusal.nothingToUndo': 'There is no correction left to take back.',
  'refusal.nothingToRedo': 'There is nothing to bring back.',
  'refusal.unknownEntry': 'There is no such entry; it may have been deleted.',
  'refusal.entryElsewhere': 'The entry belongs to another address.',
  'refusal.entryOfAnother': 'This entry is another athlete’s.',
  'refusal.logFull': 'The log of this athlete is full.',
  'refusal.importBetweenSessions': 'Files can be imported between sessions. End this one first.',
  'refusal.backupGoesOn': 'A backup is being made already. Wait until it is done.',
  'refusal.backupGone': 'This backup was fetched already or is too old. Make a new one.',
  'refusal.oddName': (p: { readonly field: string }) =>
    `The name in "${p.field}" is blank or has characters that cannot be seen or turn the writing round. Give one that can be read.`,
  'refusal.lanOff': 'The hub listens on its own machine only. Start it with --lan to let other devices in.',
  'refusal.ownMachineNoCode':
    'On the hub’s own machine no join code is needed: open the link that the hub printed in its terminal.',
  'refusal.linkOld':
    'This link is too old or was used already. Take the newest from the hub’s terminal, or run "slackwater link".',
  'refusal.linkOfOwnMachine': 'This link is for the hub’s own machine. Here, join with a code.',
  'refusal.ownMachineStays': 'This is the hub’s own machine; it cannot leave.',
  'refusal.codeGone': 'This code has been used or is too old already.',
  'refusal.unknownCue': 'There is no such spoken cue.',
  'refusal.unknownPlan': 'There is no such plan; it may have been deleted.',
  'refusal.othersInPlan': 'Others are in this plan. Only a coach may do this for them.',
  'refusal.notAgreedToBeside': (p: { readonly names: string }) =>
    `Two people are shown side by side only when both have agreed. Not agreed yet: ${p.names}.`,
  'refusal.whoseDevice': 'Choose whose device it will be.',
  'refusal.codeOfAthlete': 'Only an athlete’s code belongs to an athlete.',
  'refusal.roomsOfCoach': 'Only a coach’s code can be for some rooms.',
  'refusal.unknownRoom': 'There is no such room at this school. Load the page again.',
  'refusal.wrongCode': 'This is not a code of this hub. Check it, or ask the coach for a new one.',
  'refusal.usedCode': 'This code has been used already; each lets one device in. Ask the coach for another.',
  'refusal.codeOfRadio': 'This code is for a radio in another room: give it to "slackwater radio" there.',
  'refusal.codeOfPage': 'This code is for a page. Ask the coach for a code for a radio.',
  'refusal.oldCode': 'This code is too old. Ask the coach for a new one.',
  'refusal.codeWithoutAthlete': 'This code’s athlete has been removed. Ask the coach for a new one.',
  'refusal.unknownDevice': 'There is no such device.',
  'refusal.importForWhom': 'Choose one athlete for this recording, or name a new one.',
  'refusal.importWhen': 'The file does not say when it was recorded; give a date and time.',
  'refusal.importSimulated':
    'This recording is SIMULATED; give it to a new athlete, so that it never stands among real ones.',
  'refusal.noBuddy': 'Name your buddy: nobody trains in water alone.',
  'refusal.correctUnknownMark': 'There is no such mark in this recording any more.',
  'refusal.correctOtherMark':
    'Only contractions and notes can be corrected here; move the boundary of the hold instead.',
  'refusal.correctEmptyNote': 'Write something in the note first.',
  'refusal.correctMarkOutside': 'A mark must lie inside the recording.',
  'refusal.correctUnknownHold': 'There is no such hold in this recording any more.',
  'refusal.correctHoldOutside': 'A hold must lie inside the recording.',
  'refusal.correctOverlap': 'This hold would overlap another; move or remove that one first.',
  'refusal.reviewFailed': 'Working out this recording failed. What was recorded is safe. Try again.',
  'refusal.reviewStopped': 'Working out this recording stopped. What was recorded is safe. Try again.',
  'refusal.reviewTooLarge':
    'This recording needs more memory than working it out may take. What was recorded is safe; its CSV can be read by other programs.',
  'refusal.reviewImpossible':
    'This recording could not be worked out. What was recorded is safe; the log says why.',
  'refusal.hubStopping': 'The hub is stopping.',
  'refusal.recordingDeleted': 'This recording has been deleted.',

  'refusal.unknownImport': 'There is no such import under way.',
  'refusal.importCancelled': 'The import was cancelled.',
  'refusal.importAsStream': 'Send the file itself, as application/octet-stream.',
  'refusal.unknownTimeZone': (p: { readonly name: string }) => `There is no time zone named "${p.name}".`,
  'refusal.recordingNotStarted': (p: { readonly reason: string }) =>
    `The recording can't be started: ${p.reason}`,
  'refusal.bodyField': (p: { readonly field: string; readonly issue: string }) =>
    `"${p.field}" is not as expected: ${p.issue}.`,
  'refusal.body': (p: { readonly issue: string }) => `The request is not as expected: ${p.issue}.`,
  'refusal.wrongVersion': (p: { readonly page: number; readonly hub: number }) =>
    `This page speaks version ${p.page}, the hub version ${p.hub}. Reload the page.`,
  'refusal.tooManyCorrections': (p: { readonly most: number }) =>
    `This recording has ${p.most} corrections already, which is the most it can have.`,
  'refusal.tooManyPlans': (p: { readonly most: number }) =>
    `The library holds ${p.most} plans. Delete one first.`,
  'refusal.devicesNotSaved': (p: { readonly reason: string }) =>
    `The list of devices can't be saved (${p.reason}). Free some disk space and try again.`,
  'refusal.tooManyCodes': (p: { readonly most: number }) =>
    `There are ${p.most} unused codes already. Use or withdraw some first.`,
  'refusal.tooManyWrongCodes': (p: { readonly minutes: number }) =>
    `Too many wrong codes. Wait ${p.minutes} ${p.minutes === 1 ? 'minute' : 'minutes'}, or join on another device.`,
  'refusal.tooManyDevices': (p: { readonly most: number }) =>
    `${p.most} devices have joined already. A coach can remove some.`,
  'refusal.correctTooShort': (p: { readonly seconds: number }) =>
    `A hold must end at least ${p.seconds} s after its start.`,
  /** Several things at once, each a sentence. */
  'refusal.needsChoice': (p: { readonly warnings: string }) => p.warnings,
  'refusal.internal': 'The hub could not do this. Its log says why; nothing recorded is lost.',
  /** Stands in the page for a browser that runs no program. */
  'page.needsScript':
    'Slackwater needs JavaScript: without it no trace is drawn and no alarm sounds. Allow it for this address.',
  'page.hubSilent': 'the hub does not answer',
  'page.hubNotAnswering': 'Hub not answering',
  'page.unknownForm': 'the hub answered in a form this page does not know',
  'page.hubStatus': (p: { readonly status: number }) => `the hub answered ${p.status}`,

  'resume.tooLong': (p: { readonly minutes: number }) =>
    `It was away for more than ${p.minutes} min, so it does not go on by itself.`,
  'resume.timeUnknown': 'How long it was away cannot be told, so it does not go on by itself.',
  'resume.damaged': 'The recording is damaged, so it does not go on by itself.',
  'resume.otherVersion': 'The program is another version than before, so it does not go on by itself.',
  'resume.dataOfTheHub':
    'Data of a demo or a replay begin anew with the hub, so it does not go on by itself.',
  'resume.athleteGone': 'An athlete of the session is no longer on the list, so it does not go on by itself.',
  'resume.diedTrying': 'The hub ended each time it tried, so it does not go on by itself.',
  'resume.notWritten': 'It cannot be recorded on, so it does not go on by itself.',
  'notice.restored': (p: { readonly sessions: number; readonly aside: string }) =>
    `A backup was restored: ${p.sessions} recordings. What was there before lies in ${p.aside}; delete it when you no longer need it.`,
  'notice.notRestored': (p: { readonly reason: string }) =>
    `The backup was not restored, and nothing was changed: ${p.reason}`,
  'notice.interrupted':
    'The hub stopped during a session. Everything committed before that is kept; find it under Recordings, marked interrupted.',
  'notice.recordingFails': (p: { readonly reason: string }) =>
    `The recording can't be written. Monitoring and alarms go on, and the hub keeps trying. ${p.reason}`,
  'notice.notSaved': (p: {
    readonly session: string;
    readonly since: string;
    readonly held: number;
    readonly lost: number;
    readonly reason: string;
  }) =>
    `${p.session === '' ? 'Nothing' : `Nothing of "${p.session}"`} has been saved since ${p.since}: ${p.reason} ${
      p.held === 1 ? '1 packet of the sensors is' : `${p.held} packets of the sensors are`
    } held in memory, and lost if the hub stops now.${
      p.lost === 0 ? '' : ` ${p.lost} more could not be held and are lost.`
    } Monitoring and alarms go on, and the hub keeps trying.`,
  'notice.diskSilent': (p: { readonly seconds: number }) => `the disk has not answered for ${p.seconds} s.`,
  'notice.packetsLost': (p: { readonly count: number; readonly session: string }) =>
    `${p.count} packets of the sensors are missing from "${p.session}": the disk did not take them, and no more could be held in memory.`,
  'notice.recordingAgain': 'The recording is being written again; what was held in memory has been saved.',
  'notice.noWatchdog': (p: { readonly reason: string }) =>
    `The watchdog that sounds when the hub itself stops does not run (${p.reason}); it is started again. Until then keep a page open and look at it.`,
  'notice.notListed': (p: { readonly reason: string }) =>
    `The list of recordings could not be read. Monitoring and alarms go on; sessions that broke off before are not told of. ${p.reason}`,
  'notice.auditFull':
    'The list of who did what takes no more entries: its disk does not answer. How many are missing is written down when it does.',
  'notice.watchdogAgain':
    'The watchdog that sounds when the hub itself stops runs again. In between a hub that stopped would not have been heard.',
  'output.watchdog': 'Watchdog',
  'watchdog.ended': (p: { readonly how: string }) => `its process ended: ${p.how}`,
  'watchdog.hung': 'its process no longer answered and was ended',
  'watchdog.stopped': (p: { readonly seconds: string; readonly pid: number }) =>
    `WATCHDOG: the hub has stood still for ${p.seconds} s in the middle of a session. Nobody is monitored. Look after your athletes, then start the hub again. "kill ${p.pid}" silences this.`,
  'watchdog.gone': (p: { readonly seconds: string; readonly pid: number }) =>
    `WATCHDOG: the hub has ended without a farewell. Nobody is monitored any more. What was saved is kept; start the hub again. "kill ${p.pid}" silences this. Last sign of it ${p.seconds} s ago.`,
  'watchdog.idleStopped': (p: { readonly seconds: string; readonly pid: number }) =>
    `WATCHDOG (${p.pid}): the hub has stood still for ${p.seconds} s. No session was running.`,
  'watchdog.goesOn': (p: { readonly seconds: string; readonly pid: number }) =>
    `WATCHDOG (${p.pid}): the hub goes on after standing still for ${p.seconds} s. Nothing was monitored in that time.`,
  'watchdog.givesUp': (p: { readonly seconds: string; readonly pid: number }) =>
    `WATCHDOG (${p.pid}): falls silent. The hub has stood still for ${p.seconds} s.`,
  'watchdog.endedHub': (p: { readonly pid: number }) =>
    `WATCHDOG (${p.pid}): the hub hung and was ended, to be started again.`,
  'watchdog.noManager': (p: { readonly reason: string }) =>
    `WATCHDOG: the service manager could not be told (${p.reason}); systemd-notify and NotifyAccess=all are needed.`,
  'recorder.putAside': (p: {
    readonly aside: string;
    readonly directory: string;
    readonly athletes: number;
    readonly documents: number;
  }) =>
    `The recordings were damaged. They were put aside as ${p.aside}; nothing was deleted. A new archive was begun, with ${p.athletes} athletes and ${p.documents} plans and entries that could be read, and you can record now. For the old recordings, when there is time: slackwater salvage --data ${p.directory} --to NEWFOLDER. Have the disk checked.`,
  'salvage.usage':
    'Say where to put what can be read: slackwater salvage --to NEWFOLDER, and --data FOLDER for where the recordings are.',
  'salvage.notEmpty': (p: { readonly directory: string }) =>
    `${p.directory} holds recordings already. Give a new folder: --to NEWFOLDER.`,
  'salvage.nothing': (p: { readonly directory: string }) =>
    `There are no recordings in ${p.directory}. Say where they are: --data FOLDER.`,
  'salvage.from': (p: { readonly path: string }) => `Read from ${p.path}, which was left as it is.`,
  'salvage.rescued': (p: {
    readonly sessions: number;
    readonly packets: number;
    readonly entries: number;
    readonly athletes: number;
    readonly documents: number;
    readonly directory: string;
  }) =>
    `Written to ${p.directory}: ${p.sessions} recordings with ${p.packets} packets and ${p.entries} marks, holds and the like; ${p.athletes} athletes; ${p.documents} plans and entries.`,
  'salvage.nothingMissing': 'Nothing is known to be missing.',
  'salvage.lost': (p: {
    readonly packets: number;
    readonly rows: number;
    readonly pages: number;
    readonly headless: number;
  }) =>
    `Lost: at least ${p.packets} packets; ${p.rows} rows did not fit their checksum; ${p.pages} pages of the file hold only zeros; ${p.headless} recordings lost their title and athletes and are called "Salvaged". Where packets are missing, the recording says so.`,
  'salvage.whatNext': (p: { readonly path: string; readonly directory: string }) =>
    `Look at it with: slackwater --data ${p.directory}. Keep ${p.path} until you have.`,
  'recorder.notBuilt':
    'A part of the program that records has not been built. Run "npm run build" and start again.',
  'recorder.noAnswer': 'The disk does not answer.',
  'recorder.notClosed': (p: { readonly held: number; readonly reason: string }) =>
    `The recordings could not be closed in order; ${p.held} packets held in memory are lost. ${p.reason}`,
  'recorder.ended':
    'The part of the hub that records has ended by a fault. Alarms go on; end the session and start the hub again.',
  'recorder.noMoreHeld': 'The disk does not take what is recorded, and no more can be held in memory.',
};
