// The few lines that the page needs beside htmx. Everything works without them, less smoothly.
"use strict";

// A form that was sent is not sent twice: its button waits for the answer.
document.addEventListener("submit", (event) => {
  const button = event.submitter;
  if (!button || event.target.dataset.again !== undefined) return;
  setTimeout(() => {
    button.setAttribute("aria-disabled", "true");
    button.dataset.word = button.textContent;
    if (button.dataset.waiting) button.textContent = button.dataset.waiting;
  });
});
document.addEventListener("click", (event) => {
  if (event.target.closest?.("[aria-disabled=true]")) event.preventDefault();
});
// Groups that were open stay open when the form comes back with a row more or less.
const groups = () => [...document.querySelectorAll("details.group")].filter((group) => group.querySelector(".now"));
const inside = (group) => group.querySelector(".now").id;
let unfolded = [];
document.addEventListener("htmx:beforeSwap", () => {
  unfolded = groups().filter((group) => group.open).map(inside);
});
document.addEventListener("htmx:afterSwap", () => {
  for (const group of groups()) if (unfolded.includes(inside(group))) group.open = true;
});
// A page that comes back from the browser's memory has its buttons back.
window.addEventListener("pageshow", () => {
  for (const button of document.querySelectorAll("[aria-disabled=true][data-word]")) {
    button.removeAttribute("aria-disabled");
    button.textContent = button.dataset.word;
  }
});
// A field whose message came or went while somebody typed says so itself.
document.addEventListener("htmx:afterOnLoad", () => {
  for (const told of document.querySelectorAll(".told[data-wrong]")) {
    const field = document.getElementById(told.id.replace(/^e-/, "f-"));
    if (told.dataset.wrong === "true") field?.setAttribute("aria-invalid", "true");
    else field?.removeAttribute("aria-invalid");
  }
});

// Escape closes what was opened beside an item, and goes back to its name.
document.addEventListener("keydown", (event) => {
  const open = event.key === "Escape" && document.querySelector("details.acts[open]");
  if (!open) return;
  open.open = false;
  open.querySelector("summary").focus();
});
