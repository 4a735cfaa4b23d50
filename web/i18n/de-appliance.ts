// Wörter über den Hub als Gerät, auf Deutsch: seinen Rechner, sein Zertifikat, und wie andere Geräte ihm trauen.

import type { enComputer, enSpokenAlarms, enTrust } from './en-appliance.ts';

export const deComputer: typeof enComputer = {
  title: 'Der Rechner des Hubs',
  link: 'Rechner des Hubs prüfen',
  lead: 'Was der Rechner unter dem Hub bietet, und was zu tun ist, wo etwas fehlt.',
  notYet: 'Noch nicht nachgesehen.',
  checking: 'Sieht nach. Das dauert einige Sekunden.',
  summary: (look, faults) =>
    faults + look === 0
      ? 'Alles gut.'
      : [
          faults === 0 ? '' : `${faults} Fehler`,
          look === 0 ? '' : look === 1 ? '1 Punkt zum Ansehen' : `${look} Punkte zum Ansehen`,
        ]
          .filter((part) => part !== '')
          .join(', ')
          .concat('.'),
  at: (time) => `Nachgesehen: ${time}.`,
  again: 'Noch einmal prüfen',
  state: { good: 'gut', warning: 'ansehen', fault: 'Fehler' },
  sameAs:
    'Dasselbe wie \u201eslackwater doctor\u201c in einem Terminal dieses Rechners. Es läuft neben dem Hub: Eine Sitzung, die aufgezeichnet wird, geht ungestört weiter, und solange wird nicht gemessen, wie schnell die Platte ist.',
};

