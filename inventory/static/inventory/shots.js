// Which shot each picture answers: told before anything is kept, a line for each picture, and each line can be changed.

const selectOf = (form) => form.querySelector("select[name=shot]");
const linesOf = (form) => form.querySelector("[data-each-shot]");
const missing = (select) => [...select.options].filter((option) => "missing" in option.dataset).map((option) => option.value);

/** The chosen files; where each may answer a shot of its own, in the order in which they were taken. */
export function filesOf(form) {
  const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
  return selectOf(form) ? files.sort((one, other) => one.lastModified - other.lastModified) : files;
}

/** The shot of each file, in their order; null where the form asks for none. */
export function shotsOf(form) {
  const select = selectOf(form);
  if (!select) return null;
  const lines = [...linesOf(form).querySelectorAll("select")].map((one) => one.value);
  return lines.length ? lines : [select.value];
}

/** Several pictures at once: the shots that are still missing, in order from the one that is chosen. */
export function offerShots(form) {
  if (selectOf(form)) form.addEventListener("change", (event) => event.target.type === "file" && lay(form));
}

function lay(form) {
  const [select, lines, files] = [selectOf(form), linesOf(form), filesOf(form)];
  const several = files.length > 1;
  const wanted = missing(select);
  const first = wanted.indexOf(select.value);
  select.closest(".field").hidden = several;
  lines.hidden = !several;
  lines.querySelector("ol").replaceChildren(...(several ? files : []).map((file, place) =>
    line(file, select, first < 0 ? select.value : wanted[first + place] ?? "", place)));
  if (several) draw(files, [...lines.querySelectorAll("canvas")]);
}

function line(file, select, shot, place) {
  const own = select.cloneNode(true);
  Object.assign(own, { id: `${select.id}_${place}`, value: shot });
  own.removeAttribute("name");
  const label = Object.assign(document.createElement("label"), { htmlFor: own.id, textContent: file.name });
  const picture = Object.assign(document.createElement("canvas"), { width: 96, height: 72 });
  picture.setAttribute("aria-hidden", "true");
  const row = document.createElement("li");
  row.append(picture, label, own);
  return row;
}

// One after the other: a picture takes some 50 MB while it is read. What this browser cannot show has its name alone.
async function draw(files, pictures) {
  for (const [place, picture] of pictures.entries()) {
    if (!picture.isConnected) return; // others were chosen meanwhile
    const size = { resizeWidth: picture.width, resizeHeight: picture.height };
    const drawn = await createImageBitmap(files[place], size).catch(() => null);
    if (drawn) picture.getContext("2d").drawImage(drawn, 0, 0);
    drawn?.close();
  }
}

/** These shots are on their way: the form goes on with the next that is missing. */
export function stepOn(form, shots) {
  const select = selectOf(form);
  if (!select) return;
  for (const option of select.options) if (shots.includes(option.value)) delete option.dataset.missing;
  if (shots.some(Boolean)) select.value = missing(select)[0] ?? "";
  for (const name of ["check_code", "caption"]) form.elements[name].value = ""; // they were said of the last ones
  const titles = [...select.options].filter((option) => "missing" in option.dataset).map((option) => option.text);
  const wanted = form.parentElement.querySelector("[data-wanted]");
  if (wanted) wanted.textContent = titles.length ? `Wanted here: ${titles.join(" · ")}.` : "Every picture of the list is taken.";
  lay(form);
}
