// The authority's certificate as files that devices install: PEM, DER, and a configuration profile for phones and tablets that
// take those. Nothing secret is in them.

import { createHash, X509Certificate } from 'node:crypto';

export interface AuthorityFile {
  readonly name: string;
  readonly contentType: string;
  readonly bytes: Buffer;
}

export type AuthorityFileForm = 'pem' | 'der' | 'mobileconfig';

export const isAuthorityFileForm = (word: string): word is AuthorityFileForm =>
  word === 'pem' || word === 'der' || word === 'mobileconfig';

/** `words`: what the profile says of itself to whoever installs it. */
export function authorityFile(
  form: AuthorityFileForm,
  certificatePem: string,
  words: { readonly title: string; readonly description: string },
): AuthorityFile {
  const der = new X509Certificate(certificatePem).raw;
  switch (form) {
    case 'pem':
      return {
        name: 'slackwater-authority.pem',
        contentType: 'application/x-pem-file',
        bytes: Buffer.from(`${certificatePem.trim()}\n`),
      };
    case 'der':
      // RFC 2585 s4.1 has application/pkix-cert; phones open their installer for this one (from memory).
      return { name: 'slackwater-authority.crt', contentType: 'application/x-x509-ca-cert', bytes: der };
    case 'mobileconfig':
      return {
        name: 'slackwater-authority.mobileconfig',
        contentType: 'application/x-apple-aspen-config',
        bytes: Buffer.from(profile(der, words)),
      };
  }
}

/** Configuration Profile Reference (developer.apple.com, from memory): a profile with one root certificate. */
function profile(der: Buffer, words: { readonly title: string; readonly description: string }): string {
  const hash = createHash('sha256').update(der).digest();
  const lines = der.toString('base64').match(/.{1,64}/g) ?? [];
  const title = xmlText(words.title);
  return `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
  <key>PayloadType</key><string>Configuration</string>
  <key>PayloadVersion</key><integer>1</integer>
  <key>PayloadIdentifier</key><string>slackwater.authority</string>
  <key>PayloadUUID</key><string>${uuid(hash, 0)}</string>
  <key>PayloadDisplayName</key><string>${title}</string>
  <key>PayloadDescription</key><string>${xmlText(words.description)}</string>
  <key>PayloadRemovalDisallowed</key><false/>
  <key>PayloadContent</key>
  <array>
    <dict>
      <key>PayloadType</key><string>com.apple.security.root</string>
      <key>PayloadVersion</key><integer>1</integer>
      <key>PayloadIdentifier</key><string>slackwater.authority.certificate</string>
      <key>PayloadUUID</key><string>${uuid(hash, 16)}</string>
      <key>PayloadDisplayName</key><string>${title}</string>
      <key>PayloadCertificateFileName</key><string>slackwater-authority.crt</string>
      <key>PayloadContent</key>
      <data>
${lines.join('\n')}
      </data>
    </dict>
  </array>
</dict>
</plist>
`;
}

/** The same of the same certificate, so that a profile loaded twice is one (RFC 9562 s5.8: version 8 is for own use). */
function uuid(hash: Buffer, from: number): string {
  const bytes = Buffer.from(hash.subarray(from, from + 16));
  bytes[6] = ((bytes[6] ?? 0) & 0x0f) | 0x80;
  bytes[8] = ((bytes[8] ?? 0) & 0x3f) | 0x80;
  return bytes
    .toString('hex')
    .toUpperCase()
    .replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}

const xmlText = (text: string): string =>
  text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');
