/* On every page: what a walk left unsent on this device goes out, and nobody signs out without knowing of it. */

import { forgetAnswers, waiting } from "./walk_store.js";
import { start } from "./walk_send.js";

const leaving = document.querySelector("form.leave");

async function leave() {
  const count = (await waiting()).filter((tap) => tap.user === Number(leaving.dataset.user)).length;
  const said = `${count} ${count === 1 ? "answer is" : "answers are"} not sent yet. They stay on this device, and are sent when you sign in on it again. Sign out?`;
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
