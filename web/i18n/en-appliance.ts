// Words about the hub as a thing that stands there, in English: its computer, its certificate, and how devices come to trust it.

export const enComputer = {
  title: 'The hub\u2019s computer',
  link: 'Check the hub\u2019s computer',
  lead: 'What the computer under the hub offers, and what to do where something is missing.',
  notYet: 'Not looked at yet.',
  checking: 'Looking. This takes some seconds.',
  summary: (look: number, faults: number) =>
    faults + look === 0
      ? 'All good.'
      : [
          faults === 0 ? '' : faults === 1 ? '1 fault' : `${faults} faults`,
          look === 0 ? '' : look === 1 ? '1 thing to look at' : `${look} things to look at`,
        ]
          .filter((part) => part !== '')
          .join(', ')
          .concat('.'),
  at: (time: string) => `Looked at ${time}.`,
  again: 'Check again',
  state: { good: 'good', warning: 'look', fault: 'fault' },
  sameAs:
    'The same as \u201cslackwater doctor\u201d in a terminal of that computer. It runs beside the hub: a session that is recorded goes on undisturbed, and the disk\u2019s speed is not measured meanwhile.',
};

/** What a drawn step shows (components/step-picture.tsx). */
export type StepPicture =
  | 'scan'
  | 'warning'
  | 'certificate'
  | 'goOn'
  | 'join'
  | 'file'
  | 'settings'
  | 'trust';

export interface TrustStep {
  readonly picture: StepPicture;
  readonly text: string;
}

