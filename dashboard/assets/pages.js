"use strict";
/* The pages that Dash draws: taken over from the server's first drawing, led by the address, drawn
   anew as readings come, and read with the keys. */
(() => {
  const byId = (id) => document.getElementById(id);
  const EVERY_MS = 60000;

  /* plotly under an address that lasts: Dash would ask for it without one */
  Object.defineProperty(window, "_dashPlotlyJSURL", { get: () => byId("react-entry-point").dataset.plotly, set() {} });

  /* the first drawing stands until Dash has made its own */
  let focused = "";
  function taken() {
    const first = byId("first");
    if (first && byId("page")?.firstElementChild) {
      first.remove();
      document.body.classList.add("taken");
    }
    for (const each of document.querySelectorAll("body > svg, #js-plotly-tester")) each.setAttribute("aria-hidden", "true");
    if (focused && document.activeElement === document.body) refocus();
    window.curewatch.tick();
    read();
  }
  function refocus() {
    const again = byId(focused) || document.querySelector(`main a[href="${CSS.escape(focused)}"]`) || byId("main");
    again.focus({ preventScroll: true });
  }
  document.addEventListener("focusin", (event) => {
    const node = event.target;
    focused = node.closest("#react-entry-point") ? node.id || node.getAttribute("href") || "main" : "";
  });

  /* own addresses without a new document */
  const own = (address) => address.origin === location.origin && address.pathname === location.pathname;
  function go(address) {
    history.pushState({}, "", address);
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
  }
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("#react-entry-point a[href]");
    if (!link || event.button || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
    const address = new URL(link.href);
    if (!own(address)) return;
    event.preventDefault();
    go(address);
  });

  /* drawn anew once a minute where something changed, and at once after a touch */
  let revision = "", drawn = 0, again = 0;
  function renew() {
    drawn = performance.now();
    again += 1;
    window.dash_clientside.set_props("again", { data: again });
  }
  document.addEventListener("state", (event) => {
    if (!document.body.classList.contains("taken")) return;
    const changed = event.detail.revision !== revision;
    const touched = changed && performance.now() - touchedAt < 5000;
    if (!revision) revision = event.detail.revision;
    else if (changed && (touched || performance.now() - drawn > EVERY_MS)) { revision = event.detail.revision; renew(); }
  });
  /* and for another room at once */
  let width = innerWidth, resizing = 0;
  addEventListener("resize", () => {
    clearTimeout(resizing);
    resizing = setTimeout(() => { if (innerWidth !== width) { width = innerWidth; fitted(); renew(); } }, 300);
  });

  /* what a touch did, said with its Undo; an answer that does not come is said too */
  let touchedAt = -1e9;
  window.dash_clientside = Object.assign(window.dash_clientside || {}, { curewatch: { did(told) {
    if (told) {
      window.curewatch.toast(told.said, told.act, told.label);
      touchedAt = performance.now();
      window.curewatch.fresh();
    }
    return window.dash_clientside.no_update;
  } } });
  const plain = window.fetch;
  window.fetch = async (asked, ...more) => {
    if (!String(asked.url || asked).includes("_dash-update-component")) return plain(asked, ...more);
    try {
      const answer = await plain(asked, ...more);
      if (answer.status === 401) location.assign("/door?lost=1");
      else if (!answer.ok) window.curewatch.toast("That did not work. Load the page again.");
      return answer;
    } catch (error) {
      window.curewatch.toast("Not recorded: no answer. Touch again.");
      throw error;
    }
  };

  /* a figure: drag chooses a stretch, the arrow keys read it */
  const READER = "reader";
  let place = -1;
  const graph = () => document.querySelector(".chart .js-plotly-plot");
  const reader = () => graph()?.data?.findIndex((each) => each.name === READER) ?? -1;
  function read() {
    const plot = graph(), chart = document.querySelector(".chart");
    if (!plot || !plot.on || plot.dataset.led || reader() < 0) return;
    plot.dataset.led = "1";
    fitted();
    plot.on("plotly_relayout", zoomed);
    plot.on("plotly_afterplot", () => { fitted(); place = -1; told(chart, plot.data[reader()]?.text.length - 1); });
    chart.addEventListener("keydown", keyed);
    told(chart, plot.data[reader()].text.length - 1);
  }
  /* as wide as its room, also the next time */
  function fitted() {
    const plot = graph(), room = document.querySelector(".chart").clientWidth, { layout, theme } = document.documentElement.dataset;
    window.curewatch.cookie("screen", `${layout}-${theme}-${room}`);
    if (Math.abs(plot._fullLayout.width - room) > 1) window.Plotly.relayout(plot, { width: room });
  }
  function zoomed(changes) {
    const [from, to] = [changes["xaxis.range[0]"], changes["xaxis.range[1]"]].map(Math.round);
    if (!(to > from)) return;
    const address = new URL(location.href);
    address.searchParams.delete("span");
    address.searchParams.set("from", Math.max(from, 0));
    address.searchParams.set("to", to);
    go(address);
  }
  function told(chart, at) {
    const said = graph().data[reader()]?.text;
    if (!said || at < 0) return;
    chart.setAttribute("aria-valuemax", said.length - 1);
    chart.setAttribute("aria-valuenow", at);
    chart.setAttribute("aria-valuetext", said[at].replaceAll("<br>", ", "));
  }
  const STEPS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageUp: 20, PageDown: -20, Home: -1e9, End: 1e9 };
  function keyed(event) {
    const by = STEPS[event.key], last = graph().data[reader()].text.length - 1;
    if (by === undefined || last < 0) return;
    event.preventDefault();
    place = Math.min(Math.max((place < 0 ? last : place) + by, 0), last);
    window.Plotly.Fx.hover(graph(), [{ curveNumber: reader(), pointNumber: place }]);
    told(event.currentTarget, place);
  }

  document.addEventListener("DOMContentLoaded", () => {
    new MutationObserver(taken).observe(document.body, { childList: true, subtree: true });
    taken();
  });
})();
