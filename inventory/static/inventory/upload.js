// The forms that send photos and clips: a lost signal, a closed page or a reload loses nothing and doubles nothing.
// Only the person who chose a file sends it. Without this script the form of the photos still works by itself.

import { Refusal, ask, forget, keep, send, sha256, waitingOf } from "./pieces.js";
import { filesOf, offerShots, shotsOf, stepOn } from "./shots.js";

const forms = [...document.querySelectorAll("form[data-uploads]")];
const list = document.querySelector("[data-waiting]");
const told = document.querySelector("[data-files-told]");
const { uploads: address, user } = forms[0]?.dataset ?? {};
const lines = new Map();

function button(label, act) {
  const made = Object.assign(document.createElement("button"), { type: "button", className: "second", textContent: label });
  made.addEventListener("click", act);
  return made;
}

function show(entry, text, received) {
  if (!lines.has(entry.client_key)) {
    const line = list.appendChild(document.createElement("li"));
    const bar = Object.assign(document.createElement("progress"), { max: entry.file.size || 1, value: 0 });
    bar.setAttribute("aria-label", entry.name);
    line.append(Object.assign(document.createElement("span"), { textContent: entry.name }), bar, document.createElement("small"));
    lines.set(entry.client_key, line);
  }
  const line = lines.get(entry.client_key);
  if (received !== undefined) line.querySelector("progress").value = received;
  line.querySelector("small").textContent = text || `${Math.floor((100 * (received ?? 0)) / (entry.file.size || 1))} %`;
  line.querySelectorAll("button").forEach((old) => old.remove());
  return line;
}

function showRefused(entry) {
  const line = show(entry, entry.refused.message);
  if (entry.refused.code === "place_in_clip") {
    line.append(button("Keep it internal", () => keep({ ...entry, public: false, refused: null }).then(run)));
  }
  line.append(button("Try again", () => keep({ ...entry, refused: null }).then(run)));
  line.append(button("Forget it", async () => {
    if (entry.code) await ask("DELETE", `${address}${entry.code}/`, { waiting: (text) => show(entry, text) });
    await forget(entry);
    line.remove();
  }));
}

// One page at a time sends, so that two open pages do not send the same piece.
const run = () => navigator.locks.request("uploads", async () => {
  let kept = 0;
  for (let [entry] = await next(); entry; [entry] = await next()) {
    try {
      await send(entry, { address, show });
      kept += 1;
    } catch (problem) {
      if (!(problem instanceof Refusal)) throw problem;
      if (problem.code === "signed_out") { show(entry, problem.message); break; }
      const { code } = (await waitingOf(user)).find((one) => one.client_key === entry.client_key) ?? {};
      await keep({ ...entry, code, refused: { message: problem.message, code: problem.code } });
    }
  }
  (await waitingOf(user)).filter((entry) => entry.refused).forEach(showRefused);
  if (kept) await refresh(kept);
});
const next = async () => (await waitingOf(user)).filter((entry) => !entry.refused);

async function refresh(kept) {
  told.textContent = kept === 1 ? "1 file is kept." : `${kept} files are kept.`;
  const answer = await fetch(location.href).catch(() => null);
  if (!answer?.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  document.querySelectorAll("[data-shown]").forEach((part) => {
    const fresh = page.querySelector(`[data-shown=${part.dataset.shown}]`);
    if (fresh) part.replaceWith(fresh);
  });
}

async function choose(event) {
  event.preventDefault();
  const form = event.target;
  const { kind, stock } = form.dataset;
  const files = filesOf(form);
  const shots = shotsOf(form);
  const given = Object.fromEntries(new FormData(form));
  const said = Object.fromEntries(["station", "check_code", "shot", "clip_kind", "caption"].map((name) => [name, given[name] ?? ""]));
  if (!files.length) { told.textContent = "Choose at least one file."; return; }
  try {
    for (const [place, file] of files.entries()) {
      await keep({
        ...said, ...(shots && { shot: shots[place] ?? "" }), kind, stock_number: stock, name: file.name, file, sha256: await sha256(file), public: "public" in given,
        client_key: crypto.randomUUID(), user, chosen: performance.timeOrigin + performance.now(),
      });
    }
  } catch {
    told.textContent = "This device has no room to keep them until they are sent. Choose fewer at once.";
    return;
  }
  form.querySelectorAll("input[type=file]").forEach((input) => { input.value = ""; });
  if (shots) stepOn(form, shots);
  told.textContent = "";
  told.scrollIntoView({ block: "center" });
  run();
}

// A page kept on the device does not know of pictures that wait here: their shots are not missing any more.
async function onTheirWay() {
  const entries = await next();
  for (const form of forms) {
    const here = entries.filter((one) => one.stock_number === form.dataset.stock && one.station === form.elements.station?.value);
    const shots = here.map((one) => one.shot).filter(Boolean);
    if (shots.length) stepOn(form, shots);
  }
}

if (forms.length && crypto.subtle && "indexedDB" in window && navigator.locks) {
  forms.forEach((form) => form.addEventListener("submit", choose));
  forms.forEach(offerShots);
  onTheirWay();
  document.querySelectorAll("[data-needs-script]").forEach((part) => { part.hidden = !part.hidden; });
  run();
}
