"use strict";
/* A photograph is taken or chosen, and sent at once; what was wrong with it is said. */
(() => {
  const said = (text) => new DOMParser().parseFromString(text, "text/html").querySelector(".problem")?.textContent;
  /* one for a product that is not saved yet: its name waits in the form */
  function named(button, told) {
    window.dash_clientside.set_props(JSON.parse(button.dataset.names), { value: told.name });
    document.getElementById("label-taken").textContent = told.said;
  }
  async function send(button, file) {
    const words = document.getElementById("photograph-words"), body = new FormData();
    body.set("file", file);
    body.set("words", words?.value ?? "");
    body.set("once", String(Math.random()).slice(2));
    button.disabled = true;
    window.curewatch.toast("Sending the photograph …");
    try {
      const answer = await fetch(button.dataset.photograph, { method: "POST", body, headers: { "X-Live": "1" } });
      if (answer.status === 401) { location.assign("/login?lost=1"); return; }
      if (!answer.ok) { window.curewatch.toast(said(await answer.text()) || "Not recorded. Try again."); return; }
      const told = await answer.json();
      window.curewatch.toast(told.said, told.act, told.label);
      if (told.name) { named(button, told); return; }
      document.dispatchEvent(new CustomEvent("sent"));
      window.curewatch.fresh();
    } catch { window.curewatch.toast("Not recorded: no answer. Try again."); } finally { button.disabled = false; }
  }
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-photograph]");
    if (!button) return;
    const box = Object.assign(document.createElement("input"), { type: "file", accept: "image/jpeg,image/png,image/webp" });
    if (button.dataset.capture) box.setAttribute("capture", button.dataset.capture);
    box.addEventListener("change", () => { if (box.files[0]) send(button, box.files[0]); });
    box.click();
  });
})();
