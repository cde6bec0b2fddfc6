// Signatures drawn by finger, pen or mouse. A drawing is a list of strokes, each a list of [x, y] points on a
// field of 1000 × 400, kept in the hidden input beside the canvas: the page comes back with it after an error.
const WIDTH = 1000;
const HEIGHT = 400;
const MOST_STROKES = 60;
const MOST_POINTS = 4000;
const NEAR = 4; // closer points add nothing to the line

class Pad {
  constructor(root) {
    this.input = root.querySelector("input[type=hidden]");
    this.canvas = root.querySelector("canvas");
    this.strokes = stored(this.input.value);
    this.open = null;
    root.querySelector(".drawn").hidden = false;
    root.querySelector("[data-clear]").addEventListener("click", () => this.clear());
    this.canvas.addEventListener("pointerdown", (event) => this.begin(event));
    this.canvas.addEventListener("pointermove", (event) => this.go(event));
    for (const name of ["pointerup", "pointercancel", "lostpointercapture"]) {
      this.canvas.addEventListener(name, (event) => this.end(event));
    }
    new ResizeObserver(() => this.fit()).observe(this.canvas);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
    this.tell();
  }

  begin(event) {
    if (this.open !== null || event.button !== 0 || this.strokes.length >= MOST_STROKES) return;
    event.preventDefault();
    this.open = event.pointerId;
    this.canvas.setPointerCapture(event.pointerId);
    this.strokes.push([]);
    this.add(event);
  }

  go(event) {
    if (event.pointerId !== this.open) return;
    for (const between of event.getCoalescedEvents?.() ?? []) this.add(between);
    this.add(event);
  }

  end(event) {
    if (event.pointerId !== this.open) return;
    this.open = null;
    this.input.value = JSON.stringify(this.strokes);
    this.tell();
  }

  add(event) {
    const box = this.canvas.getBoundingClientRect();
    const x = within((event.clientX - box.left) / box.width, WIDTH);
    const y = within((event.clientY - box.top) / box.height, HEIGHT);
    const stroke = this.strokes.at(-1);
    const last = stroke.at(-1);
    if (last && Math.hypot(last[0] - x, last[1] - y) < NEAR) return;
    if (this.strokes.reduce((sum, one) => sum + one.length, 0) >= MOST_POINTS) return;
    stroke.push([x, y]);
    this.draw();
  }

  clear() {
    this.strokes = [];
    this.input.value = "";
    this.draw();
    this.tell();
  }

  fit() {
    const box = this.canvas.getBoundingClientRect();
    this.canvas.width = Math.round(box.width * devicePixelRatio);
    this.canvas.height = Math.round(box.height * devicePixelRatio);
    this.draw();
  }

  draw() {
    const pen = this.canvas.getContext("2d");
    pen.setTransform(this.canvas.width / WIDTH, 0, 0, this.canvas.height / HEIGHT, 0, 0);
    pen.clearRect(0, 0, WIDTH, HEIGHT);
    pen.strokeStyle = getComputedStyle(this.canvas).color;
    pen.lineWidth = 6;
    pen.lineCap = pen.lineJoin = "round";
    for (const stroke of this.strokes) {
      if (!stroke.length) continue;
      pen.beginPath();
      pen.moveTo(...stroke[0]);
      for (const point of stroke.length > 1 ? stroke.slice(1) : stroke) pen.lineTo(...point);
      pen.stroke();
    }
  }

  tell() {
    const drawn = this.strokes.length ? "drawn" : "nothing drawn yet";
    this.canvas.setAttribute(
      "aria-label",
      `${this.canvas.dataset.label}: ${drawn}. By keyboard, sign by typing the name, below.`,
    );
  }
}

function stored(text) {
  try {
    const strokes = JSON.parse(text);
    const isDrawing = Array.isArray(strokes) && strokes.every((stroke) => Array.isArray(stroke) && stroke.every(isPoint));
    return isDrawing ? strokes : [];
  } catch {
    return [];
  }
}

function isPoint(point) {
  return Array.isArray(point) && point.length === 2 && point.every(Number.isFinite);
}

function within(share, most) {
  return Math.min(most, Math.max(0, Math.round(share * most)));
}

for (const root of document.querySelectorAll("[data-pad]")) new Pad(root);
