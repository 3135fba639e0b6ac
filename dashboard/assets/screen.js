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

  /* on a screen one question at a time, the most urgent first; the others by touch */
  const RANKS = [".wanted", ".first", ".while", ".open", ".dab", ".bare-asked", ".airing-line:has(form)", ".bare-line", ".airing-line"];
  const more = document.getElementById("more");
  let turn = 0, known = "";
  function asks() {
    const rank = (row) => RANKS.findIndex((name) => row.matches(name));
    const rows = [...document.querySelectorAll("#asks :is(.doing, .bare-asked, .bare-line)")].sort((one, other) => rank(one) - rank(other));
    const single = root.dataset.layout !== "phone";
    const tight = root.dataset.layout === "garage" && document.querySelector(".band.due");
    const open = rows.filter((row) => !tight || rank(row) <= 1);
    const told = open.map((row) => row.querySelector(".ask")?.textContent.replace(/\d+ (s|min|h)\b/g, "") ?? "").join();
    if (told !== known) turn = 0;
    known = told;
    for (const row of rows) row.classList.toggle("put-by", single && row !== open[turn % open.length]);
    more.hidden = !single || open.length < 2;
    more.textContent = `${open.length - 1} more`;
    more.setAttribute("aria-label", `Next question, ${open.length - 1} more`);
    more.parentElement.classList.add("live");
  }
  if (more) {
    asks();
    more.addEventListener("click", () => { turn += 1; asks(); });
    document.addEventListener("state", asks);
    addEventListener("resize", asks);
  }

  /* the room of what moved is kept for a minute: the drawing does not jump with every reading */
  const moved = document.getElementById("part-moved");
  let roomy = 0, since = 0;
  function keep() {
    moved.style.minHeight = "";
    const high = moved.offsetHeight, at = performance.now();
    if (high >= roomy || at - since > 60000) { roomy = high; since = at; }
    moved.style.minHeight = `${roomy}px`;
  }
  if (moved) document.addEventListener("state", keep);

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
