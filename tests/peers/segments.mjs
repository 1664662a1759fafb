// Our count of SMS segments against npm sms-segments-calculator and npm split-sms, on thousands of random texts and on
// the same texts folded to GSM-7. The texts and our counts come from an ignored test of the library.
//
// usage: node segments.mjs [COUNTS]     COUNTS: a file that test has written already
//
// Encoding and units have to agree with both, segments with both in GSM-7. In UCS-2 the calculator moves a grapheme
// cluster that straddles the cut to the next segment whole, while 3GPP TS 23.040 keeps only a character whole: there
// split-sms has to agree, and the calculator unless a cluster of several characters is in the text.

import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const require = createRequire(import.meta.url);
const { SegmentedMessage } = require("sms-segments-calculator");
const splitSms = require("split-sms");

const project = join(dirname(fileURLToPath(import.meta.url)), "..", "..");

function written(path) {
  return readFileSync(path, "utf8").trimEnd().split("\n").map((line) => JSON.parse(line));
}

function fromLibrary() {
  const folder = mkdtempSync(join(tmpdir(), "segments-"));
  const path = join(folder, "counts.jsonl");
  const test = ["test", "--quiet", "--test", "wording", "--", "--ignored", "--exact", "write_counts_for_the_peers"];
  try {
    const env = { ...process.env, BROWLINE_SEGMENTS: path };
    execFileSync("cargo", test, { cwd: project, env, stdio: ["ignore", "ignore", "inherit"] });
    return written(path);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function calculator(text) {
  const message = new SegmentedMessage(text);
  const encoding = message.encodingName === "GSM-7" ? "gsm7" : "ucs2";
  return { encoding, units: message.messageSize / (encoding === "gsm7" ? 7 : 16), segments: message.segmentsCount };
}

function splitter(text) {
  const { characterSet, bytes, parts } = splitSms.split(text, { summary: true });
  const encoding = characterSet === "GSM" ? "gsm7" : "ucs2";
  return { encoding, units: encoding === "gsm7" ? bytes : bytes / 2, segments: parts.length };
}

const clusters = new Intl.Segmenter("en", { granularity: "grapheme" });
const hasCluster = (text) => [...clusters.segment(text)].some(({ segment }) => [...segment].length > 1);

function compare(text, ours) {
  const wrong = [];
  for (const [name, theirs] of [["sms-segments-calculator", calculator(text)], ["split-sms", splitter(text)]]) {
    const eitherIsRight = name === "sms-segments-calculator" && ours.encoding === "ucs2" && hasCluster(text);
    const same = theirs.encoding === ours.encoding && theirs.units === ours.units
      && (theirs.segments === ours.segments || eitherIsRight);
    if (!same) wrong.push(`${name}: ${JSON.stringify(theirs)}, ours: ${JSON.stringify(ours)}, text: ${JSON.stringify(text)}`);
  }
  return wrong;
}

const rows = process.argv[2] ? written(process.argv[2]) : fromLibrary();
const seen = { gsm7: 0, ucs2: 0, long: 0 };
const wrong = [];
for (const { text, folded, cost, after } of rows) {
  for (const [what, ours] of [[text, cost], [folded, after]]) {
    if (what === "") continue; // One empty message to us, none or one to them; none is ever sent.
    seen[ours.encoding] += 1;
    if (ours.segments > 1) seen.long += 1;
    wrong.push(...compare(what, ours));
  }
}
for (const line of wrong.slice(0, 20)) console.error(line);
console.log(`segments: ${seen.gsm7} texts of GSM-7, ${seen.ucs2} of UCS-2, ${seen.long} of several segments; ${wrong.length} differ`);
process.exit(wrong.length === 0 && seen.gsm7 > 1000 && seen.ucs2 > 1000 ? 0 : 1);
