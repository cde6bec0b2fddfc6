/* The plain sign of what this device has not sent yet, and of what the house did not take. */

import { waitingOf } from "./pieces.js";
import { dismiss, refused, waiting } from "./walk_store.js";
import { state } from "./walk_send.js";

/** Returns what brings the sign up to date. */
export function signIn(sign, user) {
  async function show() {
    const taps = await waiting();
    const mine = taps.filter((one) => one.user === user).length;
    const lines = [];
    if (mine) lines.push(`${mine} ${mine === 1 ? "answer is" : "answers are"} kept on this device and not sent yet. ${state.problem}`);
    if (taps.length > mine) lines.push(`${taps.length - mine} more wait for whoever made them to sign in on this device.`);
    const files = (await waitingOf(String(user))).length;
    if (files) lines.push(`${files} ${files === 1 ? "file is" : "files are"} kept on this device and not sent yet: they go out from a station or from the file.`);
    const bad = await refused();
    sign.hidden = !lines.length && !bad.length;
    sign.replaceChildren(...lines.map(line), ...bad.map((one) => badLine(one, show)));
  }
  return show;
}

function line(text) {
  const row = document.createElement("span");
  row.textContent = text;
  return row;
}

function badLine(one, show) {
  const row = line(`${one.stock}, ${one.check_code || one.station}: ${one.told} `);
  const button = document.createElement("button");
  button.type = "button";
  button.className = "plain";
  button.textContent = "I have read it";
  button.addEventListener("click", async () => {
    await dismiss(one.key);
    await show();
  });
  row.append(button);
  return row;
}
