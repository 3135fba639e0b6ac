// The listening page alive: new numbers come, known ones change; a form under a hand is left alone.
"use strict";
(() => {
  const EVERY_MS = 1000;
  const place = () => document.getElementById("heard");

  function renew(old, fresh) {
    const now = [...fresh.querySelectorAll("[data-live]")];
    old.querySelectorAll("[data-live]").forEach((each, at) => {
      if (now[at] && each.innerHTML !== now[at].innerHTML) each.replaceWith(now[at].cloneNode(true));
    });
  }

  function merge(section, fresh) {
    section.hidden = fresh.hidden;
    const kept = new Set();
    for (const article of fresh.querySelectorAll("article")) {
      kept.add(article.id);
      const old = document.getElementById(article.id);
      if (old && section.contains(old)) renew(old, article);
      else section.append(article.cloneNode(true));
    }
    for (const article of section.querySelectorAll("article")) {
      if (!kept.has(article.id)) article.remove();
    }
  }

  async function look() {
    if (document.hidden) return;
    const answer = await fetch("/air/listen/heard", { headers: { "X-Live": "1" } });
    if (!answer.ok) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    const [was, is] = [document.getElementById("listening"), fresh.getElementById("listening")];
    if ((was.dataset.left === "0") !== (is.dataset.left === "0")) was.replaceWith(is.cloneNode(true));
    else if (is.dataset.left !== "0") was.querySelector("[role=status]").innerHTML = is.querySelector("[role=status]").innerHTML;
    const teach = place().querySelector(":scope > .teach");
    if (teach && !fresh.querySelector(".teach")) teach.remove();
    for (const name of ["useful", "taken", "rest"]) merge(document.getElementById(name), fresh.getElementById(name));
  }

  async function go() {
    try {
      if (document.getElementById("listening").dataset.left !== "0") await look();
    } catch { /* the page says by itself when the server is away */ }
    setTimeout(go, EVERY_MS);
  }
  document.addEventListener("DOMContentLoaded", go);
})();
