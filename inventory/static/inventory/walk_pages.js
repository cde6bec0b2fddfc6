/* The worker keeps the pages of this walk, so that they open without signal. */

const SCRIPTS = [
  "walk.js", "walk_check.js", "walk_pages.js", "walk_send.js", "walk_sign.js", "walk_store.js", "unsent.js",
  "upload.js", "pieces.js", "shots.js",
];

export async function keepPages(walk) {
  if (!("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register(walk.dataset.worker, { scope: "/" });
  navigator.serviceWorker.addEventListener("message", (event) => {
    const sign = walk.querySelector(".kept-pages");
    if (event.data.kind === "kept" && sign) sign.textContent = "All stations are kept on this device: it works without signal.";
  });
  const worker = (await navigator.serviceWorker.ready).active;
  const pages = [...walk.querySelectorAll("a[href*='/inspection/']")].map((link) => link.href);
  const files = [...document.querySelectorAll("link[rel=stylesheet], link[rel=icon]")].map((link) => link.href);
  const scripts = SCRIPTS.map((name) => new URL(name, import.meta.url).href);
  worker.postMessage({ kind: "keep", pages: [location.origin + location.pathname, ...pages], files: [...files, ...scripts], all: !walk.dataset.station });
}

