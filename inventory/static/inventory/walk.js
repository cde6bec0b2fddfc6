/* The walk on a device: every tap is kept at once, shown as kept, and sent when there is a signal. */

import { answersOf, fact, keep, keepDraft, newKey, waiting } from "./walk_store.js";
import { answerOf, fill, flag, isBare, saidOf, warn, wrong } from "./walk_check.js";
import { keepPages } from "./walk_pages.js";
import { signIn } from "./walk_sign.js";
import { send, start, state } from "./walk_send.js";

const walk = document.querySelector("[data-walk]");
const { stock, inspection, station } = walk.dataset;
const user = Number(walk.dataset.user);
const token = document.querySelector("[name=csrfmiddlewaretoken]")?.value;
const show = signIn(walk.querySelector(".unsent"), user);
const KEPT = "Kept on this device.";
const DRAFT = "Kept on this device. Choose a grade, or say why there is none.";
let tapping = true;
const checks = [...walk.querySelectorAll("[data-check]")];

const say = (check, text) => {
  check.querySelector(".kept").textContent = text;
};

function tap(said) {
  return {
    key: newKey(), stock, user, address: walk.dataset.send, inspection: Number(inspection),
    made_at: new Date().toISOString(), ...said,
  };
}

async function changed(check) {
  const said = saidOf(check);
  const problem = wrong(said);
  if (!problem) warn(check, said);
  if (problem || !said.answer) {
    await keepDraft(tap(said));
    say(check, problem || DRAFT);
    return;
  }
  try {
    await keep([tap(said)]);
    say(check, KEPT);
  } catch {
    say(check, "This device keeps nothing: use the button at the foot of the page.");
    byForm(true);
    return;
  }
  await show();
  send();
}

/* One tap for many. The same rules as the house's: grades by eyes only, what has an answer is left alone, and what has
   a reading was seen. */
async function rest(kind) {
  const known = kind === "other_side" ? await otherSide() : null;
  const taps = [];
  for (const check of checks) {
    if (answerOf(check) || !(kind === "not_seen" ? isBare(check) : "byEye" in check.dataset)) continue;
    const answer = known ? known.get(check.dataset.twin) : kind === "not_seen" ? "not_seen" : "4";
    if (!answer) continue;
    check.querySelector(`input[type=radio][value="${answer}"]`).checked = true;
    taps.push(tap({ ...saidOf(check), basis: answer === "not_seen" ? "not_established" : "seen" }));
  }
  if (taps.length) await keep(taps);
  for (const one of taps) say(document.getElementById(one.check_code), KEPT);
  tellRest(kind, taps.length);
  await show();
  send();
}

const WHAT = { other_side: "graded as on the other side", no_fault: "graded no fault", not_seen: "said to be not seen" };

function tellRest(kind, count) {
  const left = checks.filter((check) => !answerOf(check)).length;
  walk.querySelector(".rest-told").textContent =
    `${count} ${WHAT[kind]}; ${left} left open.` + (kind === "other_side" && !count ? " Nothing was seen there yet." : "");
}

/** What was seen on the other side: by this device, else as the house said when the page was made. */
async function otherSide() {
  const said = JSON.parse(walk.querySelector("[data-other-side]")?.dataset.otherSide || "{}");
  const known = new Map(Object.entries(said));
  for (const [code, one] of await answersOf(stock, inspection)) {
    if (one.draft || one.answer === "not_seen") known.delete(code);
    else if (["seen", "measured"].includes(one.basis)) known.set(code, one.answer);
    else known.delete(code);
  }
  return known;
}

/* A page kept on the device may be older than what was tapped on it since. What the house knows and was told later
   by somebody else stands; what this device has not sent yet stands in any case. */
async function overlay() {
  const unsent = new Set((await waiting()).map((one) => one.key));
  const offset = await fact("offset", 0);
  for (const [code, one] of await answersOf(stock, inspection)) {
    const check = checks.find((candidate) => candidate.dataset.check === code);
    const told = Date.parse(one.made_at) + offset;
    if (!check || (!unsent.has(one.key) && told <= Number(check.dataset.told))) continue;
    fill(check, one);
    say(check, one.draft ? DRAFT : unsent.has(one.key) ? KEPT : "Sent.");
  }
}

function answered(answers) {
  for (const one of answers) {
    const check = one.check_code && document.getElementById(one.check_code);
    if (!check || one.stock !== stock) continue;
    if (one.fate === "counts") flag(check, one.flag || "");
    say(check, one.told || `Sent, ${new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}.`);
  }
  show();
}

function listen() {
  for (const check of checks) check.addEventListener("change", () => changed(check));
  for (const button of walk.querySelectorAll("[data-rest]")) {
    button.addEventListener("click", (event) => {
      event.preventDefault();
      rest(button.dataset.rest);
    });
  }
  for (const radio of walk.querySelectorAll("input[name=engine]")) {
    radio.addEventListener("change", async () => {
      await keep([tap({ station, engine: radio.value })]);
      await show();
      send();
    });
  }
  byForm(false);
  walk.querySelector("form")?.addEventListener("submit", (event) => tapping && event.preventDefault());
}

/* Each tap is kept by itself, unless the device cannot keep anything: then the form is sent as a whole. */
function byForm(whole) {
  tapping = !whole;
  for (const save of walk.querySelectorAll("[data-save]")) save.hidden = !whole;
  for (const next of walk.querySelectorAll("[data-next]")) next.hidden = whole;
}

state.listeners.add(answered);
if (checks.length || station) listen();
await overlay();
await show();
document.documentElement.dataset.walkReady = "yes";
start(token);
keepPages(walk);
