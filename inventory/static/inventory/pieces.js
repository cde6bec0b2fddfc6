// A file on its way: what waits is kept in this browser, and sent in pieces until the lot has every byte.

const PIECE = 1024 * 1024;
const LONGEST_PAUSE = 30_000;

export class Refusal extends Error {
  constructor(message, code) {
    super(message);
    this.code = code;
  }
}

function store(mode, act) {
  return new Promise((done, fail) => {
    const opening = indexedDB.open("uploads", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("waiting", { keyPath: "client_key" });
    opening.onerror = () => fail(opening.error);
    opening.onsuccess = () => {
      const deed = opening.result.transaction("waiting", mode);
      const asked = act(deed.objectStore("waiting"));
      deed.oncomplete = () => { opening.result.close(); done(asked.result); };
      deed.onabort = () => { opening.result.close(); fail(deed.error); };
    };
  });
}

export const keep = (entry) => store("readwrite", (waiting) => waiting.put(entry));
export const forget = (entry) => store("readwrite", (waiting) => waiting.delete(entry.client_key));
export const waitingOf = async (user) => (await store("readonly", (waiting) => waiting.getAll()))
  .filter((entry) => entry.user === user).sort((one, other) => one.chosen - other.chosen);

export async function sha256(file) {
  const digest = await crypto.subtle.digest("SHA-256", await file.arrayBuffer());
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function pause(tries) {
  return new Promise((done) => {
    const timer = setTimeout(done, Math.min(LONGEST_PAUSE, 1000 * 2 ** tries));
    addEventListener("online", () => { clearTimeout(timer); done(); }, { once: true });
  });
}

// One request until it is answered: no signal and a server that is away are waited for, a refusal is not.
export async function ask(method, url, { body, waiting }) {
  const token = document.querySelector("[name=csrfmiddlewaretoken]").value;
  const type = typeof body === "string" ? "application/json" : "application/octet-stream";
  for (let tries = 0; ; tries += 1) {
    const answer = await fetch(url, {
      method, body, redirect: "manual", headers: { "X-CSRFToken": token, "Content-Type": type },
    }).catch(() => null);
    if (answer?.type === "opaqueredirect" || answer?.status === 403) {
      throw new Refusal("You are signed out, or may not add to this file. Sign in, and it goes on.", "signed_out");
    }
    if (answer && answer.status < 500 && answer.status !== 429) return answer;
    waiting("no connection, trying again");
    await pause(tries);
  }
}

async function announce(entry, { address, show }) {
  const { file, user: _, chosen, refused, code, ...said } = entry;
  const answer = await ask("POST", address, {
    body: JSON.stringify({ ...said, bytes: file.size }), waiting: (text) => show(entry, text),
  });
  const body = await answer.json().catch(() => ({ message: "This vehicle is not there any more." }));
  if (!answer.ok) throw new Refusal(body.message, body.code);
  await keep({ ...entry, code: body.code });
  return body;
}

export async function send(entry, { address, show }) {
  let state = await announce(entry, { address, show });
  while (!state.finished) {
    show(entry, "", state.received);
    const piece = entry.file.slice(state.received, state.received + PIECE);
    const answer = await ask("PUT", `${address}${state.code}/?offset=${state.received}`, {
      body: piece, waiting: (text) => show(entry, text, state.received),
    });
    const body = await answer.json().catch(() => ({}));
    if (answer.ok) state = body;
    else if (answer.status === 409 && "received" in body) state.received = body.received;
    else if (answer.status === 409 || answer.status === 404) state = await announce(entry, { address, show });
    else throw new Refusal(body.message, body.code);
  }
  await forget(entry);
  show(entry, "kept", entry.file.size);
}
