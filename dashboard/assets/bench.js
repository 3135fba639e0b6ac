"use strict";
/* The bench: its ribbons in their room, dragged and zoomed by hand; its questions, one open at a time. */
(() => {
  const byId = (id) => document.getElementById(id);
  const set = (id, data) => window.dash_clientside.set_props(id, { data });
  const { cookie } = window.curewatch;
  const plotOf = () => document.querySelector("#ribbons .js-plotly-plot");

  /* the room that the ribbons have: noted before Dash asks for its first drawing; asked for anew where that was for another */
  const PAUSE_MS = 450, AGAIN_MS = 2000;
  let told = "", last = "", toldAt = -1e9, drawnFor = "", watched = null;
  function roomOf(box) {
    const { layout, theme } = document.documentElement.dataset, look = { w: box.clientWidth, h: box.clientHeight, layout, theme };
    if (layout === "phone") look.h = 0;
    cookie("room", `${look.w}x${look.h}`);
    return look;
  }
  document.addEventListener("begins", () => {
    const box = document.querySelector("#first .ribbons");
    if (box?.clientWidth) drawnFor = JSON.stringify(roomOf(box));
  });
  function measured() {
    const box = byId("ribbons");
    if (!box || !document.body.classList.contains("taken") || !box.clientWidth) return;
    const look = roomOf(box), said = JSON.stringify(look);
    /* a server that is away answers by drawing nothing anew: it is not asked again without a pause */
    if (told === said || performance.now() - toldAt < (last === said ? AGAIN_MS : PAUSE_MS)) return;
    told = last = said;
    toldAt = performance.now();
    set("look", look);
    if (said !== drawnFor) document.dispatchEvent(new CustomEvent("room"));
    drawnFor = "";
  }
  const watcher = new ResizeObserver(measured);

  /* another question under a hand that comes down a second time is not answered by that touch */
  const HELD_MS = 700;
  let question = "";
  function asks() {
    const page = byId("bench"), now = ["part-next", "asks"].map((id) => byId(id)?.querySelector(".todo, .ask")?.textContent).join();
    if (!page || now === question) return;
    if (question) {
      page.classList.add("changed");
      setTimeout(() => page.classList.remove("changed"), HELD_MS);
    }
    question = now;
  }
  document.addEventListener("drawn", asks);

  /* the axis: dragged and zoomed by hand, held while a hand is near, back to now by touch */
  const STAYS_MS = 60000;
  let near = -1e9, byHand = false, ours = false;
  const range = (plot) => plot._fullLayout.xaxis.range.map((each) => Math.round(Number(each)));
  function led(plot) {
    if (!plot?.on || plot.dataset.led) return;
    plot.dataset.led = "1";
    plot.on("plotly_relayout", (changes) => {
      if (!("xaxis.range[0]" in changes) && !("xaxis.range" in changes)) return;
      byHand = true;
      near = performance.now();
      byId("axis-now").hidden = false;
      set("stretch", range(plot));
    });
    plot.on("plotly_click", (event) => {
      const way = event.points?.[0]?.data?.meta;
      if (way) byId(`lane-${way.split("/").pop()}`)?.click();
    });
  }
  function released() {
    byHand = false;
    near = -1e9;
    const now = byId("axis-now");
    if (document.activeElement === now) byId("axis").focus();
    now.hidden = true;
    set("stretch", null);
  }
  document.addEventListener("pointermove", (event) => { if (event.target.closest?.("#ribbons")) near = performance.now(); });
  document.addEventListener("focusin", (event) => { if (event.target.closest?.("#ribbons")) near = performance.now(); });
  document.addEventListener("tick", () => {
    measured();
    const held = performance.now() - near < STAYS_MS, plot = plotOf();
    if (held !== ours && !byHand && plot?._fullLayout) { ours = held; set("stretch", held ? range(plot) : null); }
  });

  /* the axis: as needed, 1 h, 6 h, 24 h, 3 days */
  const SPANS = [["", "auto"], ["60", "1 h"], ["360", "6 h"], ["1440", "24 h"], ["4320", "3 days"]];
  const kept = () => (document.cookie.match(/(?:^|; )span=(\d*)/) || [])[1] || "";
  function labelled() {
    const button = byId("axis");
    if (!button) return;
    const name = (SPANS.find(([span]) => span === kept()) || SPANS[0])[1];
    const label = `Length of the time axis: ${name === "auto" ? "as needed" : name}`;
    if (button.getAttribute("aria-label") === label) return;
    button.querySelector("small").textContent = name;
    button.setAttribute("aria-label", label);
  }
  document.addEventListener("click", (event) => {
    if (event.target.closest?.("#axis-now")) released();
    if (!event.target.closest?.("#axis")) return;
    const place = SPANS.findIndex(([span]) => span === kept());
    cookie("span", SPANS[(place + 1) % SPANS.length][0]);
    labelled();
    ours = false;
    released();
  });

  /* the questions: the most urgent is open, the others are chips that open in its place */
  let open = "", known = "";
  function asked() {
    const others = document.querySelector("#part-others .others");
    if (!others) { open = ""; known = ""; return; }
    const rows = [...others.querySelectorAll(":scope > .doing")];
    const names = [...others.querySelectorAll(".chip")].map((each) => each.textContent).join();
    if (names !== known) open = "";
    known = names;
    const wanted = rows.find((row) => row.dataset.question === open) || rows[0];
    for (const row of rows) row.classList.toggle("open", row === wanted);
    for (const chip of others.querySelectorAll(".chip")) {
      chip.hidden = chip.dataset.for === wanted?.dataset.question;
    }
    others.classList.add("live");
  }
  document.addEventListener("click", (event) => {
    const chip = event.target.closest?.("#part-others .chip");
    if (!chip) return;
    open = chip.dataset.for;
    asked();
    document.querySelector("#part-others .doing.open button, #part-others .doing.open a")?.focus({ preventScroll: true });
  });

  /* a slider says where it stands while it is moved */
  function slid() {
    for (const slider of document.querySelectorAll(".slide input")) {
      const said = slider.closest(".slide").querySelector("b"), text = `${slider.value} ${said.dataset.unit}`.replace("-", "\u2212");
      if (said.textContent !== text) said.textContent = text;
    }
  }
  document.addEventListener("input", slid);

  function seen() {
    const box = byId("ribbons");
    if (box && box !== watched) { watcher.disconnect(); watcher.observe(box); watched = box; told = ""; }
    if (!box) watched = null;
    led(plotOf());
    labelled();
    asked();
    slid();
    measured();
  }
  document.addEventListener("drawn", seen);
  document.addEventListener("DOMContentLoaded", asked);
})();
