"use strict";
/* The screen: awake while something runs, full by touch. */
(() => {
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
})();
