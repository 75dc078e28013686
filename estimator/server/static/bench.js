"use strict";
/* Bench mode. A tap is put into a line with a word of its own and the time at which it was made, and sent from there:
   in order, each until it was answered. The server counts each word once, so sending twice does no harm. What has not
   been sent is shown, and is still here when the page is opened again. No figure is made here but the ticking clock. */
(() => {
  const LINE = "bench-tap-", REFUSED = "bench-refused", BOUNCE_MS = 600, POLL_MS = 15000, WAIT_MS = [500, 1000, 2000, 4000, 8000];
  const $ = (id) => document.getElementById(id);
  let main = $("main");
  document.documentElement.classList.add("scripted");
  const read = (name) => { try { return JSON.parse(localStorage.getItem(name) || "[]"); } catch (error) { return []; } };
  const keep = (name, what) => { try { localStorage.setItem(name, JSON.stringify(what)); } catch (error) { /* then it lives as long as the page */ } };
  /* Each tap has an entry of its own, so that two tabs never write over each other's. */
  const store = (tap) => { try { localStorage.setItem(LINE + tap.key, JSON.stringify(tap)); } catch (error) { /* then it lives as long as the page */ } };
  const drop = (tap) => { try { localStorage.removeItem(LINE + tap.key); } catch (error) { /* there is none */ } };
  function stored() {
    const found = [];
    try { for (let i = 0; i < localStorage.length; i += 1) if (localStorage.key(i).startsWith(LINE)) found.push(JSON.parse(localStorage.getItem(localStorage.key(i)))); } catch (error) { /* nothing is kept here */ }
    return found.sort((a, b) => a.at - b.at);
  }
  let line = stored(), refused = read(REFUSED);
  const photos = new Map(), pages = new Map(); // an old page is better than none while nothing can be reached
  const fresh = new Set();
  let word = main.dataset.word, heard = main.dataset.now, sending = false, away = false, failures = 0, unpaired = false, again = 0;
  let came = performance.now(), hush = 0;

  const key = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");
  const clockTime = (at) => new Date(at).toTimeString().slice(0, 8);
  function tell(words) {
    $("said").textContent = words;
    clearTimeout(hush);
    hush = setTimeout(() => { $("said").textContent = ""; }, 4000);
  }
  /* How long ago it was, by the one clock of this device; where that was set back meanwhile, by the one that never is. */
  function age(tap) {
    const by = Date.now() - tap.at;
    return Math.max(0, Math.round(tap.origin === performance.timeOrigin ? Math.max(by, performance.now() - tap.mono) : by));
  }

  function put(form) {
    const data = new FormData(form), fields = [];
    let photo = null;
    for (const [name, value] of data) {
      if (name === "key") continue;
      if (value instanceof File) photo = value; else fields.push([name, value]);
    }
    const tap = { key: key(), at: Date.now(), mono: performance.now(), origin: performance.timeOrigin, after: heard, fields, photo: photo !== null, say: form.dataset.say || "" };
    if (photo) photos.set(tap.key, photo);
    line.push(tap);
    store(tap);
    show();
    overlay();
    awake();
    send();
  }
  const of = (tap, name) => (tap.fields.find(([n]) => n === name) || ["", ""])[1];

  async function send() {
    if (sending) return;
    sending = true;
    clearTimeout(again);
    let sent = 0;
    try {
      while (line.length && !unpaired) {
        const tap = line[0];
        const how = await one(tap);
        if (how === "later") break;
        if (how === "anew") continue;
        line = line.filter((other) => other.key !== tap.key);
        photos.delete(tap.key);
        drop(tap);
        sent += 1;
        show();
      }
    } finally { sending = false; }
    show();
    if (line.length && !unpaired) again = setTimeout(send, WAIT_MS[Math.min(failures, WAIT_MS.length - 1)]);
    else if (sent) { fresh.clear(); await refresh(); }
  }
  function turn(tap, why) {
    refused.push({ say: tap.say, at: tap.at, task: of(tap, "task"), why });
    keep(REFUSED, refused);
  }
  async function one(tap) {
    const body = new FormData();
    for (const [name, value] of tap.fields) body.append(name, value);
    body.append("key", tap.key); body.append("by", "script"); body.append("age", String(age(tap))); body.append("after", tap.after);
    if (tap.photo) {
      if (!photos.has(tap.key)) { turn(tap, "the photo was lost when the page was closed: take it again"); return "done"; }
      body.append("photo", await small(tap), "photo.jpg");
    }
    let got;
    try { got = await fetch(`/bench/tap${tap.photo ? "/photo" : ""}?word=${word}`, { method: "POST", body: tap.photo ? body : new URLSearchParams(body), signal: AbortSignal.timeout(20000) }); }
    catch (error) { lost(); return "later"; }
    if (got.status === 401) { unpaired = true; show(); return "later"; }
    if (got.status === 403) return (await newWord()) ? "anew" : "later";
    if (got.status >= 500 || got.status === 421) { lost(); return "later"; }
    found();
    let told = {};
    try { told = await got.json(); } catch (error) { told = { refused: [`the estimator did not take it (${got.status})`] }; }
    if (got.ok) tell(told.told || "Recorded."); else turn(tap, (told.refused || []).join("; "));
    return "done";
  }
  /* Smaller, and without what a camera writes beside the picture (the place among it). */
  async function small(tap) {
    const photo = photos.get(tap.key);
    if (tap.made) return photo;
    try {
      const picture = await createImageBitmap(photo), by = Math.min(1, 1800 / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.round(picture.width * by); canvas.height = Math.round(picture.height * by);
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      const made = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
      if (made) { photos.set(tap.key, made); tap.made = true; return made; }
    } catch (error) { /* then it is sent as it is, and the server says what it takes */ }
    tap.made = true;
    return photo;
  }
  let words = 0;
  async function newWord() {
    words += 1;
    if (words > 3) { failures = WAIT_MS.length; words = 0; return false; }
    const text = await page(location.pathname + location.search);
    return text !== null;
  }
  const lost = () => { away = true; failures += 1; };
  function found() { if (away) tell("The estimator is there again."); away = false; failures = 0; words = 0; }

  /* A page as text; null where it cannot be had. */
  async function page(url) {
    let got;
    try { got = await fetch(url, { signal: AbortSignal.timeout(60000) }); } catch (error) { lost(); show(); return null; }
    if (got.status === 401 || got.redirected && new URL(got.url).pathname === "/pair") { unpaired = true; show(); return null; }
    if (got.status >= 500) { lost(); show(); return null; }
    const text = await got.text();
    const there = new DOMParser().parseFromString(text, "text/html").getElementById("main");
    if (!there) return null;
    found();
    word = there.dataset.word; heard = there.dataset.now;
    if (got.ok) { pages.set(url, text); fresh.add(url); }
    return text;
  }
  function swap(text) {
    const next = new DOMParser().parseFromString(text, "text/html").getElementById("main");
    const typed = new Map(), open = new Set(), old = document.activeElement && document.activeElement.id, same = about(next) === about(main);
    if (same) {
      for (const input of main.querySelectorAll("input[id], select[id]")) if (input.type !== "file" && !sentNow.has(input.id) && changed(input)) typed.set(input.id, input.value);
      for (const d of main.querySelectorAll("details[open]")) open.add(d.id);
    }
    const figures = same ? main.querySelector("#figures") : null;
    main.replaceWith(next);
    main = next;
    came = performance.now();
    for (const [id, value] of typed) if ($(id)) $(id).value = value;
    for (const id of open) if ($(id)) $(id).open = true;
    const place = main.querySelector("[data-later]");
    if (place && figures) place.replaceChildren(figures);
    sentNow.clear();
    if (old && $(old)) $(old).focus({ preventScroll: true });
    document.title = main.querySelector("h1") ? main.querySelector("h1").textContent : document.title;
    overlay();
    later();
  }
  const sentNow = new Set();
  const about = (of) => [of.querySelector("h1")?.textContent, of.querySelector("#clock")?.dataset.job, of.querySelector("#clock")?.dataset.task].join("\n");
  const changed = (input) => input.tagName === "SELECT" ? !input.options[input.selectedIndex]?.defaultSelected && input.selectedIndex > 0 : input.value !== input.defaultValue;

  async function go(url, push) {
    document.documentElement.dataset.going = "yes";
    try { await goes(url, push); } finally { document.documentElement.dataset.going = ""; }
  }
  async function goes(url, push) {
    const text = (await page(url)) ?? pages.get(url) ?? null;
    if (text === null) { tell(unpaired ? "Pair this phone again." : "The estimator cannot be reached, and this page was not open before. Taps are kept."); return; }
    await lifted();
    if (push) history.pushState(null, "", url);
    swap(text);
    scrollTo(0, 0);
  }
  async function refresh() {
    const url = location.pathname + location.search;
    const text = await page(url);
    await lifted();
    if (text !== null && !line.length && url === location.pathname + location.search) swap(text);
  }
  /* Nothing is changed under a finger that is down: its tap would go nowhere. */
  let down = 0;
  addEventListener("pointerdown", () => { down = performance.now(); }, true);
  for (const name of ["click", "pointercancel"]) addEventListener(name, () => { down = 0; }, true);
  async function lifted() { while (down && performance.now() - down < 1500) await new Promise((done) => setTimeout(done, 50)); }
  async function later() {
    const place = main.querySelector("[data-later]");
    if (!place || place.querySelector("#figures")) { ahead(); return; }
    const url = place.dataset.later, text = pages.get(url) || await page(url);
    const figures = text && new DOMParser().parseFromString(text, "text/html").getElementById("figures");
    if (figures && place.isConnected) place.replaceChildren(figures);
    ahead();
  }
  /* The steps that are near are fetched ahead, so that they can be opened while the estimator is out of reach. */
  let fetching = false;
  async function ahead() {
    if (fetching) return; // it looks at whatever page is open by then
    fetching = true;
    document.documentElement.dataset.ahead = "";
    const tried = new Set();
    const near = () => Array.from(main.querySelectorAll("a[data-in]"), (a) => a.getAttribute("href")).slice(0, 60).find((url) => !fresh.has(url) && !tried.has(url));
    for (let url = near(); url && !away && !unpaired && !line.length; url = near()) { tried.add(url); await page(url); }
    fetching = false;
    document.documentElement.dataset.ahead = near() ? "" : "yes";
  }

  /* What the clock of this page shows: as the page came, and then as was tapped since. */
  function overlay() {
    const clock = $("clock");
    if (!clock) return;
    if (clock.dataset.came === undefined) { clock.dataset.came = clock.dataset.state; clock.dataset.base = clock.dataset.seconds; }
    let state = clock.dataset.came, seconds = Number(clock.dataset.base), since = state === "runs" ? Date.now() - (performance.now() - came) : 0;
    for (const tap of line) {
      const what = of(tap, "do"), mine = of(tap, "job") === clock.dataset.job && of(tap, "task") === clock.dataset.task;
      const upTo = () => { if (state === "runs") seconds += Math.max(0, (tap.at - since) / 1000); };
      if (what === "begin" && mine) { if (state !== "runs") { if (state !== "paused") seconds = 0; state = "runs"; since = tap.at; } }
      else if (what === "begin" && state === "runs") { upTo(); state = "paused"; }
      else if (what === "pause" && mine) { upTo(); state = "paused"; }
      else if ((what === "end" || what === "wrong") && mine) { state = "done"; seconds = 0; }
    }
    clock.dataset.state = state;
    clock.dataset.now = String(seconds);
    clock.dataset.since = String(since);
    tick();
  }
  function tick() {
    const clock = $("clock"), shows = $("ticks");
    if (!clock || !shows) return;
    const state = clock.dataset.state;
    if (state !== "runs" && state !== "paused") { shows.textContent = ""; return; }
    const s = Math.floor(Number(clock.dataset.now) + (state === "runs" ? (Date.now() - Number(clock.dataset.since)) / 1000 : 0));
    shows.textContent = `${Math.floor(s / 3600)}:${String(Math.floor(s / 60) % 60).padStart(2, "0")}:${String(s % 60).padStart(2, "0")}${state === "paused" ? " paused" : ""}`;
  }
  setInterval(tick, 250);
  setInterval(() => { if (line.length) show(); }, 1000);

  function list(place, head, rows, more) {
    const all = JSON.stringify([head, rows]);
    if (place.dataset.all === all) return; // nothing is changed under a finger
    place.dataset.all = all;
    place.replaceChildren();
    place.hidden = rows.length === 0;
    if (!rows.length) return;
    const title = document.createElement("p");
    title.innerHTML = "<strong></strong>";
    title.firstChild.textContent = head;
    const ul = document.createElement("ul");
    for (const row of rows) { const li = document.createElement("li"); li.textContent = row; ul.append(li); }
    place.append(title, ul, ...more);
  }
  function button(words, does) {
    const made = document.createElement("button");
    made.type = "button"; made.className = "quiet"; made.textContent = words;
    made.addEventListener("click", does);
    return made;
  }
  function show() {
    const waiting = away || unpaired ? line : line.filter((tap) => age(tap) > 1500);
    const head = `${line.length} not sent yet${unpaired ? "" : away ? ": the estimator cannot be reached. Kept here with their times" : ""}`;
    list($("unsent"), head, waiting.map((tap) => `${clockTime(tap.at)} ${tap.say}${of(tap, "task") ? `: ${of(tap, "task").replaceAll("-", " ")}` : ""}`), [button("Try again now", () => { failures = 0; send(); })]);
    document.documentElement.dataset.unsent = String(line.length);
    document.documentElement.dataset.away = String(away);
    list($("refused"), "Not taken", refused.map((one) => `${clockTime(one.at)} ${one.say}${one.task ? `, ${one.task.replaceAll("-", " ")}` : ""}: ${one.why}`), [button("I have read this", () => { refused = []; keep(REFUSED, refused); show(); })]);
    $("pairing").hidden = !unpaired;
  }

  /* The screen stays on while a clock is watched, where the browser lets a page ask for that. */
  let lock = null;
  async function awake() {
    if (!("wakeLock" in navigator) || document.visibilityState !== "visible" || (lock && !lock.released)) return;
    try { lock = await navigator.wakeLock.request("screen"); } catch (error) { lock = null; }
  }

  let last = 0;
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.id === "pair-again") { event.preventDefault(); pairAgain(form); return; }
    if (!form.classList.contains("tap")) return;
    event.preventDefault();
    const now = performance.now(), clockTap = form.closest("#clock") !== null;
    if (clockTap && now - last < BOUNCE_MS) return; // a finger that bounces would begin and end at once
    if (clockTap) last = now;
    for (const input of form.querySelectorAll("input[id], select[id]")) sentNow.add(input.id);
    put(form);
    if (!clockTap) for (const input of form.querySelectorAll("input:not([type=hidden])")) if (input.type === "file" || !form.querySelector("[name='do'][value='measure']")) input.value = input.type === "file" ? "" : input.defaultValue;
  });
  document.addEventListener("change", (event) => {
    if (event.target.type === "file" && event.target.files.length) event.target.form.requestSubmit();
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-in]");
    if (!link || event.ctrlKey || event.metaKey || event.button) return;
    event.preventDefault();
    if (link.closest("#clock") && performance.now() - last < BOUNCE_MS) return;
    go(link.getAttribute("href"), true);
  });
  async function pairAgain(form) {
    const body = new URLSearchParams({ code: form.elements.code.value, by: "script" });
    let got;
    try {
      const fresh = await fetch("/pair");
      word = new DOMParser().parseFromString(await fresh.text(), "text/html").getElementById("main").dataset.word;
      got = await fetch(`/pair?word=${word}`, { method: "POST", body });
    } catch (error) { $("again-wrong").textContent = "The estimator cannot be reached."; return; }
    if (!got.ok) { $("again-wrong").textContent = ((await got.json()).refused || []).join(" "); return; }
    form.reset();
    $("again-wrong").textContent = "";
    unpaired = false; away = false; failures = 0;
    show();
    if (line.length) await send(); else await refresh();
  }
  addEventListener("popstate", () => go(location.pathname + location.search, false));
  addEventListener("online", () => { failures = 0; send(); });
  addEventListener("beforeunload", (event) => { if (photos.size) event.preventDefault(); });
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") { awake(); failures = 0; if (line.length) send(); else refresh(); } });
  setInterval(() => {
    if (document.visibilityState !== "visible" || sending || unpaired || line.length) return;
    if (main.contains(document.activeElement) && /^(INPUT|SELECT)$/.test(document.activeElement.tagName)) return;
    refresh().then(show);
  }, POLL_MS);

  const code = $("code");
  if (code && /^#[0-9]{4,12}$/.test(location.hash)) { code.value = location.hash.slice(1); history.replaceState(null, "", location.pathname); }
  if (!code) pages.set(location.pathname + location.search, document.documentElement.outerHTML);
  show();
  overlay();
  later();
  awake();
  if (!code) send();
  document.documentElement.dataset.ready = "yes";
})();
