// Words about the device the page runs on, in English: what the browser lets it do while nobody looks, or the hub is gone.

export const enDevice = {
  title: 'This device',
  intro:
    'What this browser lets the page do. A sleeping, muted or switched-off device cannot alarm, whatever stands here.',
  offline: {
    label: 'Opens without the hub',
    notYet: 'Not yet: the hub has not answered.',
    kept: 'Yes. The page is kept on this device: opened while the hub is gone, it says so, and alarms if it knows of a session.',
    refused:
      'No. Browsers keep a page only from the hub\u2019s own computer, or over a certificate they trust. While it is open it alarms all the same; do not reload it while the hub is gone.',
  },
  install: {
    label: 'On the home screen',
    installed: 'Yes: this page runs in a window of its own.',
    offered: 'This browser can put it there.',
    byMenu:
      'By the browser\u2019s menu, if it offers it: \u201cInstall\u201d, or on a phone \u201cAdd to Home Screen\u201d behind the share button.',
    button: 'Put it there',
  },
  notices: {
    label: 'Notices while another window is in front',
    granted:
      'Allowed. An alarm that calls while this page is hidden shows as a notice of the system, with the athlete\u2019s name, also where the screen is locked.',
    denied: 'Refused in the browser. Allow notices for this page in its settings.',
    default: 'Not asked for yet.',
    impossible: 'This browser has none for this page.',
    notKept: 'Allowed, but this browser shows them only for a page that is kept on the device.',
    button: 'Allow notices',
  },
  screen: {
    label: 'Keeps the screen on',
    refused: 'No: this browser refuses it.',
    on: 'While a session runs, and the page is in front.',
    notice:
      'This screen will go dark: the browser does not let the page keep it on. Lengthen the screen time-out of this device, and keep a second page with sound.',
  },
  vibration: {
    label: 'Vibrates with an alarm',
    yes: 'Where the device can, after a first touch.',
    no: 'Not in this browser.',
  },
  sessionOver: 'That session is over',
  rememberedOnly: (title: string) =>
    title === ''
      ? 'A session was on when this device last heard of the hub.'
      : `The session \u201c${title}\u201d was on when this device last heard of the hub.`,
};
