"use strict";
(() => {
  const form = document.getElementById("entries");
  if (!form) return;
  const result = document.getElementById("result");
  const file = document.querySelector("#yaml pre");
  const verdict = document.getElementById("verdict");
  const needed = JSON.parse(form.dataset.needed);
  const PAUSE = 300, LONGEST = 10000;
  let typed = 0, waiting = 0;
  let unsaved = [...form.elements].some((each) => each.value);

  // What stands there is dimmed from the first key on, and gone if it cannot be replaced.
  const changed = () => {
    typed += 1;
    unsaved = true;
    result.setAttribute("aria-busy", "true");
    verdict.textContent = "Checking";
    clearTimeout(waiting);
    waiting = setTimeout(check, PAUSE);
  };

  const entries = () => {
    const given = new FormData(form);
    given.delete("file");
    return given;
  };

  const check = async () => {
    const mine = typed;
    const ending = new AbortController();
    const late = setTimeout(() => ending.abort(), LONGEST);
    let shown = null;
    try {
      const answer = await fetch(form.dataset.check, {
        method: "POST",
        body: new URLSearchParams(entries()),
        signal: ending.signal,
      });
      if (answer.ok) shown = await answer.json();
    } catch (error) {
      shown = null;
    } finally {
      clearTimeout(late);
    }
    if (mine !== typed) return;
    if (shown) {
      result.innerHTML = shown.result;
      verdict.textContent = shown.verdict;
      file.textContent = shown.yaml;
    } else {
      const box = document.createElement("div");
      box.className = "verdict incomplete";
      box.innerHTML = "<p class=stated>Not checked</p><p>The check did not answer. Nothing is known of what stands in the form.</p>";
      result.replaceChildren(box);
      verdict.textContent = "Not checked";
      file.textContent = "";
    }
    result.setAttribute("aria-busy", "false");
  };

  // The sections that the therapy needs are open; one with something in it stays as it is.
  const unfold = () => {
    const keys = needed[form.elements.therapy.value] || [];
    for (const part of form.querySelectorAll("details")) {
      const filled = [...part.querySelectorAll("input, select, textarea")].some((each) => each.value);
      if (!filled) part.open = keys.includes(part.dataset.key);
    }
  };

  // The down arrow fills in the first phrase that begins as the text does, then the next.
  const offer = (event) => {
    const list = document.getElementById(event.target.dataset.phrases || "");
    if (!list || (event.key !== "ArrowDown" && event.key !== "ArrowUp")) return;
    const field = event.target;
    if (field.dataset.begun === undefined) field.dataset.begun = field.value;
    const begun = field.dataset.begun.toLowerCase();
    const phrases = [...list.options].map((each) => each.value);
    const fitting = phrases.filter((each) => each.toLowerCase().includes(begun));
    if (!fitting.length || (field.tagName === "TEXTAREA" && field.value.includes("\n"))) return;
    event.preventDefault();
    const step = event.key === "ArrowDown" ? 1 : -1;
    const at = fitting.indexOf(field.value);
    field.value = fitting[at < 0 ? 0 : (at + step + fitting.length) % fitting.length];
    changed();
  };

  form.addEventListener("input", (event) => {
    delete event.target.dataset.begun;
    if (event.target.name === "therapy") unfold();
    changed();
  });
  form.addEventListener("keydown", offer);

  // Enter in a field and the button check where they stand, and go nowhere.
  form.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (button && button.hasAttribute("formaction")) {
      // The two that open a tab leave all as it is; what is opened or saved is not lost.
      if (button.formTarget !== "_blank") unsaved = false;
      return;
    }
    event.preventDefault();
    const was = unsaved;
    changed();
    unsaved = was;
    clearTimeout(waiting);
    check();
  });
  window.addEventListener("beforeunload", (event) => {
    if (unsaved) event.preventDefault();
  });

  const opening = document.getElementById("open");
  const read = async (taken) => {
    document.getElementById("file").value = await taken.text();
    form.requestSubmit(opening);
  };
  for (const kind of ["dragover", "drop"]) {
    document.addEventListener(kind, (event) => {
      if (!event.dataTransfer || !event.dataTransfer.types.includes("Files")) return;
      event.preventDefault();
      if (kind === "drop" && event.dataTransfer.files.length) read(event.dataTransfer.files[0]);
    });
  }
})();
