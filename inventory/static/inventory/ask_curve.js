// One ask of the curve at a time: a slider moves a marker in each panel and says what may come of the ask.
// Without a script the slider stays hidden, and the table below says all.
for (const curve of document.querySelectorAll("[data-curve]")) {
  const slider = curve.querySelector("[data-points]");
  const said = curve.querySelector("[data-said]");
  const markers = [...curve.querySelectorAll("[data-marker]")];
  const points = JSON.parse(slider.dataset.points);

  const show = () => {
    const point = points[Number(slider.value)];
    slider.setAttribute("aria-valuetext", point.ask);
    said.textContent = point.said;
    markers.forEach((marker, place) => {
      const [x, y] = point.at[place];
      const line = marker.querySelector("line");
      line.setAttribute("x1", x);
      line.setAttribute("x2", x);
      const circle = marker.querySelector("circle");
      circle.setAttribute("cx", x);
      circle.setAttribute("cy", y);
      marker.setAttribute("visibility", "visible");
    });
  };

  slider.addEventListener("input", show);
  curve.querySelector("[data-slide]").hidden = false;
  show();
}
