/* Sends the taps that wait on this device, in their order; each is taken by the house exactly once. */

import { deviceName, setFact, settle, waiting } from "./walk_store.js";

const AT_ONCE = 50;
const EVERY_MS = 15000;
const PATIENCE_MS = 20000;
let csrf = "";
let running = null;
let again = false;
let started = false;

/** Why nothing goes out just now, in words; "" when all is well. */
export const state = { problem: "", listeners: new Set() };

function tell(answers = []) {
  for (const listener of state.listeners) listener(answers);
}

export function start(token) {
  csrf = token || csrf;
  if (started) return send();
  started = true;
  window.addEventListener("online", () => send());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
  setInterval(async () => (await waiting()).length && send(), EVERY_MS);
  return send();
}

/** Send what waits. Called while it runs, it runs once more. */
export function send() {
  if (running) {
    again = true;
    return running;
  }
  const work = async () => {
    do {
      again = false;
      await sendAll();
    } while (again);
  };
  const alone = navigator.locks ? navigator.locks.request("inventory-walk-send", work) : work();
  running = alone.finally(() => {
    running = null;
  });
  return running;
}

async function sendAll() {
  const blocked = new Set(); // a walk whose parcel failed waits for the next time
  state.problem = "";
  for (;;) {
    const taps = (await waiting()).filter((tap) => !blocked.has(tap.address));
    if (!taps.length) break;
    const first = taps[0];
    const parcel = taps.filter((tap) => tap.address === first.address && tap.user === first.user).slice(0, AT_ONCE);
    const answers = await post(parcel);
    if (answers) tell(answers);
    else blocked.add(first.address);
  }
  tell();
}

async function post(parcel, renewed = false) {
  const { address, user } = parcel[0];
  const body = JSON.stringify({
    device: await deviceName(),
    user,
    sent_at: new Date().toISOString(),
    taps: parcel.map(({ seq, stock, address: _, user: __, ...tap }) => tap),
  });
  let reply;
  try {
    reply = await fetch(address, {
      method: "POST",
      body,
      redirect: "manual",
      headers: { "Content-Type": "application/json", "X-CSRFToken": csrf },
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  } catch {
    state.problem = "No signal.";
    return null;
  }
  if (reply.status === 403 && !renewed && (await renewToken(address))) return post(parcel, true);
  return judge(reply, parcel);
}

async function judge(reply, parcel) {
  if (reply.type === "opaqueredirect") return stop("You are signed out: sign in, and they are sent.");
  if (reply.status === 403) return stop("You may not send them: sign in as whoever made them.");
  const said = await reply.json().catch(() => null);
  if (reply.status === 409) return stop(said?.problem || "The house does not take them now.");
  if (!reply.ok || !said) return stop(`The house could not take them (${reply.status}).`);
  await setFact("offset", Date.parse(said.now) - Date.now()); // how wrong this device's clock is
  const fates = new Map(said.answers.map((answer) => [answer.key, answer]));
  const answered = parcel.filter((tap) => fates.has(tap.key));
  const problems = answered
    .filter((tap) => ["refused", "kept"].includes(fates.get(tap.key).fate))
    .map((tap) => ({ ...tap, told: fates.get(tap.key).told }));
  await settle(answered, problems);
  return answered.map((tap) => ({ ...tap, ...fates.get(tap.key) }));
}

function stop(problem) {
  state.problem = problem;
  return null;
}

/** After signing in anew the page's token is old. The house gives a new one to whoever is signed in. */
async function renewToken(address) {
  try {
    const reply = await fetch(address, { redirect: "manual", headers: { Accept: "application/json" } });
    if (!reply.ok) return false;
    csrf = (await reply.json()).csrf;
    return true;
  } catch {
    return false;
  }
}
