// Readings on their way. An entry lies on the phone before it is shown as taken, goes out in the order in which it was taken,
// under an id of its own as often as need be, and is gone only when the service says that it has it.
import { day, dropEntry, entries, putEntry } from "./kept.js";

const AT_ONCE = 200;
const PATIENCE_MS = 20_000;

/** What waits, and what was refused; somebody else's is left alone. */
export async function waiting() {
  const person = (await day())?.person;
  const own = (await entries()).filter((of) => of.person === person);
  return own.sort((one, other) => one.sequence - other.sequence);
}

/**
 * Sends what waits. One page at a time: the others find nothing left. Says whether the service was reached, and what it made
 * of each.
 */
export async function send() {
  const work = async () => {
    const results = [];
    for (;;) {
      const batch = (await waiting()).filter((of) => of.refused === undefined).slice(0, AT_ONCE);
      if (batch.length === 0) return { reached: true, results };
      const answered = await post(batch);
      if (answered === undefined) return { reached: false, results };
      for (const [at, result] of answered.entries()) {
        const of = batch[at];
        results.push({ ...result, id: of.id });
        if (result.status === "rejected") await putEntry({ ...of, refused: refusal(result.problem) });
        else await dropEntry(of.id);
      }
    }
  };
  return navigator.locks === undefined ? work() : navigator.locks.request("ovenwright-outbox", work);
}

/** Undefined where nobody answered, or nobody who could say what became of them. */
async function post(batch) {
  try {
    const answer = await fetch("/v1/test-runs", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ sent_at: new Date().toISOString(), runs: batch.map((of) => of.run) }),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    if (!answer.ok) return undefined;
    const { items } = await answer.json();
    return items.length === batch.length ? items : undefined;
  } catch {
    return undefined;
  }
}

/** Why it was not kept, as sentences; a clock that is wrong is put right and needs no new reading. */
function refusal(problem) {
  const faults = problem?.errors ?? [];
  return {
    faults: faults.map((fault) => ({ pointer: fault.pointer ?? "", detail: fault.detail })),
    sentence: faults.length > 0 ? faults.map((fault) => fault.detail).join("; ") : (problem?.detail ?? ""),
  };
}

/** Sent again after somebody has put right what was wrong. */
export async function again(id) {
  const of = (await waiting()).find((one) => one.id === id);
  if (of === undefined) return;
  const { refused: _, ...rest } = of;
  await putEntry(rest);
}
