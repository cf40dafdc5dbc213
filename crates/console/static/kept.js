// What this phone keeps: the day as the service gave it, readings on their way, and the phone's own name.

const NAME = "ovenwright";
const VERSION = 1;

const asked = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

let opened;
const database = () => {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("day");
      request.result.createObjectStore("device");
      request.result.createObjectStore("outbox", { keyPath: "id" });
    };
    request.onsuccess = () => {
      // Another page wants to put it in another form, or to take it away: it is not held back.
      request.result.onversionchange = () => request.result.close();
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("another page holds what is kept"));
  });
  return opened;
};

/** Carries out `work` with a store, and comes back once it is on the disk. */
async function within(store, mode, work) {
  // Strict: what is shown as taken outlives a battery that is pulled.
  const transaction = (await database()).transaction(store, mode, { durability: "strict" });
  const done = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = () => reject(transaction.error);
  });
  const result = await work(transaction.objectStore(store));
  await done;
  return result;
}

export const day = () => within("day", "readonly", (store) => asked(store.get("day")));
export const keepDay = (of) => within("day", "readwrite", (store) => asked(store.put(of, "day")));
export const forgetDay = () => within("day", "readwrite", (store) => asked(store.clear()));

export const entries = () => within("outbox", "readonly", (store) => asked(store.getAll()));
export const putEntry = (of) => within("outbox", "readwrite", (store) => asked(store.put(of)));
export const dropEntry = (id) => within("outbox", "readwrite", (store) => asked(store.delete(id)));

/** The phone's own name and the next number on it. */
export const device = () =>
  within("device", "readwrite", async (store) => {
    const name = (await asked(store.get("name"))) ?? `phone-${newId(Date.now())}`;
    const sequence = ((await asked(store.get("sequence"))) ?? 0) + 1;
    await asked(store.put(name, "name"));
    await asked(store.put(sequence, "sequence"));
    return { name, sequence };
  });

/** A UUID of version 7 (RFC 9562): milliseconds, then chance. */
export function newId(now) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let at = 0; at < 6; at += 1) bytes[at] = Math.floor(now / 2 ** (8 * (5 - at))) % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const text = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return text.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}
