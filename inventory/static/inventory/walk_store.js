/* What a device keeps of a walk: taps not yet sent, its own latest answers, and half-typed ones.
   Check values only: no names of people, no prices. */

const NAME = "inventory-walk";
const VERSION = 1;
let opening = null;

function open() {
  opening ||= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      const db = request.result;
      db.createObjectStore("taps", { keyPath: "seq", autoIncrement: true });
      db.createObjectStore("answers", { keyPath: "id" }); // one for each check of a walk
      db.createObjectStore("refused", { keyPath: "key" });
      db.createObjectStore("facts", { keyPath: "name" });
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opening;
}

async function within(stores, mode, deed) {
  const db = await open();
  return new Promise((resolve, reject) => {
    // strict: the tap is on the disk before the page says so
    const work = db.transaction(stores, mode, { durability: "strict" });
    let result;
    work.oncomplete = () => resolve(result?.result ?? result);
    work.onabort = work.onerror = () => reject(work.error);
    result = deed(...stores.map((store) => work.objectStore(store)));
  });
}

const idOf = (tap) => [tap.stock, tap.inspection, tap.check_code].join("/");

/** Keep taps, and what they say as the latest answers, all or none. */
export function keep(taps) {
  return within(["taps", "answers"], "readwrite", (queue, answers) => {
    for (const tap of taps) {
      queue.add(tap);
      if (tap.check_code) answers.put({ ...tap, id: idOf(tap), draft: false });
    }
  });
}

/** Keep what is typed of a check that has no answer yet: it is not a tap, and is shown again. */
export function keepDraft(tap) {
  return within(["answers"], "readwrite", (answers) => answers.put({ ...tap, id: idOf(tap), draft: true }));
}

export const waiting = () => within(["taps"], "readonly", (queue) => queue.getAll());
export const refused = () => within(["refused"], "readonly", (store) => store.getAll());
export const dismiss = (key) => within(["refused"], "readwrite", (store) => store.delete(key));

/** The latest answers this device gave in one walk, by check. */
export async function answersOf(stock, inspection) {
  const all = await within(["answers"], "readonly", (store) => store.getAll());
  return new Map(
    all.filter((one) => one.stock === stock && String(one.inspection) === String(inspection)).map((one) => [one.check_code, one]),
  );
}

/** Taps that the house has answered leave the queue; what it refused is kept apart, to be read. */
export function settle(taps, problems) {
  return within(["taps", "refused"], "readwrite", (queue, store) => {
    for (const tap of taps) queue.delete(tap.seq);
    for (const problem of problems) store.put(problem);
  });
}

/** At sign-out: everything but what is still unsent. */
export function forgetAnswers() {
  return within(["answers"], "readwrite", (store) => store.clear());
}

export async function fact(name, otherwise) {
  const row = await within(["facts"], "readonly", (store) => store.get(name));
  return row?.value ?? otherwise;
}

export const setFact = (name, value) => within(["facts"], "readwrite", (store) => store.put({ name, value }));

export function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16)); // without HTTPS there is no randomUUID
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

export async function deviceName() {
  const known = await fact("device", "");
  if (known) return known;
  const name = newKey();
  await setFact("device", name);
  return name;
}