/** How a device comes to trust the hub: what its browser will say, the code to compare, and the hub's own authority. */
export const enTrust = {
  code: 'Code to compare',
  whole: 'The whole SHA-256 fingerprint',
  what: 'The first 16 digits of the certificate\u2019s SHA-256 fingerprint. The browser\u2019s own view of the certificate begins with them if it is this hub: nobody on the network can change that view.',
  protects: [
    'The code on the join page says less: a page can be faked together with its code. It shows only that you haven\u2019t come to another hub by mistake.',
    'Compare all four groups. They are 64 bits: to make another certificate with the same takes some 58 years on one graphics processor (10 billion tries a second, our assumption), two days on ten thousand. For two groups alone half a second is enough.',
    'If you go on without comparing and somebody is in between, they see what you type and what the page shows, the join code too.',
  ] as readonly string[],
  howMuch: 'How much the code protects',
  steps: {
    title: 'What the device will show, and what to press',
    lead: 'The hub made its certificate itself, so the browser warns at the first visit. The words are told from memory and differ between versions and languages.',
    leadGiven:
      'The hub shows a certificate from elsewhere. If the device knows its authority, the browser doesn\u2019t warn at the hub\u2019s name.',
    which: 'Device',
    iphone: 'iPhone or iPad',
    android: 'Android',
    ofIphone: [
      { picture: 'scan', text: 'Point the camera at the square and open the link.' },
      {
        picture: 'warning',
        text: 'The browser says that the connection is not private. Tap \u201cShow Details\u201d.',
      },
      {
        picture: 'certificate',
        text: 'Tap \u201cview the certificate\u201d, then \u201cMore Details\u201d. Near the end stands SHA-256: it has to begin with the code. Go back.',
      },
      {
        picture: 'goOn',
        text: 'Only if it does: tap \u201cvisit this website\u201d and confirm.',
      },
      { picture: 'join', text: 'The join page opens. Give the device a name and tap \u201cJoin\u201d.' },
    ] as readonly TrustStep[],
    ofAndroid: [
      { picture: 'scan', text: 'Point the camera at the square and open the link.' },
      {
        picture: 'warning',
        text: 'The browser says that the connection is not private. Don\u2019t go on yet: tap the sign left of the address.',
      },
      {
        picture: 'certificate',
        text: 'Open the certificate and look for \u201cSHA-256 fingerprint\u201d: it has to begin with the code. Some browsers show it only after going on: then type the address instead of scanning, and look before you type the join code.',
      },
      {
        picture: 'goOn',
        text: 'Only if it does: tap \u201cAdvanced\u201d, then \u201cProceed\u201d.',
      },
      { picture: 'join', text: 'The join page opens. Give the device a name and tap \u201cJoin\u201d.' },
    ] as readonly TrustStep[],
  },
  join: {
    title: 'Is this the right hub?',
    pageSays: 'This page says that it is the hub with the code',
    other:
      'If the coach\u2019s page or the hub\u2019s terminal has another code, this is another hub: don\u2019t join.',
    same: 'If it is the same, that alone is no proof: who stands in between could show it too. Proof is your browser\u2019s own view of the certificate (the sign beside the address): its SHA-256 fingerprint begins with these 16 digits.',
    noWarning: 'If your browser did not warn, it has checked the certificate by itself.',
  },
  authority: {
    title: 'No more warning: trust the hub\u2019s authority',
    off: 'The hub can make an authority of its own, sign its certificate with it, and devices that have installed it are never warned again. It is made when the hub is started with --lan-authority; devices that had accepted the earlier certificate are then warned once more.',
    lead: 'For devices that come often. Installed once, until you remove it, and renewed certificates of the hub need nothing.',
    code: 'Code of the authority',
    until: (day: string) => `Good until ${day}. Devices then need the next one.`,
    files: 'Files to install',
    profile: 'Profile for iPhone and iPad',
    der: 'Certificate for Android and computers (.crt)',
    pem: 'The same as PEM',
    where: (address: string) =>
      `On the device itself: ${address}/join has these files too. Or send them from here, in a way you trust.`,
    ofIphone: [
      { picture: 'file', text: 'Open the profile in the browser and allow it to be loaded.' },
      {
        picture: 'settings',
        text: 'In Settings, \u201cProfile Downloaded\u201d: under \u201cMore Details\u201d, the certificate\u2019s SHA-256 has to begin with the authority\u2019s code. Only then \u201cInstall\u201d.',
      },
      {
        picture: 'trust',
        text: 'In Settings, General, About, \u201cCertificate Trust Settings\u201d: switch it on.',
      },
    ] as readonly TrustStep[],
    ofAndroid: [
      { picture: 'file', text: 'Load the .crt file.' },
      {
        picture: 'settings',
        text: 'In Settings, search for \u201cCA certificate\u201d, go on past the warning and choose the file. The certificate\u2019s details have to begin with the authority\u2019s code; if not, remove it at once.',
      },
      {
        picture: 'trust',
        text: 'Open the hub\u2019s page again. Some browsers trust installed authorities only after a setting of their own.',
      },
    ] as readonly TrustStep[],
    risk: 'What it means, and the risk',
    risks: [
      'The device then believes this authority about the hub\u2019s names and about addresses of private networks (10., 172.16. to 172.31., 192.168., 169.254., 127.), and about nothing else. Most systems hold to these limits; the standard (RFC 5280) lets a system pass over them for an authority that its owner installed.',
      'Its key lies in the hub\u2019s data folder, readable by the hub\u2019s user alone. Who steals it could pretend to be your router or another device of a private network.',
      'Never install an authority without comparing its code: one from somebody in between would be worse than any warning.',
    ] as readonly string[],
    remove: 'To remove it',
    removing: [
      'iPhone and iPad: Settings, General, \u201cVPN & Device Management\u201d, Slackwater hub, \u201cRemove Profile\u201d.',
      'Android: Settings, search for \u201cTrusted credentials\u201d, tab \u201cUser\u201d, the authority, \u201cRemove\u201d.',
      'On the hub: start it without --lan-authority and delete lan-authority.pem in its data folder.',
    ] as readonly string[],
  },
};

/** Saying whose alarm calls. */
export const enSpokenAlarms = {
  label: 'Say whose alarm calls',
  choice: {
    off: 'No, the tone alone',
    names: 'By name',
    places: 'By place on this device\u2019s wall: Mat 1, Mat 2 \u2026',
  },
  hint: 'On this device only, after the tone\u2019s first burst and every 20\u202fs while nobody has answered. The tone stays as it is. Everybody in the room hears it.',
  trial: 'Hear an example',
  trialName: 'Example. Marit: saturation below the floor.',
  trialPlace: 'Example. Mat 2: saturation below the floor.',
  noVoice: 'This browser has no voice. Alarms sound by their tone alone.',
  mat: (number: number) => `Mat ${number}`,
  says: (who: string, what: string) => (who === '' ? `${what}.` : `${who}: ${what}.`),
};
