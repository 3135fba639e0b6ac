"use strict";
/* Ticking from the server's time, asking it every 2 s, sound and speech; works without any of it. */
(() => {
  const root = document.documentElement;
  const store = {
    get: (name) => { try { return localStorage.getItem(name); } catch { return null; } },
    set: (name, value) => { try { localStorage.setItem(name, value); } catch { /* private window */ } },
  };
  const cookie = (name, value) => { document.cookie = `${name}=${value};path=/;max-age=31536000;samesite=strict`; };

  /* layout and theme before anything is painted */
  function fit() {
    const kept = root.dataset.layoutKept;
    const layout = kept || (innerWidth < 700 ? "phone" : "garage");
    root.dataset.layout = layout;
    root.dataset.theme = root.dataset.themeKept || (layout === "desk" ? "light" : "dark");
  }
  fit();
  addEventListener("resize", fit);

  /* durations as people say them: the same rules as dashboard/words.py */
  function figures(minutes, up) {
    const turn = up ? Math.ceil : Math.floor;
    const seconds = Math.max(minutes, 0) * 60;
    if (seconds < 60) return [[String(Math.min(59, turn(seconds))), "s"]];
    const whole = turn(Math.round(minutes * 1e6) / 1e6);
    if (whole < 60) return [[String(whole), "min"]];
    if (whole < 48 * 60) {
      const hours = Math.floor(whole / 60), left = whole % 60;
      return left ? [[String(hours), "h"], [String(left).padStart(2, "0"), ""]] : [[String(hours), "h"]];
    }
    return [[String(turn(Math.round(whole / 1440 * 1e6) / 1e6)), "days"]];
  }
  const said = (minutes, up) => figures(minutes, up).map((pair) => pair.join(" ").trim()).join(" ");
  const drawn = (minutes, up) => figures(minutes, up).map(([n, unit]) => `<b>${n}</b>${unit ? `<i>${unit}</i>` : ""}`).join("");

  let base = 0, speed = 1, heard = 0, asOf = "", alarms = [], running = false, pressed = -1e4, begun = 0;
  const now = () => base + (performance.now() - heard) * speed;
  const show = (node, html) => { if (node.innerHTML !== html) node.innerHTML = html; };
  function tick() {
    const at = now();
    for (const node of document.querySelectorAll("[data-down]"))
      show(node, drawn((node.dataset.down - at) / 60000, node.dataset.round === "up"));
    for (const node of document.querySelectorAll("[data-up]"))
      show(node, drawn((at - node.dataset.up) / 60000, false));
    for (const node of document.querySelectorAll("[data-age]"))
      show(node, `${said((at - node.dataset.age) / 60000, false)} ago`);
    announce(at);
    listen(at);
    const silent = performance.now() - (begun || heard) > 10000;
    const away = document.getElementById("away");
    if (away.hidden === silent) {
      away.hidden = !silent;
      away.textContent = silent ? `Not connected, times as of ${asOf}` : "";
    }
  }

  /* said to a screen reader: at 10, 5 and 1 minutes, and when due */
  let lastSaid = "";
  function announce(at) {
    const node = document.querySelector(".digits[data-down]");
    const band = document.querySelector(".todo");
    if (!band) return;
    const left = node ? (node.dataset.down - at) / 60000 : -1;
    const step = node ? [1, 5, 10].find((mark) => left <= mark && left > mark - 0.5) : (document.querySelector(".band.due") ? 0 : undefined);
    if (step === undefined) return;
    const text = step ? `${band.textContent.trim()}: ${step} min` : band.textContent.trim();
    if (text !== lastSaid) document.getElementById("announce").textContent = lastSaid = text;
  }

  /* asking the server */
  function asked() {
    const box = document.getElementById("part-chart");
    const have = [...document.querySelectorAll("[data-part]")].map((part) => `${part.dataset.part}:${part.dataset.mark}`);
    const wanted = new URLSearchParams({ have: have.join(","), layout: root.dataset.layout });
    if (box && box.clientWidth) {
      wanted.set("w", box.clientWidth);
      wanted.set("h", box.clientHeight);
      cookie("room", `${box.clientWidth}x${box.clientHeight}`);
      if (!root.dataset.layoutKept) cookie("fit", root.dataset.layout);
    }
    return `/state.json?${wanted}`;
  }
  function replace(name, part) {
    const node = document.getElementById(`part-${name}`);
    if (!node) return;
    const focused = node.contains(document.activeElement) ? document.activeElement.id : "";
    node.innerHTML = part.html;
    node.dataset.mark = part.mark;
    if (focused) document.getElementById(focused)?.focus();
  }
  let asking = false;
  async function ask() {
    if (asking) return;
    asking = true;
    try {
      const answer = await fetch(asked(), { cache: "no-store", signal: AbortSignal.timeout(8000) });
      if (answer.status === 401) { location.reload(); return; }
      if (!answer.ok) throw new Error(answer.status);
      const state = await answer.json();
      if (performance.now() - pressed < 400) return;
      base = state.now; speed = state.speed; heard = begun = performance.now(); asOf = state.clock;
      alarms = state.alarms; running = state.running;
      for (const [name, part] of Object.entries(state.parts)) replace(name, part);
      tick();
      awake();
    } catch { /* said after ten seconds of silence */ } finally { asking = false; }
  }

  /* one touch, recorded without leaving the page */
  let fading = 0;
  function toast(text) {
    document.getElementById("toast").textContent = text;
    clearTimeout(fading);
    fading = setTimeout(() => { document.getElementById("toast").textContent = ""; }, 5000);
  }
  async function send(form, button) {
    const body = new URLSearchParams(new FormData(form));
    if (button && button.name) body.set(button.name, button.value);
    try {
      const answer = await fetch(form.action, { method: "POST", body, headers: { "X-Live": "1" } });
      if (!answer.ok) throw new Error(answer.status);
      toast((await answer.json()).said);
      quiet();
      pressed = -1e4;
      await ask();
    } catch { toast("Not recorded: no answer. Touch again."); }
  }
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.hasAttribute("data-live")) {
      event.preventDefault();
      send(form, event.submitter);
    } else if (form.hasAttribute("data-once")) {
      if (form.dataset.sent) event.preventDefault();
      form.dataset.sent = "1";
    }
  });
  document.addEventListener("pointerdown", () => { pressed = performance.now(); arm(); });
  document.addEventListener("keydown", () => arm());

  /* sound: pitch [Hz] and length [s] of each note */
  const NOTES = {
    ending: [[880, .25], [0, .1], [880, .25]],
    due: [[660, .2], [880, .2], [1320, .4]],
    stop: [[1400, .3], [700, .3], [1400, .3], [700, .3]],
    lost: [[1000, .5], [0, .15], [620, .5]],
  };
  let audio = null;
  const on = (name) => store.get(name) !== "off";
  function arm() {
    const Audio = window.AudioContext;
    if (!Audio) return;
    audio ??= new Audio();
    if (audio.state === "suspended") audio.resume();
    document.getElementById("speak").hidden = true;
  }
  function play(kind) {
    if (!audio || audio.state !== "running") {
      document.getElementById("speak").hidden = false;
      document.getElementById("silence").hidden = true;
      return false;
    }
    let at = audio.currentTime + .02;
    for (const [pitch, length] of NOTES[kind]) {
      if (pitch) {
        const tone = audio.createOscillator(), loud = audio.createGain();
        tone.type = "triangle";
        tone.frequency.value = pitch;
        loud.gain.setValueAtTime(0, at);
        loud.gain.linearRampToValueAtTime(.6, at + .02);
        loud.gain.setValueAtTime(.6, at + length - .03);
        loud.gain.linearRampToValueAtTime(0, at + length);
        tone.connect(loud).connect(audio.destination);
        tone.start(at);
        tone.stop(at + length);
      }
      at += length;
    }
    return true;
  }
  function speak(text) {
    if (!on("speech") || !window.speechSynthesis) return;
    speechSynthesis.cancel();
    speechSynthesis.speak(new SpeechSynthesisUtterance(text));
  }
  const hushed = new Map();
  const spoken = new Set();
  let nextSound = 0;
  function sounding(at) {
    return alarms.find((alarm) => alarm.at <= at && !hushed.has(alarm.key) && !(alarm.kind === "ending" && at - alarm.at > 600000));
  }
  function listen(at) {
    const alarm = sounding(at);
    const wanted = alarm && on("sound");
    const able = audio && audio.state === "running";
    document.getElementById("silence").hidden = !wanted || !able;
    document.getElementById("speak").hidden = !wanted || able;
    if (wanted) document.body.dataset.sounding = alarm.kind; else delete document.body.dataset.sounding;
    if (!wanted || performance.now() < nextSound) return;
    nextSound = performance.now() + 8000;
    if (play(alarm.kind) && !spoken.has(alarm.key)) {
      spoken.add(alarm.key);
      setTimeout(() => speak(alarm.say), 1200);
    }
  }
  function quiet() {
    const at = now();
    for (const alarm of alarms) if (alarm.at <= at) hushed.set(alarm.key, at);
    window.speechSynthesis?.cancel();
    listen(at);
  }

  /* the screen stays awake while something runs */
  let lock = null;
  async function awake() {
    if (!navigator.wakeLock || document.hidden) return;
    try {
      if (running && !lock) {
        lock = await navigator.wakeLock.request("screen");
        lock.addEventListener("release", () => { lock = null; });
      } else if (!running && lock) await lock.release();
    } catch { lock = null; }
  }
  document.addEventListener("visibilitychange", () => { if (!document.hidden) ask(); });

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
      pressed = -1e4;
      ask();
    });
    label();
  }
  function toggle(id) {
    const button = document.getElementById(id);
    if (!button) return;
    const name = id === "sound" ? "Sound" : "Speech";
    const label = () => { button.textContent = `${name} ${on(id) ? "on" : "off"}`; button.setAttribute("aria-pressed", on(id)); };
    button.addEventListener("click", () => { store.set(id, on(id) ? "off" : "on"); label(); });
    label();
  }

  document.addEventListener("DOMContentLoaded", () => {
    base = Number(document.body.dataset.now);
    speed = Number(document.body.dataset.speed);
    asOf = document.body.dataset.clock;
    heard = begun = performance.now();
    const button = document.getElementById("axis");
    if (button) axis(button);
    toggle("sound");
    toggle("speech");
    document.getElementById("silence").addEventListener("click", quiet);
    document.getElementById("speak").addEventListener("click", () => { arm(); nextSound = 0; });
    document.getElementById("full")?.addEventListener("click", () => {
      if (document.fullscreenElement) document.exitFullscreen(); else root.requestFullscreen();
    });
    for (const each of document.querySelectorAll("[data-try]")) each.addEventListener("click", () => { arm(); setTimeout(() => { play(each.dataset.try); speak(each.textContent); }, 60); });
    tick();
    ask();
    setInterval(tick, 500);
    setInterval(ask, 2000);
  });
})();
