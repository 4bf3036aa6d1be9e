// The board's own lines: a moved handle asks the linear program at once. Without them the form asks by its button.
"use strict";
(() => {
  const form = document.getElementById("board");
  if (!form) return;
  const by = (id) => document.getElementById(id);
  const numbers = [...form.querySelectorAll("input[type=number]")];
  const range = (number) => by(number.id.replace(/-n$/, "-r"));
  const unit = (number) => by(number.id.replace(/-n$/, "-u")).textContent;
  const atOnce = by("at-once");

  // Asking: one question under way, the newest waits, whatever lies between is dropped.
  const PAUSE = 60, REST = 350;
  let turn = 0, under = false, waiting = false, last = 0, timer = 0, rest = 0;

  const fields = (full) => {
    const body = new URLSearchParams(new FormData(form));
    for (const key of ["do", "one", "two"]) body.delete(key);
    if (full) body.set("full", "yes");
    return body;
  };

  const show = (answer, aloud) => {
    by("figure").innerHTML = answer.figure;
    by("rest").innerHTML = answer.rest;
    form.classList.toggle("never", !answer.open);
    for (const row of form.querySelectorAll(".handle")) {
      const words = answer.tells[row.dataset.handle] || "";
      const tells = row.querySelector(".tells");
      if (tells.textContent !== words) tells.textContent = words;
      row.classList.toggle("binds", words !== "" && words !== "Costs nothing here.");
    }
    if (aloud) by("heard").textContent = answer.said;
  };

  const ask = async (full) => {
    if (under) { waiting = true; return; }
    under = true;
    waiting = false;
    last = performance.now();
    const mine = turn;
    try {
      const reply = await fetch(form.dataset.live, { method: "POST", body: fields(full) });
      if (reply.status === 409) {
        by("figure").innerHTML = "<p class=change>The brief was changed elsewhere. <a href=\"\">See it as it is now.</a></p>";
      } else if (reply.ok) {
        const answer = await reply.json();
        if (mine === turn || !full) show(answer, full && mine === turn);
      }
    } catch {
      by("figure").innerHTML = "<p class=change>The page is no longer served: start it again.</p>";
    }
    under = false;
    if (waiting) soon();
  };

  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(() => ask(false), Math.max(0, PAUSE - (performance.now() - last)));
  };

  const moved = () => {
    turn += 1;
    soon();
    clearTimeout(rest);
    rest = setTimeout(function settle() {
      if (under) rest = setTimeout(settle, PAUSE);
      else ask(true);
    }, REST);
  };

  const mark = (number) => {
    const row = number.closest(".handle");
    row.classList.toggle("moved", number.value !== number.dataset.now);
    const r = range(number);
    r.setAttribute("aria-valuetext", `${number.value} ${unit(number)}`);
  };

  for (const number of numbers) {
    const r = range(number);
    r.hidden = false;
    r.disabled = false;
    r.addEventListener("input", () => {
      // The thumb at the mark is the brief's own figure, which need not be a whole step.
      const now = number.dataset.now;
      number.value = now !== "" && Math.abs(r.value - now) < r.step / 2 ? now : r.value;
      mark(number);
      moved();
    });
    number.addEventListener("input", () => {
      r.value = number.value === "" ? number.dataset.now || r.max : number.value;
      mark(number);
      moved();
    });
    r.addEventListener("pointerup", () => {
      if (atOnce.checked && number.value !== number.dataset.now) setTimeout(() => by("plan").click());
    });
    if (number.value !== number.dataset.now) mark(number);
  }
  by("letting").hidden = false;
  by("ask").hidden = true;

  by("back").addEventListener("click", (event) => {
    event.preventDefault();
    for (const number of numbers) {
      number.value = number.dataset.now;
      range(number).value = number.dataset.now || range(number).max;
      mark(number);
    }
    moved();
  });

  // The way from what binds to its handle, also into what is folded up.
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("#rest a[href^='#h-']");
    if (!link) return;
    const row = by(link.getAttribute("href").slice(1));
    if (!row) return;
    event.preventDefault();
    const fold = row.closest("details");
    if (fold) fold.open = true;
    row.scrollIntoView({ block: "center" });
    row.querySelector("input[type=range]").focus({ preventScroll: true });
  });

  // Drawing changes its own part of the page alone.
  form.addEventListener("submit", async (event) => {
    const button = event.submitter;
    if (button?.value === "show") {
      event.preventDefault();
      ask(true);
      return;
    }
    if (!button || button.getAttribute("aria-disabled") === "true") { event.preventDefault(); return; }
    button.setAttribute("aria-disabled", "true");
    button.dataset.word = button.textContent;
    button.textContent = button.dataset.waiting || button.textContent;
    if (button.value !== "draw") return;
    event.preventDefault();
    const body = new URLSearchParams(new FormData(form));
    body.set("do", "draw");
    try {
      const reply = await fetch(form.action, { method: "POST", body });
      const page = new DOMParser().parseFromString(await reply.text(), "text/html");
      const drawn = page.getElementById("drawn");
      by("drawn").replaceChildren(...(drawn ? drawn.childNodes : page.getElementById("main").childNodes));
    } finally {
      button.removeAttribute("aria-disabled");
      button.textContent = button.dataset.word;
    }
  });

  // A page that came without its first answer, or back from the browser's memory, asks for it.
  if (form.dataset.asked === "no" || numbers.some((n) => n.value !== n.dataset.now)) ask(true);
})();
