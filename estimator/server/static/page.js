"use strict";
/* Swaps the answer for what is set. One request is under way, the newest entries win, the last are always answered.
   No figure is made here: whatever stands on the page came from the server for exactly these entries. */
(() => {
  const form = document.getElementById("entries");
  const gone = document.getElementById("gone");
  const spoken = document.getElementById("spoken");
  if (!form) return;
  const answer = document.getElementById("answer");
  const slide = form.querySelector("[data-slides]");
  const field = slide && document.getElementById(slide.dataset.slides);
  const fixed = new Map(); // work fixed by a tap that has no field of its own on the page

  const begun = entriesOf(form);
  const opened = new Map(); // which parts of the answer were opened
  let shown = null, busy = false, waiting = false, speak = 0;

  function entriesOf(of) {
    return Array.from(new FormData(of).entries()).map(([n, v]) => [n, String(v)]);
  }
  /* Only what differs from how the page came, and what was in its address, so that the address stays short. */
  function query() {
    const came = new Map(begun), had = new URLSearchParams(location.search), out = new URLSearchParams();
    const now = entriesOf(form), names = new Set(now.map(([n]) => n));
    for (const [name, value] of now) {
      const plain = form.querySelector(`[name="${CSS.escape(name)}"]`).dataset.default;
      const same = plain !== undefined ? value === plain : came.get(name) === value && !had.has(name);
      if (!same) out.append(name, value);
    }
    for (const [name, value] of had) if (name.startsWith("do.") && !names.has(name) && !fixed.has(name)) out.append(name, value);
    for (const [name, value] of fixed) out.append(name, value);
    return out.toString();
  }
  const stale = (on) => { answer.classList.toggle("stale", on); answer.setAttribute("aria-busy", String(on)); };

  async function ask() {
    if (busy) return;
    busy = true;
    try {
      for (let wanted = query(); wanted !== shown; wanted = query()) {
        const slow = setTimeout(() => late(true), 150);
        try {
          const got = await fetch(`${form.dataset.answer}?${wanted}`);
          if (!got.ok && got.status !== 422) throw new Error(String(got.status));
          const html = await got.text();
          waiting = html.includes('data-later="answer"') && answer.querySelector("[data-figure], .trouble") !== null;
          if (!waiting) swap(html);
          shown = wanted;
          history.replaceState(null, "", wanted ? `?${wanted}` : location.pathname);
          carry(wanted);
          gone.hidden = true;
        } catch (error) {
          gone.hidden = false;
          break;
        } finally { clearTimeout(slow); }
      }
    } finally { busy = false; }
    if (query() !== shown) { late(false); return; } // the server is gone: what is on the page stays marked as old
    late(waiting);
    if (!waiting) { stale(false); say(); }
    later();
  }
  const late = (on) => answer.classList.toggle("late", on);

  function swap(html) {
    const focus = document.activeElement && answer.contains(document.activeElement) ? document.activeElement.id : "";
    for (const d of answer.querySelectorAll("details")) opened.set(d.id, d.open);
    answer.innerHTML = html;
    for (const d of answer.querySelectorAll("details")) if (opened.get(d.id)) d.open = true;
    if (focus) (document.getElementById(focus) || answer.querySelector("h2[tabindex]") || form).focus();
    document.body.classList.toggle("looking", !form.elements.looking || form.elements.looking.checked);
    if (field) slideTo(field.value);
  }
  function carry(wanted) {
    for (const input of document.querySelectorAll("[data-carry] [name=entries]")) input.value = wanted;
    for (const link of document.querySelectorAll("[data-with-entries]")) link.href = link.dataset.withEntries + (wanted ? `?${wanted}` : "");
  }
  function say() {
    clearTimeout(speak);
    const told = answer.querySelector("[data-spoken]");
    speak = setTimeout(() => { spoken.textContent = told ? told.dataset.spoken : (answer.querySelector("h2") || {}).textContent || ""; }, 700);
  }
  /* What takes longer is asked for once the entries have come to rest, and dropped if they moved meanwhile. */
  let asked = null;
  async function later() {
    if (busy || !(waiting || answer.querySelector("[data-later]"))) return;
    const wanted = query();
    if (asked === wanted) return;
    asked = wanted;
    try {
      const got = await fetch(`${form.dataset.answer}?${wanted}${wanted ? "&" : ""}wait=1`);
      if (!got.ok && got.status !== 422) throw new Error(String(got.status));
      const html = await got.text();
      if (query() === wanted && shown === wanted && !busy) {
        waiting = false;
        swap(html);
        late(false);
        stale(false);
        say();
      }
    } catch (error) { gone.hidden = false; }
    finally { if (asked === wanted) asked = null; }
    if (gone.hidden && query() === shown) later();
  }
  function slideTo(text) {
    const value = text.replace(",", ".");
    slide.value = value === "" ? slide.max : value;
  }
  function moved() { if (query() !== shown) { stale(true); ask(); } else if (!busy && !waiting) stale(false); }

  if (slide) {
    slide.hidden = false;
    slideTo(field.value);
    slide.addEventListener("input", () => { field.value = slide.value; moved(); });
    field.addEventListener("input", () => slideTo(field.value));
  }
  form.addEventListener("input", moved);
  form.addEventListener("change", moved);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const by = event.submitter;
    if (by && by.dataset.set !== undefined) set(by.name, by.value);
    moved();
  });
  function set(name, value) {
    const input = form.querySelector(`[name="${CSS.escape(name)}"]`);
    if (input) input.value = value; else fixed.set(name, value);
  }
  document.getElementById("again").addEventListener("click", () => { shown = null; stale(true); ask(); });
  document.getElementById("work-out").classList.add("unseen-until-focus");
  shown = query();
  carry(shown);
  document.documentElement.dataset.ready = "yes";
  later();
})();
