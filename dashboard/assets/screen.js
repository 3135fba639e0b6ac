"use strict";
/* The screen: awake while something runs, full by touch, the time axis as long as wanted. */
(() => {
  const { cookie, fresh, release } = window.curewatch;
  const root = document.documentElement;

  let lock = null, running = false;
  async function awake() {
    if (!navigator.wakeLock || document.hidden) return;
    try {
      if (running && !lock) {
        lock = await navigator.wakeLock.request("screen");
        lock.addEventListener("release", () => { lock = null; });
      } else if (!running && lock) await lock.release();
    } catch { lock = null; }
  }
  document.addEventListener("state", (event) => { running = event.detail.running; awake(); });

  function full(button) {
    if (!root.requestFullscreen) { button.hidden = true; return; }
    const label = () => {
      const held = Boolean(document.fullscreenElement);
      button.textContent = held ? "Window" : "Full screen";
      button.setAttribute("aria-pressed", held);
    };
    button.addEventListener("click", () => {
      if (document.fullscreenElement) document.exitFullscreen(); else root.requestFullscreen();
    });
    document.addEventListener("fullscreenchange", label);
  }
  full(document.getElementById("full"));

  /* the axis: as needed, 1 h, 6 h, 24 h, 3 days */
  const SPANS = [["", "auto"], ["60", "1 h"], ["360", "6 h"], ["1440", "24 h"], ["4320", "3 days"]];
  function axis(button) {
    const kept = () => (document.cookie.match(/(?:^|; )span=(\d*)/) || [])[1] || "";
    const label = () => {
      const name = (SPANS.find(([span]) => span === kept()) || SPANS[0])[1];
      button.querySelector("small").textContent = name;
      button.setAttribute("aria-label", `Length of the time axis: ${name === "auto" ? "as needed" : name}`);
    };
    button.addEventListener("click", () => {
      const place = SPANS.findIndex(([span]) => span === kept());
      cookie("span", SPANS[(place + 1) % SPANS.length][0]);
      label();
      release();
      fresh();
    });
    label();
  }
  const button = document.getElementById("axis");
  if (button) axis(button);
})();
