// What `slackwater service` prints, in English only.

export const serviceWords = {
  says: {
    install: 'Installing the service would do this:',
    uninstall: 'Removing the service would do this:',
  },
  doing: { install: 'Installing the service:', uninstall: 'Removing the service:' },
  writes: (path: string) => `  write   ${path}`,
  deletes: (path: string) => `  delete  ${path}`,
  runs: (command: string) => `  run     ${command}`,
  sayYes: 'Nothing has been done. Add --yes to do it.',
  done: {
    install: (folder: string) => `Done. Recordings are kept in ${folder}. The link to the page:`,
    uninstall: (folder: string) => `Done. The recordings in ${folder} are as they were.`,
  },
  failed: (command: string, why: string) => `"${command}" failed: ${why}`,
  whatNow: 'What was done before stays; "slackwater service uninstall --yes" takes it back.',
  needsVerb: 'Say install, status or uninstall.',
  noRadio:
    'Without root a service cannot reach the Bluetooth adapter by itself on Linux. Run it as root, or use a USB adapter with --adapter serial:PATH@BAUD.',
  inHome: (path: string) =>
    `The program lies in ${path}, which a service of the system may not read. Install it for all first: "npm install --global" as root, or the Debian package.`,
  notWhole: (path: string) => `This installation lacks hub/${path}. Install Slackwater again.`,
  otherSystem: (system: string) =>
    `There is no service for ${system} here. Start "slackwater start --no-open" as this system starts programs.`,
} as const;
