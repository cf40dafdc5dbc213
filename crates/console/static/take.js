// A procedure's form becomes a run that lies on the phone before it is shown as taken. Without what is kept the form goes to
// the service as it always did.
import { checkRun, warm } from "./judging.js";
import { day, device, dropEntry, newId, putEntry } from "./kept.js";
import { send } from "./outbox.js";

const form = document.querySelector("form[data-steps]");
const words = document.getElementById("words")?.dataset ?? {};
const [, , visit, , procedure] = location.pathname.split("/");

/** What was read is not held up by its being checked: the service checks it in any case. */
const CHECKED_MS = 2_000;

class Fault extends Error {}

/** The number in a text: a comma is a point; a time may be `1:12`, which is then in seconds. */
function number(text, isTime) {
  const plain = text.trim().replace(",", ".").replace("\u2212", "-");
  const [, minutes, seconds] = /^(\d+):(\d{1,2}(?:\.\d+)?)$/.exec(plain) ?? [];
  if (isTime && minutes !== undefined && Number(seconds) < 60) return { value: Number(minutes) * 60 + Number(seconds), isClock: true };
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain)) throw new Fault(isTime ? words.noTime : words.noNumber);
  return { value: Number(plain), isClock: false };
}

const DEGREES = "degrees:";
function measured(text, chosen, isTime) {
  const { value, isClock } = number(text, isTime);
  const unit = isClock ? "s" : chosen;
  if (!unit.startsWith(DEGREES)) return { text: text.trim(), value, unit };
  return { text: text.trim(), value, unit: "1", hardness_scale: `${unit.slice(DEGREES.length)}_degree` };
}

/** What a step's fields say; undefined if they were left empty. */
function reading(section, key) {
  const named = (name) => section.querySelector(`[name="${CSS.escape(`${name}:${key}`)}"]`);
  const [value, series] = [named("value"), named("series")];
  const isTime = section.querySelector("[data-watch]") !== null;
  if (value !== null && value.value.trim() !== "") {
    const of = measured(value.value, named("unit").value, isTime);
    const bound = named("bound");
    const isBound = bound !== null && (bound.type !== "checkbox" || bound.checked) && bound.value !== "";
    if (isBound) of.censored = bound.value;
    if (named("touched")?.value) of.instrument = { kind: "stopwatch" };
    return { step: key, value: of };
  }
  const choice = section.querySelector(`[name="${CSS.escape(`choice:${key}`)}"]:checked`);
  if (choice !== null) return { step: key, choice: choice.value };
  if (series !== null && series.value.trim() !== "") {
    const samples = series.value.split("\n").map((line) => line.trim()).filter((line) => line !== "");
    const pairs = samples.map((line) => {
      const [time, sample, ...more] = line.split(/[ \t;]+/).filter((part) => part !== "");
      if (sample === undefined || more.length > 0) throw new Fault(words.noSample);
      return [number(time, true).value, number(sample, false).value];
    });
    return { step: key, series: { times_s: pairs.map(([time]) => time), values: pairs.map(([, of]) => of), unit: named("unit").value } };
  }
  return undefined;
}

function conditions() {
  const of = {};
  for (const field of form.querySelectorAll('[name^="condition:"]')) {
    if (field.value.trim() === "") continue;
    const name = field.name.slice("condition:".length);
    of[name] = measured(field.value, form.querySelector(`[name="condition-unit:${name}"]`).value, false);
  }
  // A page that was kept knows what was confirmed by its address alone.
  const said = [...form.querySelectorAll('[name="confirmed"]')].map((field) => field.value);
  of.confirmed = [...new Set([...said, ...new URLSearchParams(location.search).getAll("confirmed")])].sort();
  return of;
}

