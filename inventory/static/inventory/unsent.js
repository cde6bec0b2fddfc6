/* On every page: what a walk left unsent on this device goes out, and nobody signs out without knowing of it. */

import { forgetAnswers, waiting } from "./walk_store.js";
import { waitingOf } from "./pieces.js";
import { start } from "./walk_send.js";

const some = (count, thing) => count && `${count} ${thing}${count === 1 ? "" : "s"}`;
const leaving = document.querySelector("form.leave");

async function leave() {
  const answers = (await waiting()).filter((tap) => tap.user === Number(leaving.dataset.user)).length;
  const files = (await waitingOf(leaving.dataset.user)).length;
  const count = answers + files;
  const what = [some(answers, "answer"), some(files, "file")].filter(Boolean).join(" and ");
  const said = `${what} ${count === 1 ? "is" : "are"} not sent yet. They stay on this device, and are sent when you sign in on it again. Sign out?`;
  if (count && !window.confirm(said)) return;
  await forgetAnswers();
  if ("caches" in window) {
    for (const name of await caches.keys()) if (name.startsWith("inventory-walk")) await caches.delete(name);
  }
  leaving.submit();
}

leaving.addEventListener("submit", (event) => {
  event.preventDefault();
  leave().catch(() => leaving.submit()); // a browser that keeps nothing has nothing to lose
});

if ((await waiting()).length) start(leaving.querySelector("[name=csrfmiddlewaretoken]").value);
