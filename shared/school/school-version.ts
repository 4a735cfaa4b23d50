// The version of what hubs and a school say to each other. Any change of a schema here changes the pinned hash in
// tests/contract/school-contract.test.ts; bump this with it.

/**
 * History: 1 = first contract; 2 = people are erased at every hub; generations are random names, `have` answers with
 * fingerprints, `sums`; who a hub is stands in the subject; live messages are numbered;
 * 3 = who led a recording stands in its head, and is erased by hubs like an athlete.
 */
export const schoolVersion = 3;

/** The header of every message: a reader that knows another version keeps the message unread and says so. */
export const versionHeader = 'Slackwater-School-Version';

/** The header of a live message: a hub numbers them in the order in which they happened. */
export const numberHeader = 'Slackwater-Number';