/** Readings, what was left out and why, and what is wrong, by step. */
function answers() {
  const of = { readings: [], not_tested: {}, faults: new Map() };
  for (const section of form.querySelectorAll('section[id^="step-"]')) {
    const key = section.id.slice("step-".length);
    const why = section.querySelector(`[name="${CSS.escape(`why:${key}`)}"]`)?.value.trim() ?? "";
    try {
      const read = reading(section, key);
      if (read !== undefined && why !== "") throw new Fault(words.readAndSkipped);
      if (read !== undefined) of.readings.push(read);
      else if (why !== "") of.not_tested[key] = why;
      else if (section.dataset.optional === undefined) throw new Fault(words.missing);
    } catch (error) {
      if (!(error instanceof Fault)) throw error;
      of.faults.set(key, error.message);
    }
  }
  try {
    of.conditions = conditions();
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    of.faults.set("", error.message);
  }
  return of;
}

/** Says beside its step what is wrong, and leads to the first. */
function tell(faults) {
  for (const old of form.querySelectorAll("[data-told]")) old.remove();
  let first;
  for (const [key, detail] of faults) {
    const place = document.getElementById(`step-${key}`) ?? form;
    const told = document.createElement("div");
    told.className = "refusal";
    told.dataset.told = "";
    told.setAttribute("role", "alert");
    told.append(Object.assign(document.createElement("p"), { textContent: detail }));
    if (place === form) form.prepend(told);
    else place.querySelector("h2").after(told);
    first ??= told;
  }
  first?.scrollIntoView({ block: "center", behavior: "instant" });
}

/** Beside the step of the reading that a fault points at. */
function byStep(faults, run) {
  const of = new Map();
  for (const { pointer, detail } of faults) {
    const index = /^\/readings\/(\d+)/.exec(pointer)?.[1];
    const key = run.readings[Number(index)]?.step ?? /^\/not_tested\/([^/]+)/.exec(pointer)?.[1] ?? "";
    of.set(key, of.has(key) ? `${of.get(key)} ${detail}` : detail);
  }
  return of;
}

async function take(known) {
  const { readings, not_tested, conditions, faults } = answers();
  if (faults.size > 0) return tell(faults);
  const of = known.visits[visit];
  const now = Date.now();
  const { name, sequence } = await device();
  const run = {
    id: newId(now),
    appliance_id: of.appliance,
    work_order_id: of.order,
    visit_id: visit,
    procedure: { key: procedure, version: Number(form.elements.version.value) },
    phase: of.phase,
    device_id: name,
    sequence,
    taken_at: new Date(now).toISOString(),
    conditions,
    readings,
    not_tested,
  };
  if (form.dataset.defeats !== undefined && of.interlock_defeat !== null) run.interlock_defeat_id = of.interlock_defeat;
  const unchecked = new Promise((resolve) => setTimeout(() => resolve({ violations: [] }), CHECKED_MS));
  const { violations } = await Promise.race([checkRun(known, visit, run), unchecked]);
  if (violations.length > 0) return tell(byStep(violations, run));
  const title = document.querySelector("h1").textContent;
  await putEntry({ id: run.id, sequence, visit, person: known.person, title, run });
  const { results } = await send();
  const refused = results.find((result) => result.id === run.id && result.status === "rejected");
  if (refused !== undefined) {
    // Whoever took it stands here and puts it right: it is not kept as it was.
    await dropEntry(run.id);
    const errors = refused.problem?.errors ?? [{ pointer: "", detail: refused.problem?.detail ?? "" }];
    return tell(byStep(errors.map(({ pointer, detail }) => ({ pointer: pointer ?? "", detail })), run));
  }
  location.assign(`/day/${visit}/runs/${run.id}`);
}

if (form !== null && "indexedDB" in globalThis && navigator.serviceWorker?.controller) {
  let isUnderWay = false;
  day().then((known) => known !== undefined && warm(known, visit)).catch(() => {});
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (isUnderWay) return;
    isUnderWay = true;
    try {
      const known = await day();
      const isKept = known?.visits[visit]?.appliance;
      if (isKept) await take(known);
      else form.submit();
    } catch (error) {
      tell(new Map([["", `${words.notKept} ${error}`]]));
    } finally {
      isUnderWay = false;
    }
  });
}
