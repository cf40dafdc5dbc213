// Puts the questions on standard input (crates/engine/examples/cases.rs) to the module for the phone and compares its answers
// with the native ones on the line below each: numbers to 1e-12, all else alike but figures in sentences. Two that are equal to
// 1e-12 may stand in either order. A fingerprint of the input (`input_sha256`) is of numbers to their last bit, and not compared.
//
//   node same.mjs MODULE.wasm < questions
import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";

const NEAR = 1e-12;
/** What is searched for until it is near enough, or is what two near numbers differ by in minutes, is no nearer than this. */
const SEARCHED = 1e-9;
const isSearched = (at) => /\/expected\/range\/|_minutes$/.test(at);
/** What a line of a ranked list has by its place: of two that are equal either may stand first. */
const OF_PLACE = ["probability", "ends_job"];
const MOST_SHOWN = 20;

const { exports } = new WebAssembly.Instance(new WebAssembly.Module(readFileSync(process.argv[2])), {});
const [writer, reader] = [new TextEncoder(), new TextDecoder()];

function ask(question) {
  const bytes = writer.encode(question);
  const at = exports.room(bytes.length);
  new Uint8Array(exports.memory.buffer, at, bytes.length).set(bytes);
  const length = exports.ask();
  return JSON.parse(reader.decode(new Uint8Array(exports.memory.buffer, exports.place(), length)));
}

const seen = { questions: 0, numbers: 0, farthest: 0, sentences: 0, different: [] };
const isSentence = (text) => text.includes(" ");
const withoutFigures = (text) => text.replace(/[0-9]+([.,][0-9]+)?/g, "#");

/** What tells the lines of a ranked list apart; undefined for what is no such list. */
function names(list) {
  const name = (of) => JSON.stringify([of?.procedure, of?.fault, of?.part, of?.faults, of?.external_states, of?.other_in]);
  const all = list.map(name);
  return new Set(all).size === all.length && list.every((of) => typeof of === "object") ? all : undefined;
}

/** Ranked lists: line by line what ranks them, then each line with the one of its name. */
function compareRanked(native, own, at) {
  const [those, these] = [names(native), names(own)];
  for (const [index, line] of native.entries()) {
    for (const field of OF_PLACE) compare(line[field], own[index]?.[field], `${at}/${index}/${field}`);
    // Among equals that a list has no room for, either may be left out.
    if (!these.includes(those[index]) && Math.abs(line.probability - native.at(-1).probability) <= NEAR) continue;
    const without = (of) => Object.fromEntries(Object.entries(of ?? {}).filter(([field]) => !OF_PLACE.includes(field)));
    compare(without(line), without(own[these.indexOf(those[index])]), `${at}/${those[index]}`);
  }
}

function compare(native, own, at) {
  if (at.endsWith("/input_sha256")) return;
  if (Array.isArray(native) && Array.isArray(own) && native.length === own.length && names(native) && names(own)) {
    compareRanked(native, own, at);
  } else if (typeof native === "number" && typeof own === "number") {
    seen.numbers += 1;
    const apart = Math.abs(native - own) / Math.max(1, Math.abs(native));
    const isNear = apart <= (isSearched(at) ? SEARCHED : NEAR);
    if (!isSearched(at)) seen.farthest = Math.max(seen.farthest, apart);
    if (!isNear) seen.different.push(`${at}: ${native} natively, ${own} here`);
  } else if (typeof native === "string" && typeof own === "string" && native !== own) {
    const isRounding = isSentence(native) && withoutFigures(native) === withoutFigures(own);
    if (isRounding) seen.sentences += 1;
    else seen.different.push(`${at}: ${native} natively, ${own} here`);
  } else if (native !== null && own !== null && typeof native === "object" && typeof own === "object") {
    for (const key of new Set([...Object.keys(native), ...Object.keys(own)])) compare(native[key], own[key], `${at}/${key}`);
  } else if (native !== own) {
    seen.different.push(`${at}: ${native} natively, ${own} here`);
  }
}

const times = { learn: [], judge: [] };
let question;
for await (const line of createInterface({ input: process.stdin, crlfDelay: Infinity })) {
  if (question === undefined) {
    question = line;
    continue;
  }
  const began = performance.now();
  const own = ask(question);
  times[question.startsWith('{"ask":"learn"') ? "learn" : "judge"].push(performance.now() - began);
  compare(JSON.parse(line), own, `${seen.questions}`);
  seen.questions += 1;
  question = undefined;
}
for (const words of seen.different.slice(0, MOST_SHOWN)) console.error(words);
const middle = (of) => Math.round(of.sort((a, b) => a - b)[Math.floor(of.length / 2)]);
console.log(
  `${seen.questions} questions, ${seen.numbers} numbers, at most ${seen.farthest.toExponential(1)} apart, ${seen.sentences} sentences ` +
    `with another last figure; ${seen.different.length} differences. Learning ${middle(times.learn)} ms, judging ${middle(times.judge)} ms.`,
);
process.exitCode = seen.different.length === 0 && times.judge.length > 100 ? 0 : 1;
