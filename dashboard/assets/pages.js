"use strict";
/* The pages that Dash draws: taken over from the server's first drawing, led by the address, drawn
   anew as readings come, and read with the keys. */
(() => {
  const byId = (id) => document.getElementById(id);

  /* plotly under an address that lasts: Dash would ask for it without one */
  Object.defineProperty(window, "_dashPlotlyJSURL", { get: () => byId("react-entry-point").dataset.plotly, set() {} });

  /* Dash's scripts are compiled for browsers without generators: this is all that they need of its polyfill */
  window.regeneratorRuntime = {
    mark: (run) => run,
    wrap(run) {
      const state = { prev: 0, next: 0, done: false, stop() { state.done = true; } };
      const next = () => { const value = run(state); return { value, done: state.done }; };
      return { next, throw(error) { throw error; } };
    },
  };

  /* Dash puts the caret back by a timer, when more has been typed perhaps; it has not moved */
  const place = HTMLInputElement.prototype.setSelectionRange;
  HTMLInputElement.prototype.setSelectionRange = function (...range) {
    if (!this.classList.contains("dash-input-element")) place.apply(this, range);
  };

  const named = (own) => own.startsWith("{") ? JSON.parse(own) : own;

  /* the first drawing stands until Dash has made its own; touches on it wait for that, and each for the answer to the one before */
  const APART_MS = 150, ANSWER_MS = 5000;
  let focused = "", unanswered = 0;
  const early = new Set();
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("#first button[data-own]");
    if (!button) return;
    early.add(button.dataset.own);
    window.curewatch.toast("One moment.");
  });
  function repeated() {
    clearTimeout(unanswered);
    const [id] = early;
    if (id === undefined) return;
    early.delete(id);
    unanswered = setTimeout(repeated, ANSWER_MS);
    byId(id)?.click();
  }
  function taken(changes = []) {
    const first = byId("first");
    keepOpen(changes.flatMap((each) => [...each.removedNodes]), changes.flatMap((each) => [...each.addedNodes]));
    if (first && byId("page")?.firstElementChild) {
      keepOpen([first], [byId("page")]);
      const typed = [...first.querySelectorAll("input[data-own]")].filter((box) => box.value !== box.defaultValue);
      const entered = [...typed.map((box) => [box.dataset.own, box.value]), ...[...first.querySelectorAll("[data-picks]")].flatMap(picked)];
      if (entered.length) setTimeout(() => entered.forEach(([id, value]) => window.dash_clientside.set_props(named(id), { value })));
      first.remove();
      document.body.classList.add("taken");
      repeated();
    }
    for (const each of document.querySelectorAll("body > svg, #js-plotly-tester")) each.setAttribute("aria-hidden", "true");
    /* Dash makes answers to pick from into a list box around real inputs, which no reader can use */
    for (const each of document.querySelectorAll(".dash-options-list-option[aria-selected], .dash-options-list-option[role], main [role=listbox]"))
      for (const name of ["role", "aria-selected", "aria-multiselectable"]) each.removeAttribute(name);
    for (const each of document.querySelectorAll("main details:not([open]):has([role=alert]:not(:empty))")) each.open = true;
    if (focused && document.activeElement === document.body) refocus();
    window.curewatch.tick();
    read();
    document.dispatchEvent(new CustomEvent("drawn"));
  }
  /* of a list of the first drawing what a hand picked there, if it did */
  function picked(list) {
    const boxes = [...list.querySelectorAll("input")], values = boxes.filter((box) => box.checked).map((box) => box.value);
    if (boxes.every((box) => box.checked === box.defaultChecked)) return [];
    return [[list.dataset.picks, boxes[0].type === "radio" ? values[0] : values]];
  }
  /* Dash makes every fold anew: what the reader opened is open again, unless its name says another thing by now */
  let address = location.pathname + location.search;
  function keepOpen(before, after) {
    if (address !== location.pathname + location.search) return;
    const open = [...folds(before)].filter(([, fold]) => fold.open), now = open.length ? folds(after) : null;
    for (const [name] of open) if (now.has(name)) now.get(name).open = true;
  }
  function folds(nodes) {
    const held = new Map(), under = (node) => [...(node.matches?.("details") ? [node] : []), ...(node.querySelectorAll?.("details") || [])];
    for (const fold of new Set(nodes.flatMap(under))) {
      let name = fold.querySelector("summary")?.textContent;
      while (held.has(name)) name += " again";
      held.set(name, fold);
    }
    return held;
  }
  function refocus() {
    const again = byId(focused) || document.querySelector(`main a[href="${CSS.escape(focused)}"]`) || byId("main");
    again.focus({ preventScroll: true });
  }
  document.addEventListener("focusin", (event) => {
    const node = event.target;
    focused = node.closest("#react-entry-point, #first") ? node.id || node.dataset.own || node.getAttribute("href") || "main" : "";
  });

  /* from one Dash page to another without a new document: sound, full screen and the screen's lock stay */
  const ours = () => JSON.parse(byId("react-entry-point").dataset.ours);
  const own = (address) => address.origin === location.origin && ours().some((each) => new RegExp(`^${each}$`).test(address.pathname));
  function go(address) {
    if (!own(address)) { location.assign(address); return; }
    history.pushState({}, "", address);
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
  }
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("a[href]");
    if (!link || event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
    const address = new URL(link.href);
    if (link.dataset.busy) window.curewatch.toast(link.dataset.busy);
    if (link.dataset.file) { event.preventDefault(); kept(link); return; }
    if (!own(address) || link.target || link.hasAttribute("download")) return;
    if (address.pathname === location.pathname && address.search === location.search && address.hash) return;
    event.preventDefault();
    go(address);
  });
  /* a file that takes a while: since when it is being made, and then that it is there */
  const SAYS_MS = 4000;
  async function kept(link) {
    const { busy, file } = link.dataset, begun = performance.now();
    const saying = setInterval(() => window.curewatch.toast(`${busy} ${Math.round((performance.now() - begun) / 1000)} s so far.`), SAYS_MS);
    try {
      const answer = await fetch(link.href);
      if (!answer.ok) { location.assign(link.href); return; }
      const address = URL.createObjectURL(await answer.blob());
      Object.assign(document.createElement("a"), { href: address, download: file }).click();
      setTimeout(() => URL.revokeObjectURL(address), 60000);
      window.curewatch.toast(`${file} is among your downloads.`);
    } catch { window.curewatch.toast("No answer. Touch again."); } finally { clearInterval(saying); }
  }
  let shown = { path: location.pathname, renews_ms: 60000, clock_ms: 0 };
  function arrived(page) {
    const before = shown.path;
    shown = page;
    address = location.pathname + location.search;
    document.title = `${page.title} · curewatch`;
    document.body.className = `${page.kind} dash taken`;
    for (const each of document.querySelectorAll(".rail a")) {
      const path = each.getAttribute("href"), entry = page.under || page.path;
      const here = entry === path || (path !== "/" && entry.startsWith(path));
      if (here) each.setAttribute("aria-current", "page"); else each.removeAttribute("aria-current");
    }
    const mixed = byId("mixed");
    if (mixed) mixed.hidden = page.path.startsWith("/mix/");
    byId("undo").elements.back.value = page.path;
    drawn = performance.now();
    if (before === page.path) return;
    focused = "";
    scrollTo(0, 0);
    byId("main").focus({ preventScroll: true });
    byId("announce").textContent = page.title;
    document.dispatchEvent(new CustomEvent("arrived", { detail: page }));
  }

  /* drawn anew where something changed: once in a while, and at once after a touch; not under a hand that types */
  let revision = "", drawn = 0, again = 0, edited = false;
  function renew() {
    drawn = performance.now();
    again += 1;
    window.dash_clientside.set_props(shown.keeps ? "again" : "redraw", { data: again });
  }
  document.addEventListener("room", renew);
  /* what a touch recorded is shown at once; the server's next answer is about what is drawn then */
  function recorded() { touchedAt = -1e9; revision = ""; renew(); }
  const late = (after) => after > 0 && performance.now() - drawn > after;
  const typing = () => edited || Boolean(document.activeElement?.closest("#page :is(input, textarea, select)"));
  document.addEventListener("input", (event) => { if (event.target.closest("#page")) edited = true; });
  document.addEventListener("state", (event) => {
    const known = event.detail.revision, changed = known !== revision;
    if (!document.body.classList.contains("taken")) { revision ||= known; return; }
    const touched = changed && performance.now() - touchedAt < 5000;
    const waited = revision && (late(shown.clock_ms) || (changed && performance.now() - drawn > shown.renews_ms));
    if (touched || (waited && (shown.keeps || !typing()))) { revision = known; renew(); }
    else revision ||= known;
  });
  /* and for another room at once */
  let width = innerWidth, resizing = 0;
  addEventListener("resize", () => {
    clearTimeout(resizing);
    resizing = setTimeout(() => { if (innerWidth !== width) { width = innerWidth; document.querySelectorAll(".chart").forEach(fitted); renew(); } }, 300);
  });

  /* what a touch did, said with its Undo; an answer that does not come is said too */
  let touchedAt = -1e9;
  document.addEventListener("sent", () => { touchedAt = performance.now(); edited = false; });
  const scripted = {
    did(told) {
      if (told) {
        if (told.said) window.curewatch.toast(told.said, told.act, told.label, told.go ? new URL(told.go, location.href).pathname : undefined);
        touchedAt = performance.now();
        edited = false;
        if (told.go) go(new URL(told.go, location.href)); else { if (told.act) recorded(); window.curewatch.fresh(); }
      }
      return window.dash_clientside.no_update;
    },
    shown(page) {
      if (page) arrived(page);
      return window.dash_clientside.no_update;
    },
  };
  window.dash_clientside = Object.assign(window.dash_clientside || {}, { curewatch: scripted });
  const plain = window.fetch;
  window.fetch = async (asked, ...more) => {
    if (!String(asked.url || asked).includes("_dash-update-component")) return plain(asked, ...more);
    try {
      const answer = await plain(asked, ...more);
      if (answer.status === 401) location.assign("/login?lost=1");
      else if (!answer.ok) window.curewatch.toast("That did not work. Load the page again.");
      return answer;
    } catch (error) {
      window.curewatch.toast("Not recorded: no answer. Touch again.");
      throw error;
    } finally {
      if (early.size && String(more[0]?.body).includes("n_clicks")) setTimeout(repeated, APART_MS);
    }
  };

  /* figures: as wide as their room; drag chooses a stretch; the arrow keys read the trace of that name */
  const READER = "reader";
  const plotOf = (chart) => chart.querySelector(".js-plotly-plot");
  const readerOf = (chart) => plotOf(chart)?.data?.findIndex((each) => each.name === READER) ?? -1;
  const textOf = (chart) => plotOf(chart).data[readerOf(chart)]?.text;
  /* what is said of a figure before it is touched: its last point; along which one slides, its first */
  const rest = (chart) => chart.dataset.says ? 0 : textOf(chart)?.length - 1;
  function read() {
    for (const chart of document.querySelectorAll(".chart")) {
      const plot = plotOf(chart);
      if (!plot || !plot.on || plot.dataset.led) continue;
      plot.dataset.led = "1";
      fitted(chart);
      plot.on("plotly_relayout", (changes) => zoomed(chart, changes));
      plot.on("plotly_afterplot", () => { fitted(chart); chart.dataset.place = -1; told(chart, rest(chart)); });
      told(chart, rest(chart));
    }
  }
  document.addEventListener("keydown", keyed);
  /* as wide as its room, also the next time */
  function fitted(chart) {
    const plot = plotOf(chart), room = chart.clientWidth, { layout, theme } = document.documentElement.dataset;
    if (!plot?._fullLayout || !room) return;
    window.curewatch.cookie("screen", `${layout}-${theme}-${room}`);
    if (Math.abs(plot._fullLayout.width - room) > 1) window.Plotly.relayout(plot, { width: room });
  }
  function zoomed(chart, changes) {
    const [from, to] = [changes["xaxis.range[0]"], changes["xaxis.range[1]"]].map(Math.round);
    if (chart.dataset.zoom !== "address" || !(to > from)) return;
    const address = new URL(location.href);
    address.searchParams.delete("span");
    address.searchParams.set("from", Math.max(from, 0));
    address.searchParams.set("to", to);
    go(address);
  }
  function told(chart, at) {
    const said = textOf(chart);
    if (!said || !(at >= 0)) return;
    chart.setAttribute("aria-valuemax", said.length - 1);
    chart.setAttribute("aria-valuenow", at);
    chart.setAttribute("aria-valuetext", said[at].replaceAll("<br>", ", "));
    const place = byId(chart.dataset.says);
    if (place) place.textContent = said[at];
  }
  const STEPS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageUp: 20, PageDown: -20, Home: -1e9, End: 1e9 };
  function keyed(event) {
    const chart = event.target, by = STEPS[event.key];
    if (by === undefined || !chart.matches?.(".chart[role=slider]") || readerOf(chart) < 0) return;
    const last = textOf(chart).length - 1, place = Number(chart.dataset.place ?? -1);
    if (last < 0) return;
    event.preventDefault();
    point(chart, Math.min(Math.max((place < 0 ? rest(chart) : place) + by, 0), last));
  }
  function point(chart, at) {
    chart.dataset.place = at;
    window.Plotly.Fx.hover(plotOf(chart), [{ curveNumber: readerOf(chart), pointNumber: at }]);
    told(chart, at);
  }
  /* a finger or a mouse that slides along such a figure */
  for (const kind of ["pointerdown", "pointermove"]) document.addEventListener(kind, (event) => {
    const chart = event.target.closest?.(".chart[data-says]"), axis = chart && plotOf(chart)?._fullLayout?.xaxis;
    if (!axis || readerOf(chart) < 0) return;
    const x = plotOf(chart).data[readerOf(chart)].x, at = axis.p2d(event.clientX - chart.getBoundingClientRect().left - axis._offset);
    const after = x.findIndex((each) => each >= at), last = after < 0 ? x.length - 1 : after;
    point(chart, last > 0 && at - x[last - 1] < x[last] - at ? last - 1 : last);
  });

  /* values to choose are written into their boxes */
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-fills]");
    if (!button) return;
    for (const [box, value] of Object.entries(JSON.parse(button.dataset.fills))) window.dash_clientside.set_props(JSON.parse(box), { value });
  });
  /* a day picked from the browser's calendar is written into its box */
  const calendar = document.createElement("input");
  calendar.type = "date";
  calendar.tabIndex = -1;
  calendar.className = "calendar-box";
  calendar.setAttribute("aria-hidden", "true");
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-picks]");
    if (!button) return;
    button.after(calendar);
    calendar.value = "";
    calendar.onchange = () => window.dash_clientside.set_props(JSON.parse(button.dataset.picks), { value: calendar.value });
    calendar.showPicker?.();
  });

  document.addEventListener("DOMContentLoaded", () => {
    new MutationObserver(taken).observe(document.body, { childList: true, subtree: true, attributeFilter: ["aria-selected"] });
    taken();
  });
})();
