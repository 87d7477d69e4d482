"use strict";
(() => {
  const form = document.getElementById("entries");
  if (!form) return;
  const result = document.getElementById("result");
  const file = document.querySelector("#yaml pre");
  const noFile = document.getElementById("no-file");
  const verdict = document.getElementById("verdict");
  const said = document.getElementById("said");
  const needed = JSON.parse(form.dataset.needed);
  const PAUSE = 300, LONGEST = 10000;
  const SILENT = "The check did not answer. Nothing is known of what stands in the form.";
  let typed = 0, waiting = 0;
  const isEntry = (each) => !["checkbox", "hidden", "submit"].includes(each.type) && each.value;
  let unsaved = [...form.elements].some(isEntry);

  const upload = document.getElementById("upload");
  const pasted = document.getElementById("file");

  // What waits to be opened, in words; beside it the verdict of the order before would be read as its own.
  const unopened = () => {
    const row = document.getElementById("row");
    if (upload.files.length) return `${upload.files[0].name} is chosen and not opened.`;
    if (pasted.value.trim()) return "What is pasted is not opened.";
    return row && row.value ? "The row that is picked is not opened." : "";
  };

  // What stands there is dimmed from the first key on, and gone if it cannot be replaced.
  const changed = () => {
    typed += 1;
    unsaved = true;
    if (unopened()) {
      clearTimeout(waiting);
      show({ why: unopened() });
      return;
    }
    result.setAttribute("aria-busy", "true");
    verdict.textContent = "Checking";
    clearTimeout(waiting);
    waiting = setTimeout(check, PAUSE);
  };

  const entries = () => {
    const given = new FormData(form);
    for (const name of ["file", "upload", "table", "row", "replaced"]) given.delete(name);
    return given;
  };

  // At a field, what whoever types must put right first.
  const tell = (troubles) => {
    for (const place of form.querySelectorAll(".trouble[id$='-trouble']")) {
      const path = place.id.slice(0, -"-trouble".length), said = troubles[path] || "";
      if (place.textContent !== said) place.textContent = said;
      const field = document.getElementById(path);
      if (said) field.setAttribute("aria-invalid", "true");
      else field.removeAttribute("aria-invalid");
    }
  };

  // What the check says of the entries; null where it does not answer.
  const asked = async () => {
    const ending = new AbortController();
    const late = setTimeout(() => ending.abort(), LONGEST);
    try {
      const answer = await fetch(form.dataset.check, {
        method: "POST",
        body: new URLSearchParams(entries()),
        signal: ending.signal,
      });
      return answer.ok ? await answer.json() : null;
    } catch (error) {
      return null;
    } finally {
      clearTimeout(late);
    }
  };

  // With `why` alone, nothing is said but that it is not checked.
  const show = (shown) => {
    if (shown.troubles) tell(shown.troubles);
    const from = document.querySelector(".opened h2");
    if (from && shown.opened) from.textContent = shown.opened;
    file.textContent = shown.yaml || "";
    noFile.textContent = shown.no_file || "";
    verdict.textContent = shown.verdict || "Not checked";
    if (shown.why) {
      const box = document.createElement("div");
      box.className = "verdict incomplete";
      box.innerHTML = "<p class=stated>Not checked</p><p></p>";
      box.lastChild.textContent = shown.why;
      result.replaceChildren(box);
    } else {
      result.innerHTML = shown.result;
    }
    result.setAttribute("aria-busy", "false");
    // Whoever hears the page is told the verdict, and reads the rest at the link.
    if (said.textContent !== verdict.textContent) said.textContent = verdict.textContent;
  };

  const check = async () => {
    const mine = typed;
    const shown = await asked();
    if (mine !== typed) return shown;
    if (!shown) show({ why: SILENT, troubles: {} });
    else show(unopened() ? { why: unopened() } : shown);
    return shown;
  };

  // The sections that the therapy needs are open; one with something in it stays as it is.
  const unfold = () => {
    const keys = needed[form.elements.therapy.value] || [];
    for (const part of form.querySelectorAll("details[data-key]")) {
      const filled = [...part.querySelectorAll("input, select, textarea")].some(isEntry);
      if (!filled) part.open = keys.includes(part.dataset.key);
    }
  };

  // The down arrow shows the phrases that have in them what is typed; Enter alone writes one.
  const list = document.createElement("ul");
  list.id = "phrases";
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Words to choose from");
  let owner = null, at = 0;

  const fold = () => {
    if (!owner) return;
    owner.removeAttribute("aria-activedescendant");
    owner.removeAttribute("aria-controls");
    if (owner.tagName === "INPUT") owner.setAttribute("aria-expanded", "false");
    list.remove();
    owner = null;
  };

  const mark = (index) => {
    const options = list.children;
    at = (index + options.length) % options.length;
    [...options].forEach((each, i) => each.setAttribute("aria-selected", String(i === at)));
    options[at].scrollIntoView({ block: "nearest" });
    owner.setAttribute("aria-activedescendant", options[at].id);
  };

  const fitting = (field) => {
    const phrases = [...document.getElementById(field.dataset.phrases).options].map((each) => each.value);
    if (phrases.includes(field.value)) return phrases;
    const typed = field.value.toLowerCase();
    return phrases.filter((each) => each.toLowerCase().includes(typed));
  };

  const offerAll = (field) => {
    const phrases = fitting(field);
    fold();
    if (!phrases.length) return false;
    list.replaceChildren(...phrases.map((phrase, i) => {
      const option = document.createElement("li");
      option.id = `phrase-${i}`;
      option.setAttribute("role", "option");
      option.textContent = phrase;
      return option;
    }));
    owner = field;
    field.after(list);
    field.setAttribute("aria-controls", list.id);
    if (field.tagName === "INPUT") field.setAttribute("aria-expanded", "true");
    mark(0);
    return true;
  };

  const take = () => {
    owner.value = list.children[at].textContent;
    fold();
    changed();
  };

  const offer = (event) => {
    const field = event.target, open = owner === field;
    if (!field.dataset.phrases || event.isComposing) return;
    const acts = open
      ? { ArrowDown: () => mark(at + 1), ArrowUp: () => mark(at - 1), Enter: take, Escape: fold }
      : { ArrowDown: () => offerAll(field) };
    if (!Object.hasOwn(acts, event.key) || (!open && field.value.includes("\n"))) return;
    if (acts[event.key]() !== false) event.preventDefault();
  };

  for (const field of form.querySelectorAll("[data-phrases]")) {
    field.setAttribute("aria-haspopup", "listbox");
    if (field.tagName !== "INPUT") continue;
    field.setAttribute("role", "combobox");
    field.setAttribute("aria-autocomplete", "list");
    field.setAttribute("aria-expanded", "false");
  }
  // A finger or a mouse takes one as well; the press must not leave the field first.
  list.addEventListener("mousedown", (event) => event.preventDefault());
  list.addEventListener("click", (event) => {
    const index = [...list.children].indexOf(event.target);
    if (index < 0) return;
    at = index;
    take();
  });
  form.addEventListener("focusout", fold);

  form.addEventListener("input", (event) => {
    if (owner) offerAll(owner);
    if (event.target.name === "therapy") unfold();
    changed();
  });
  form.addEventListener("keydown", offer);

  const undone = document.getElementById("undone");

  // What is too much to be sent would come back as a page without what was entered.
  const tooMuch = () => {
    const chosen = upload.files.length ? upload.files[0].size : 0;
    const sent = chosen + new Blob([new URLSearchParams(entries()), pasted.value]).size;
    const most = Number(upload.dataset.most) - 20000;
    return sent > most ? `This is longer than ${Math.floor(most / 1000)} kB, the most that is read here.` : "";
  };

  const leave = (button, why) => {
    undone.textContent = why && `Not done: ${why} What was entered stands where it did.`;
    button.closest("p").after(undone);
    const part = button.closest("details");
    if (why && part) part.open = true;
  };

  // What leaves the page is sent once somebody answers, so that it is not left for nothing.
  let answers = false;
  const send = async (button) => {
    answers = Boolean(await check());
    if (answers) form.requestSubmit(button);
    else leave(button, "the program behind this page does not answer.");
    answers = false;
  };

  // Enter in a field and the button check where they stand, and go nowhere.
  form.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (button && button.hasAttribute("formaction")) {
      const why = tooMuch();
      leave(button, why);
      if (why) takeBack();
      // The two that open a tab leave all as it is; what is opened or saved is not lost.
      if (!why && button.formTarget === "_blank") return;
      if (!why && answers) {
        unsaved = false;
        return;
      }
      event.preventDefault();
      if (!why) send(button);
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

  const openIt = () => {
    changed();
    form.requestSubmit(document.getElementById("open"));
  };

  // The file goes as it is: what is no text is told where it is none.
  for (const kind of ["dragover", "drop"]) {
    document.addEventListener(kind, (event) => {
      if (!event.dataTransfer || !event.dataTransfer.types.includes("Files")) return;
      event.preventDefault();
      if (kind !== "drop" || !event.dataTransfer.files.length) return;
      upload.files = event.dataTransfer.files;
      openIt();
    });
  }
  upload.addEventListener("change", () => upload.files.length && openIt());

  // One that is too large can only be taken back; the verdict stays away until the next check.
  const takeBack = () => {
    if (!upload.files.length) return;
    const name = upload.files[0].name;
    upload.value = "";
    show({ why: `${name} is not opened.` });
  };
})();
