// The product's form: what its chemistry can contain is ticked, until a hand ticks otherwise.
"use strict";
(() => {
  const chemistry = document.querySelector('select[name="chemistry"]');
  const boxes = [...document.querySelectorAll('input[name^="hazards."]')];
  const touched = new Set();
  const contains = () => chemistry.selectedOptions[0].dataset.contains.split(" ");
  const name = (box) => box.name.slice("hazards.".length);
  const first = contains();
  const more = boxes.filter((box) => box.checked && !first.includes(name(box)));

  for (const box of boxes) box.addEventListener("change", () => touched.add(box));
  chemistry.addEventListener("change", () => {
    const held = contains();
    for (const box of boxes) {
      if (!touched.has(box)) box.checked = held.includes(name(box)) || more.includes(box);
    }
  });
})();
