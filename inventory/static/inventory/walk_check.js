/* One check on the page: what it says now, what is wrong with that, and how it is filled from what was kept. */

const part = (check, name) => check.querySelector(`[name="${CSS.escape(check.dataset.check)}-${name}"]`);
export const answerOf = (check) => check.querySelector("input[type=radio]:checked")?.value || "";

export function saidOf(check) {
  const answer = answerOf(check);
  const number = (name) => part(check, name)?.value.trim().replace(",", ".") || null;
  const unseen = answer === "not_seen";
  return {
    check_code: check.dataset.check,
    answer,
    basis: unseen ? "not_established" : part(check, "basis").value || check.dataset.presumed,
    reading: unseen ? null : number("reading"),
    compared_with: unseen ? null : number("compared_with"),
    note: part(check, "note").value.trim(),
  };
}

/** Whether nothing was measured or compared here: a figure that waits for its grade is not thrown away. */
export const isBare = (check) => !part(check, "reading")?.value.trim() && !part(check, "compared_with")?.value.trim();

const isNumber = (text) => text === null || /^-?\d{0,7}(\.\d{0,3})?$/.test(text) && /\d/.test(text);

export function wrong(said) {
  if (!isNumber(said.reading)) return "The reading must be a number, such as 4 or 2.5.";
  if (!isNumber(said.compared_with)) return "The figure must be a number, such as 11.03.";
  return "";
}

/** A reading beyond its published limit, as far as this device can tell; the house's own words come when it is sent. */
export function warn(check, said) {
  const { side, figure } = check.dataset;
  const reading = Number(said.reading);
  const isBeyond = side && said.reading !== null && (
    side === "below" ? reading < Number(figure) : side === "above" ? reading > Number(figure) : reading >= Number(figure)
  );
  flag(check, isBeyond ? `Beyond its limit. ${check.querySelector(".limit").textContent}` : "");
}

export function flag(check, message) {
  const sign = check.querySelector(".flagged");
  sign.hidden = !message;
  sign.textContent = message && `Safety flag. ${message}`;
}

export function fill(check, one) {
  const radio = one.answer && check.querySelector(`input[type=radio][value="${CSS.escape(one.answer)}"]`);
  if (radio) radio.checked = true;
  for (const name of ["reading", "compared_with", "note"]) {
    if (part(check, name) && one[name]) part(check, name).value = one[name];
  }
  if (one.basis && one.basis !== "not_established") part(check, "basis").value = one.basis;
  if (one.note) check.querySelector("details").open = true;
}

