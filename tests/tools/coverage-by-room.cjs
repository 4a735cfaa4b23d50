// Prints the coverage of the unit tests by room: the share of statements, branches and functions that they entered.
// CommonJS, because the coverage library loads its reporters with require.
const { relative } = require('node:path');
const { ReportBase } = require('istanbul-lib-report');

const kinds = ['statements', 'branches', 'functions'];

/** `hub/live` for what lies in it, `src` for a file at its top. */
function roomOf(path) {
  const parts = relative(process.cwd(), path).split('/');
  return parts.length > 2 ? parts.slice(0, 2).join('/') : parts[0];
}

module.exports = class CoverageByRoom extends ReportBase {
  constructor() {
    super();
    this.rooms = new Map();
  }

  onDetail(node) {
    const summary = node.getCoverageSummary();
    const file = node.getFileCoverage().path;
    for (const room of new Set([roomOf(file), relative(process.cwd(), file).split('/')[0]])) {
      const sums = this.rooms.get(room) ?? Object.fromEntries(kinds.map((kind) => [kind, [0, 0]]));
      for (const kind of kinds) {
        sums[kind][0] += summary[kind].covered;
        sums[kind][1] += summary[kind].total;
      }
      this.rooms.set(room, sums);
    }
  }

  onEnd() {
    const share = ([covered, total]) =>
      (total === 0 ? '-' : `${((100 * covered) / total).toFixed(1)} %`).padStart(12);
    console.log(`coverage by room${' '.repeat(8)}${kinds.map((kind) => kind.padStart(12)).join('')}`);
    for (const [room, sums] of [...this.rooms].sort(([a], [b]) => a.localeCompare(b)))
      console.log(room.padEnd(24) + kinds.map((kind) => share(sums[kind])).join(''));
  }
};
