// One more empty line of a list. Without script the page has a few empty ones already.
for (const list of document.querySelectorAll("[data-lines]")) {
  const total = list.querySelector(`[name=${list.dataset.lines}-TOTAL_FORMS]`);
  const button = list.querySelector("[data-add]");
  const most = Number(list.dataset.most);

  const offer = () => {
    button.hidden = Number(total.value) >= most;
  };

  button.addEventListener("click", () => {
    const place = Number(total.value);
    const html = list.querySelector("template").innerHTML;
    const lines = list.querySelector(".lines");
    const named = html.replaceAll("__prefix__", place).replaceAll("__number__", place + 1);
    lines.insertAdjacentHTML("beforeend", named);
    total.value = place + 1;
    lines.lastElementChild.querySelector("input").focus();
    offer();
  });
  offer();
}