export const deTrust: typeof enTrust = {
  code: 'Code zum Vergleichen',
  whole: 'Der ganze SHA-256-Fingerabdruck',
  what: 'Die ersten 16 Stellen des SHA-256-Fingerabdrucks des Zertifikats. Die Ansicht des Browsers selbst beginnt damit, wenn es dieser Hub ist: Niemand im Netz kann diese Ansicht ändern.',
  protects: [
    'Der Code auf der Beitrittsseite sagt weniger: Eine Seite lässt sich samt Code fälschen. Er zeigt nur, dass du nicht versehentlich bei einem anderen Hub bist.',
    'Vergleiche alle vier Gruppen. Das sind 64 Bit: Ein anderes Zertifikat mit denselben kostet einen Grafikprozessor etwa 58 Jahre (10 Milliarden Versuche in der Sekunde, unsere Annahme), zehntausend davon zwei Tage. Für zwei Gruppen allein genügt eine halbe Sekunde.',
    'Wer ohne Vergleich weitergeht und jemanden dazwischen hat, zeigt ihm, was getippt wird und was die Seite zeigt, auch den Beitrittscode.',
  ],
  howMuch: 'Wie viel der Code schützt',
  steps: {
    title: 'Was das Gerät zeigt, und was zu drücken ist',
    lead: 'Der Hub hat sein Zertifikat selbst erstellt, darum warnt der Browser beim ersten Besuch. Die Wörter stehen hier aus dem Gedächtnis und sind je nach Version und Sprache anders.',
    leadGiven:
      'Der Hub zeigt ein Zertifikat von anderswo. Kennt das Gerät dessen Ausgabestelle, warnt der Browser unter dem Namen des Hubs nicht.',
    which: 'Gerät',
    iphone: 'iPhone oder iPad',
    android: 'Android',
    ofIphone: [
      { picture: 'scan', text: 'Richte die Kamera auf das Quadrat und öffne den Link.' },
      {
        picture: 'warning',
        text: 'Der Browser sagt, die Verbindung sei nicht privat. Tippe auf \u201eDetails einblenden\u201c.',
      },
      {
        picture: 'certificate',
        text: 'Tippe auf \u201eZertifikat anzeigen\u201c, dann \u201eWeitere Details\u201c. Gegen Ende steht SHA-256: Es muss mit dem Code beginnen. Geh zurück.',
      },
      {
        picture: 'goOn',
        text: 'Nur dann: Tippe auf \u201ediese Website öffnen\u201c und bestätige.',
      },
      {
        picture: 'join',
        text: 'Die Beitrittsseite öffnet sich. Gib dem Gerät einen Namen und tippe auf \u201eBeitreten\u201c.',
      },
    ],
    ofAndroid: [
      { picture: 'scan', text: 'Richte die Kamera auf das Quadrat und öffne den Link.' },
      {
        picture: 'warning',
        text: 'Der Browser sagt, die Verbindung sei nicht sicher. Geh noch nicht weiter: Tippe auf das Zeichen links der Adresse.',
      },
      {
        picture: 'certificate',
        text: 'Öffne das Zertifikat und suche \u201eSHA-256-Fingerabdruck\u201c: Er muss mit dem Code beginnen. Manche Browser zeigen ihn erst nach dem Weitergehen: Tippe dann die Adresse ein, statt zu scannen, und sieh nach, bevor du den Beitrittscode eingibst.',
      },
      {
        picture: 'goOn',
        text: 'Nur dann: Tippe auf \u201eErweitert\u201c und \u201eWeiter\u201c.',
      },
      {
        picture: 'join',
        text: 'Die Beitrittsseite öffnet sich. Gib dem Gerät einen Namen und tippe auf \u201eBeitreten\u201c.',
      },
    ],
  },
  join: {
    title: 'Ist das der richtige Hub?',
    pageSays: 'Diese Seite sagt, sie sei der Hub mit dem Code',
    other:
      'Steht auf der Seite des Trainers oder im Terminal des Hubs ein anderer Code, ist dies ein anderer Hub: Tritt nicht bei.',
    same: 'Ist es derselbe, ist das allein kein Beweis: Wer dazwischensitzt, könnte ihn auch zeigen. Ein Beweis ist die Ansicht des Zertifikats in deinem Browser (das Zeichen neben der Adresse): Sein SHA-256-Fingerabdruck beginnt mit diesen 16 Stellen.',
    noWarning: 'Hat dein Browser nicht gewarnt, hat er das Zertifikat selbst geprüft.',
  },
  authority: {
    title: 'Keine Warnung mehr: der Ausgabestelle des Hubs trauen',
    off: 'Der Hub kann eine eigene Ausgabestelle anlegen und sein Zertifikat damit unterschreiben; Geräte, die sie eingerichtet haben, werden nie mehr gewarnt. Sie entsteht, wenn der Hub mit --lan-authority gestartet wird; Geräte, die das frühere Zertifikat angenommen hatten, werden dann noch einmal gewarnt.',
    lead: 'Für Geräte, die oft kommen. Einmal eingerichtet, bis du sie entfernst; erneuerte Zertifikate des Hubs brauchen nichts.',
    code: 'Code der Ausgabestelle',
    until: (day) => `Gültig bis ${day}. Danach brauchen Geräte die nächste.`,
    files: 'Dateien zum Einrichten',
    profile: 'Profil für iPhone und iPad',
    der: 'Zertifikat für Android und Computer (.crt)',
    pem: 'Dasselbe als PEM',
    where: (address) =>
      `Auf dem Gerät selbst: ${address}/join hat diese Dateien auch. Oder schicke sie von hier, auf einem Weg, dem du traust.`,
    ofIphone: [
      { picture: 'file', text: 'Öffne das Profil im Browser und erlaube, es zu laden.' },
      {
        picture: 'settings',
        text: 'In den Einstellungen \u201eProfil geladen\u201c: Unter \u201eWeitere Details\u201c muss SHA-256 des Zertifikats mit dem Code der Ausgabestelle beginnen. Erst dann \u201eInstallieren\u201c.',
      },
      {
        picture: 'trust',
        text: 'In den Einstellungen, Allgemein, Info, \u201eZertifikatsvertrauenseinstellungen\u201c: Schalte sie ein.',
      },
    ],
    ofAndroid: [
      { picture: 'file', text: 'Lade die .crt-Datei.' },
      {
        picture: 'settings',
        text: 'Suche in den Einstellungen \u201eCA-Zertifikat\u201c, geh über die Warnung hinweg und wähle die Datei. Ihre Einzelheiten müssen mit dem Code der Ausgabestelle beginnen; wenn nicht, entferne sie sofort.',
      },
      {
        picture: 'trust',
        text: 'Öffne die Seite des Hubs noch einmal. Manche Browser trauen eingerichteten Ausgabestellen erst nach einer eigenen Einstellung.',
      },
    ],
    risk: 'Was das heißt, und was daran gefährlich ist',
    risks: [
      'Das Gerät glaubt dieser Ausgabestelle dann, was die Namen des Hubs und die Adressen privater Netze angeht (10., 172.16. bis 172.31., 192.168., 169.254., 127.), und sonst nichts. Die meisten Systeme halten sich daran; die Norm (RFC 5280) erlaubt einem System, bei einer selbst eingerichteten Ausgabestelle darüber hinwegzusehen.',
      'Ihr Schlüssel liegt im Datenordner des Hubs, lesbar nur für dessen Benutzer. Wer ihn stiehlt, könnte sich als dein Router oder ein anderes Gerät eines privaten Netzes ausgeben.',
      'Richte nie eine Ausgabestelle ein, ohne ihren Code zu vergleichen: Eine von jemandem dazwischen wäre schlimmer als jede Warnung.',
    ],
    remove: 'Zum Entfernen',
    removing: [
      'iPhone und iPad: Einstellungen, Allgemein, \u201eVPN und Geräteverwaltung\u201c, Slackwater-Hub, \u201eProfil entfernen\u201c.',
      'Android: Suche in den Einstellungen \u201eVertrauenswürdige Anmeldedaten\u201c, Reiter \u201eNutzer\u201c, die Ausgabestelle, \u201eEntfernen\u201c.',
      'Am Hub: Starte ihn ohne --lan-authority und lösche lan-authority.pem in seinem Datenordner.',
    ],
  },
};

export const deSpokenAlarms: typeof enSpokenAlarms = {
  label: 'Ansagen, wessen Alarm ruft',
  choice: {
    off: 'Nein, nur der Ton',
    names: 'Mit Namen',
    places: 'Nach dem Platz auf der Tafel dieses Geräts: Matte 1, Matte 2 \u2026',
  },
  hint: 'Nur auf diesem Gerät, nach dem ersten Tonstoß und alle 20\u202fs, solange niemand reagiert hat. Der Ton bleibt, wie er ist. Alle im Raum hören es.',
  trial: 'Beispiel hören',
  trialName: 'Beispiel. Marit: Sättigung unter der Grenze.',
  trialPlace: 'Beispiel. Matte 2: Sättigung unter der Grenze.',
  noVoice: 'Dieser Browser hat keine Stimme. Alarme ertönen nur mit ihrem Ton.',
  mat: (number) => `Matte ${number}`,
  says: (who, what) => (who === '' ? `${what}.` : `${who}: ${what}.`),
};
