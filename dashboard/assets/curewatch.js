"use strict";
/* Ticking from the server's time, asking it every 2 s, touches recorded in place; works without any of it. */
(() => {
  const root = document.documentElement;
  const store = {
    get: (name) => { try { return localStorage.getItem(name); } catch { return null; } },
    set: (name, value) => { try { localStorage.setItem(name, value); } catch { /* private window */ } },
  };
  const cookie = (name, value) => { document.cookie = `${name}=${value};path=/;max-age=31536000;samesite=strict`; };

  /* layout and theme before anything is painted; the theme is the system's unless one is chosen */
  const light = matchMedia("(prefers-color-scheme: light)");
  function fit() {
    const kept = root.dataset.layoutKept;
    const layout = kept || (innerWidth < 700 || innerHeight < 600 ? "phone" : "garage");
    root.dataset.layout = layout;
    root.dataset.theme = root.dataset.themeKept || (light.matches ? "light" : "dark");
    cookie("screen", `${layout}-${root.dataset.theme}-${Math.min(Math.max(innerWidth - (layout === "phone" ? 24 : 172), 200), 9999)}`);
  }
  fit();
  addEventListener("resize", fit);
  light.addEventListener("change", fit);

  /* durations as people say them: the same rules as curewatch/durations.py */
  function figures(minutes, up) {
    const exact = Math.max(minutes, 0);
    const turn = (value) => (up ? Math.ceil : Math.floor)(Math.round(value * 1e6) / 1e6);
    const seconds = turn(exact * 60), whole = turn(exact);
    if (seconds < 60) return [[String(seconds), "s"]];
    if (whole < 60) return [[String(whole), "min"]];
    if (whole < 48 * 60) {
      const hours = Math.floor(whole / 60), left = whole % 60;
      return left ? [[String(hours), "h"], [String(left).padStart(2, "0"), ""]] : [[String(hours), "h"]];
    }
    const hours = turn(exact / 60), week = hours >= 168;
    const days = week ? turn(exact / 1440) : Math.floor(hours / 24), left = week ? 0 : hours % 24;
    return left ? [[String(days), "days"], [String(left), "h"]] : [[String(days), "days"]];
  }
  const said = (minutes, up) => figures(minutes, up).map((pair) => pair.join(" ").trim()).join(" ");
  const aged = (minutes) => minutes >= 0 ? `${said(minutes, false)} ago`
    : minutes > -1 ? "just now" : `${said(-minutes, false)} ahead of this clock`;
  const drawn = (minutes, up) => figures(minutes, up).map(([n, unit]) => `<b>${n}</b>${unit ? `<i>${unit}</i>` : ""}`).join("");

  let base = 0, speed = 1, heard = 0, asOf = "", pressed = -1e4, begun = 0;
  const tell = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));
  const now = () => base + (performance.now() - heard) * speed;
  const show = (node, html) => { if (node.innerHTML !== html) node.innerHTML = html; };
  function tick() {
    const at = now();
    for (const node of document.querySelectorAll("[data-down]"))
      show(node, drawn((node.dataset.down - at) / 60000, node.dataset.round === "up"));
    for (const node of document.querySelectorAll("[data-up]"))
      show(node, drawn((at - node.dataset.up) / 60000, false));
    for (const node of document.querySelectorAll("[data-age]"))
      show(node, aged((at - node.dataset.age) / 60000));
    runOut(at);
    announce(at);
    tell("tick", at);
    const silent = performance.now() - (begun || heard) > 10000;
    const away = document.getElementById("away");
    if (away.hidden === silent) {
      away.hidden = !silent;
      away.textContent = silent ? `Not connected, times as of ${asOf}` : "";
    }
  }

  /* a countdown that runs out asks for its test, also when the server is silent */
  function runOut(at) {
    const part = document.getElementById("part-next");
    if (!part) return;
    const node = part.querySelector(":scope > .band:not(.after) .digits[data-down]");
    const over = Boolean(node && part.querySelector(":scope > .after") && at >= Number(node.dataset.down));
    part.classList.toggle("over", over);
  }

  /* said to a screen reader: at 10, 5 and 1 minutes, and when due */
  let lastSaid = "";
  function announce(at) {
    const part = document.getElementById("part-next"), over = part?.classList.contains("over");
    const band = part?.querySelector(over ? ":scope > .after" : ":scope > .band:not(.after)"), head = band?.querySelector(".todo");
    if (!head) return;
    const node = band.querySelector(".digits[data-down]");
    const left = node ? (node.dataset.down - at) / 60000 : -1;
    const step = node ? [1, 5, 10].find((mark) => left <= mark && left > mark - 0.5) : (band.classList.contains("due") ? 0 : undefined);
    if (step === undefined) return;
    const text = step ? `${head.textContent.trim()}: ${step} min` : head.textContent.trim();
    if (text !== lastSaid) document.getElementById("announce").textContent = lastSaid = text;
  }

  /* this computer's clock went back: by how much, and what it shows */
  function saidOfClock(back) {
    const node = document.getElementById("clock-back");
    node.hidden = !back.said;
    for (const each of node.querySelectorAll("[data-say]"))
      if (back.said && each.textContent !== back[each.dataset.say]) each.textContent = back[each.dataset.say];
  }
  let asking = false, asked = false;
  async function ask() {
    if (asking) return;
    asking = true;
    asked = false;
    try {
      const answer = await fetch("/state.json", { cache: "no-store", signal: AbortSignal.timeout(8000) });
      if (answer.status === 401) { location.reload(); return; }
      if (!answer.ok) throw new Error(answer.status);
      const state = await answer.json();
      if (performance.now() - pressed < 400) return;
      base = state.now; speed = state.speed; heard = begun = performance.now(); asOf = state.clock;
      saidOfClock(state.clock_back);
      tell("state", state);
      heed(state.pressed);
      tick();
    } catch { /* said after ten seconds of silence */ } finally { asking = false; if (asked) ask(); }
  }

  /* one touch, recorded without leaving the page */
  let fading = 0, toldOn = "";
  const TOLD_MS = 5000, UNDO_MS = 45000;
  function toast(text, act, label, path = location.pathname) {
    toldOn = path;
    const undo = document.getElementById("undo");
    document.getElementById("toast").textContent = text;
    undo.hidden = !act;
    offered = Boolean(act);
    if (act) {
      undo.elements.act.value = act;
      undo.querySelector("button").textContent = label;
    }
    clearTimeout(fading);
    fading = setTimeout(hush, act ? UNDO_MS : TOLD_MS);
  }
  /* it belongs to its page: on the next one nobody knows any more what Undo would undo */
  document.addEventListener("arrived", (event) => { if (event.detail.path !== toldOn) hush(); });
  function hush() {
    const undo = document.getElementById("undo");
    document.getElementById("toast").textContent = "";
    if (undo.contains(document.activeElement)) returned();
    undo.hidden = true;
  }
  /* with the keys, Undo is the next stop after the touch it undoes, and the one after it follows on from there */
  let offered = false, left = null;
  function returned() {
    const back = left?.isConnected ? left : document.getElementById(left?.id);
    (back || document.getElementById("main")).focus({ preventScroll: true });
  }
  document.addEventListener("keydown", (event) => {
    const undo = document.getElementById("undo"), here = document.activeElement;
    if (event.key !== "Tab" || undo.hidden) return;
    if (undo.contains(here)) {
      returned();
      if (event.shiftKey) event.preventDefault();
    } else if (offered && !event.shiftKey && !here.matches("input, textarea, select")) {
      event.preventDefault();
      offered = false;
      left = here === document.body ? document.getElementById("main") : here;
      undo.querySelector("button").focus();
    }
  });
  /* what a button on MQTT did, said once on every page that was open */
  let heeded = -1;
  function heed(last) {
    if (heeded >= 0 && last.number !== heeded) toast(last.said, last.act, last.label);
    heeded = last.number;
  }
  async function send(form) {
    const body = new URLSearchParams(new FormData(form));
    try {
      const answer = await fetch(form.action, { method: "POST", body, headers: { "X-Live": "1" }, keepalive: true });
      if (answer.status === 401) { location.assign("/login?lost=1"); return; }
      if (!answer.ok) throw new Error(answer.status);
      const told = await answer.json();
      toast(told.said, told.act, told.label);
      form.elements.once.value = String(Math.random()).slice(2);
      pressed = -1e4;
      tell("sent", told);
      await ask();
    } catch { toast("Not recorded: no answer. Touch again."); }
  }
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.hasAttribute("data-live") || !document.body.matches(".dash")) return;
    event.preventDefault();
    send(form);
  });
  document.addEventListener("pointerdown", () => { pressed = performance.now(); });

  document.addEventListener("visibilitychange", () => { if (!document.hidden) ask(); });

  /* what the other scripts need */
  window.curewatch = { cookie, now, store, tick, toast, fresh: () => { pressed = -1e4; asked = asking; return ask(); } };

  document.addEventListener("DOMContentLoaded", () => {
    base = Number(document.body.dataset.now);
    speed = Number(document.body.dataset.speed);
    asOf = document.body.dataset.clock;
    heard = begun = performance.now();
    if (!document.getElementById("undo").hidden) fading = setTimeout(hush, UNDO_MS);
    document.getElementById("toast").addEventListener("click", hush);
    tick();
    ask();
    setInterval(tick, 500);
    setInterval(ask, 2000);
  });
})();
