// The review: which item is marked, what the keys do, and what a decision changes on the page. No rule stands here.
"use strict";
const $ = (id) => document.getElementById(id);
const pane = $("statements"), bar = $("bar"), panel = $("panel"), player = $("sound") || new Audio(), say = $("say");
const seen = new Map(); // field -> when all of it was first on the screen
let current = null, busy = false;

const items = () => [...pane.querySelectorAll(".item")];
const fields = (item) => JSON.parse(item.dataset.fields || "[]");
const told = (text, refused = false) => { say.textContent = text; say.classList.toggle("refused", refused); };

// Marking: one item is marked; moving the mark decides nothing.
function mark(item, { focus = true } = {}) {
  if (!item) return;
  if (current) { current.classList.remove("current"); current.tabIndex = -1; }
  current = item;
  item.classList.add("current");
  item.tabIndex = 0;
  if (focus) item.focus({ preventScroll: true });
  const box = item.getBoundingClientRect(), room = pane.getBoundingClientRect();
  if (box.top < room.top + 40 || box.bottom > room.bottom - 40) pane.scrollTop += box.top - room.top - room.height / 3;
  $("bar-what").textContent = item.dataset.what;
  const kind = item.dataset.openSide ? "open-side" : item.dataset.kind;
  for (const set of bar.querySelectorAll("[data-for]")) set.hidden = set.dataset.for !== kind;
  for (const button of bar.querySelectorAll(".decide button")) button.hidden = !possible(item, button.dataset.do);
  const group = groupOf(item);
  for (const button of bar.querySelectorAll("[data-do=together]")) {
    button.hidden = !group;
    button.lastChild.textContent = group ? " Confirm these " + fields(group).length + " together" : "";
  }
  markWords(item);
}

// What can still be done to an item: a decided statement can be amended or rejected, a signed record is as it is.
function possible(item, name) {
  if ($("progress").dataset.signed) return false;
  if (item.dataset.state === "pending") return true;
  return ["amend", "reject"].includes(name) && ["confirmed", "amended"].includes(item.dataset.state);
}

// The group that an item belongs to, while it can be confirmed together.
function groupOf(item) {
  const group = item.classList.contains("group") ? item : (item.closest(".together") || item).querySelector(".group");
  const left = group ? fields(group) : [];
  return left.length && !$("progress").dataset.signed && (group === item || left.includes(item.dataset.field)) ? group : null;
}

function markWords(item) {
  for (const word of document.querySelectorAll(".words .now")) word.classList.remove("now");
  let first = null;
  for (const span of (item.dataset.words || "").split(" ").filter(Boolean)) {
    const [i, j] = span.split(":").map(Number);
    for (let at = i; at < j; at++) {
      const word = $("w" + at);
      if (!word) continue;
      word.classList.add("now");
      first = first || word;
    }
  }
  if (!first) return;
  const box = first.getBoundingClientRect(), room = $("transcript").getBoundingClientRect();
  if (box.top < room.top + 40 || box.bottom > room.bottom - 40) $("transcript").scrollTop += box.top - room.top - room.height / 3;
}

function step(by, wanted = () => true) {
  const all = items();
  let at = all.indexOf(current);
  if (at < 0) at = by > 0 ? -1 : all.length;
  for (at += by; at >= 0 && at < all.length; at += by) if (wanted(all[at])) return mark(all[at]);
}

const waits = (item) => item.dataset.state === "pending";

function nextToDecide() {
  const all = items(), at = all.indexOf(current);
  const open = [...all.slice(at + 1), ...all.slice(0, Math.max(at, 0))].find(waits) || (current && waits(current) ? current : null);
  if (open) mark(open);
  else told("Nothing more is to be decided here. The note can be looked at and signed.");
}

// Talking to the program.
async function ask(path, options = {}) {
  const answer = await fetch(follow.base + path, options);
  if (answer.status === 401) follow.leave();
  return answer;
}

const post = (path, body) => ask(path, { method: "POST", body, headers: { accept: "application/json" } });

function apply(answer) {
  if (answer.version === undefined) return;
  follow.version = answer.version;
  if (answer.pieces === null || answer.layout !== document.body.dataset.layout) return reload();
  const mine = current && current.id;
  for (const [id, html] of Object.entries(answer.pieces)) {
    const old = $(id);
    if (!old) return reload();
    const made = document.createElement("template");
    made.innerHTML = html.trim();
    old.replaceWith(made.content.firstElementChild);
    if (id.startsWith("field-")) watch($(id));
  }
  if (mine && answer.pieces[mine] !== undefined) mark($(mine), { focus: !panel.open });
}

function reload() {
  sessionStorage.setItem("mark", current ? current.id : "");
  sessionStorage.setItem("say", say.textContent);
  location.reload();
}

async function decide(what, values = {}, { stay = false } = {}) {
  if (busy) return false;
  busy = true;
  try {
    const body = new URLSearchParams({ what, version: follow.version });
    for (const [key, value] of Object.entries(values)) for (const one of [value].flat()) body.append(key, one);
    const response = await post("/decide", body);
    const answer = await response.json();
    told([answer.refused || answer.say, ...(answer.meanwhile || [])].filter(Boolean).join(" "), Boolean(answer.refused));
    apply(answer);
    if (response.ok && !stay) nextToDecide();
    return response.ok;
  } catch {
    told("The program does not answer; nothing was decided.", true);
    return false;
  } finally {
    busy = false;
  }
}

follow.changed = async () => {
  if (busy) return;
  const answer = await (await ask("/changes?since=" + follow.version, { headers: { accept: "application/json" } })).json();
  if (answer.meanwhile && answer.meanwhile.length) told("Meanwhile: " + answer.meanwhile.join(" "));
  apply(answer);
};
follow.lost = (text) => told(text, true);

// Hearing: the stretches of the marked item, one after the other.
let queue = [];
function hear() {
  if (!player.paused) { player.pause(); queue = []; return; }
  queue = ((current && current.dataset.plays) || "").split(" ").filter(Boolean);
  if (!queue.length) return told("There is no sound of this.");
  playNext();
}
function playNext() {
  const stretch = queue.shift();
  if (!stretch) return;
  const [from, to] = stretch.split(":");
  player.src = follow.base + "/sound?from=" + from + "&to=" + to;
  player.play().catch((err) => { if (err.name !== "AbortError") told("The sound cannot be played.", true); });
}
player.addEventListener("ended", playNext);
player.addEventListener("error", () => player.getAttribute("src") && told("The sound of this recording cannot be heard.", true));

// Panels: to amend, to add, to say why something does not belong.
let forWhat = "";
async function openPanel(query) {
  busy = true; // until it is there, keys would still be the page's
  try {
    const answer = await ask("/panel?" + new URLSearchParams(query), { headers: { accept: "application/json" } });
    if (!answer.ok) return told((await answer.json()).refused, true);
    panel.innerHTML = await answer.text();
  } catch {
    return told("The program does not answer.", true);
  } finally {
    busy = false;
  }
  if (!panel.open) panel.showModal();
  forWhat = query.concept === undefined && query.field === undefined ? "names" : "controls";
  const first = panel.querySelector("[autofocus]");
  if (first) first.focus();
  if (forWhat === "names") { searchNames(); return; }
  if (query.side) lookAt();
}

async function searchNames() {
  const words = $("names-words").value;
  const answer = await ask("/names?words=" + encodeURIComponent(words));
  if (answer.ok && $("names-words") && $("names-words").value === words) $("names").innerHTML = await answer.text();
}

async function lookAt() {
  const answer = await post("/look", new URLSearchParams(new FormData(panel.querySelector("form"))));
  $("look").innerHTML = await answer.text();
  $("look").focus();
}

async function accept() {
  const form = panel.querySelector("form"), values = Object.fromEntries(new FormData(form));
  if (!$("look") || !$("look").querySelector("[data-do=accept]")) return;
  const what = values.what;
  delete values.what;
  closePanel();
  await decide(what, values);
}

function openReason() {
  const head = "<form class='panel' data-what='reject'><h2 id='panel-title'>Why does it not belong?</h2><p class='remark'></p>";
  const quick = ["not said", "misheard", "the patient's words", "said twice"];
  panel.innerHTML = head + "<div class='buttons'>" + quick.map((word, i) =>
    "<button type='button' data-reason=\"" + word + "\"><kbd>" + (i + 1) + "</kbd> " + word + "</button>").join("") +
    "</div><p><label for='reason'>Or in your own words</label><input id='reason' name='reason' autocomplete='off' maxlength='200'></p>" +
    "<p class='buttons'><button type='submit'>Reject it</button><button type='button' data-do='close'><kbd>Esc</kbd> Leave it as it was</button></p></form>";
  panel.querySelector(".remark").textContent = current.dataset.what;
  panel.showModal();
  $("reason").focus();
}

function reject(reason) {
  if (!reason.trim()) return;
  closePanel();
  decide("reject", { field: current.dataset.field, reason });
}

function closePanel() { panel.close(); panel.innerHTML = ""; if (current) current.focus({ preventScroll: true }); }

panel.addEventListener("close", () => { if (current) current.focus({ preventScroll: true }); });
panel.addEventListener("input", (event) => {
  if (event.target.id === "names-words") searchNames();
  else if ($("look") && event.target.id !== "keep") $("look").innerHTML = "";
});
panel.addEventListener("submit", (event) => {
  event.preventDefault();
  if (event.target.dataset.what === "reject") reject($("reason").value);
  else if ($("look")) lookAt();
});
panel.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.do === "close") closePanel();
  if (button.dataset.do === "accept") accept();
  if (button.dataset.reason) reject(button.dataset.reason);
  if (button.dataset.concept) {
    const speech = panel.querySelector("[name=speech]");
    openPanel({ concept: button.dataset.concept, ...(speech ? { speech: speech.value } : {}) });
  }
});
panel.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input:not([type=checkbox]), select") && !(event.target.id === "reason" && !event.target.value);
  if (event.repeat || event.ctrlKey || event.metaKey || event.altKey || typing) return;
  if (event.key.toLowerCase() === "c" && $("look") && $("look").innerHTML) { event.preventDefault(); accept(); }
  const quick = panel.querySelectorAll("[data-reason]")[Number(event.key) - 1];
  if (quick) { event.preventDefault(); reject(quick.dataset.reason); }
});

// What each button and its key does.
const side = (which) => openPanel({ field: current.dataset.field, side: which });
const does = {
  confirm: () => decide("confirm", { field: current.dataset.field }),
  amend: () => openPanel({ field: current.dataset.field }),
  reject: openReason,
  "side-right": () => side("right"), "side-left": () => side("left"), "side-without": () => side("none"),
  "run-right": () => decide("run", { run: current.dataset.run, side: "right" }),
  "run-left": () => decide("run", { run: current.dataset.run, side: "left" }),
  together,
  "answer-acting": () => decide("caution", { name: current.dataset.name, answer: "acting" }),
  "answer-done": () => decide("caution", { name: current.dataset.name, answer: "done" }),
  "answer-irrelevant": () => decide("caution", { name: current.dataset.name, answer: "irrelevant" }),
  "add-speech": () => openPanel({ speech: current.dataset.speech }),
  clear: () => decide("clear", { speech: current.dataset.speech }),
  add: () => openPanel({}),
  undo: () => decide("undo", {}, { stay: true }),
  next: () => step(1), back: () => step(-1), later: nextToDecide, hear,
};

function together() {
  const group = fields(groupOf(current)), times = group.map((id) => seen.get(id));
  const shown = group.filter((id) => seen.has(id));
  const since = Math.max(...times.filter((time) => time !== undefined));
  if (shown.length < group.length) {
    const next = group.find((id) => !seen.has(id));
    const item = items().find((one) => one.dataset.field === next);
    if (item) item.scrollIntoView({ block: "nearest" });
  }
  decide("together", { group, shown, shown_s: shown.length ? (performance.now() - since) / 1000 : 0 });
}

const keys = {
  c: "confirm", a: "amend", r: "reject", t: "together", s: "add-speech", x: "clear", u: "undo", n: "later", "+": "add", " ": "hear",
  ArrowDown: "next", ArrowUp: "back", 1: "answer-acting", 2: "answer-done", 3: "answer-irrelevant",
};
const shifted = { R: ["side-right", "run-right"], L: ["side-left", "run-left"], N: ["side-without"] };

// A button can be pressed where it is shown, and its key then alone.
const shownButton = (name) => [...bar.querySelectorAll("[data-do='" + name + "']")].find((one) => !one.hidden && one.offsetParent !== null);

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || panel.open || busy || !$("keys").checked) return;
  if (event.target.closest("input, select, textarea, button, audio, a") && !event.key.startsWith("Arrow")) return;
  if (event.target.closest("audio, .transcript")) return;
  const found = event.shiftKey && shifted[event.key] ? shifted[event.key] : [keys[event.shiftKey && event.key !== "+" ? "" : event.key]];
  const button = found.filter(Boolean).map(shownButton).find(Boolean);
  if (!button) return;
  event.preventDefault();
  if (event.repeat && !event.key.startsWith("Arrow")) return; // a key held down decides once
  press(button.dataset.do);
});

function press(name) {
  if (!current && !["next", "back", "later", "add", "undo"].includes(name)) return;
  does[name]();
}
bar.addEventListener("click", (event) => {
  const button = event.target.closest("[data-do]");
  if (!button) return;
  press(button.dataset.do);
  if (!panel.open && current) current.focus({ preventScroll: true });
});
pane.addEventListener("click", (event) => { const item = event.target.closest(".item"); if (item) mark(item); });
pane.addEventListener("focusin", (event) => { const item = event.target.closest(".item"); if (item && item !== current) mark(item, { focus: false }); });

// The transcript: a word leads to its statement; the arrows go from one word to the next that has one.
const transcript = $("transcript");
transcript.addEventListener("click", (event) => {
  const word = event.target.closest("a");
  if (!word) return;
  event.preventDefault();
  mark($(decodeURI(word.hash.slice(1))) || $(word.hash.slice(1)));
});
transcript.addEventListener("keydown", (event) => {
  const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  if (!by) return;
  event.preventDefault();
  const words = [...transcript.querySelectorAll("a")];
  const next = words[words.indexOf(document.activeElement) + by];
  if (next) next.focus();
});

// What was on the screen, whole: a group is confirmed together only once all of it was.
const watcher = new IntersectionObserver((found) => {
  for (const one of found) {
    const id = one.target.dataset.field;
    if (one.intersectionRatio >= 0.99 && !document.hidden && !seen.has(id)) seen.set(id, performance.now());
  }
}, { root: pane, threshold: [0.99, 1] });
const watch = (item) => { if (item) watcher.observe(item); };

for (const set of bar.querySelectorAll("[data-for]")) set.hidden = true;
$("keys").checked = localStorage.getItem("keys") !== "off";
$("keys").addEventListener("change", () => localStorage.setItem("keys", $("keys").checked ? "on" : "off"));
items().forEach((item) => item.dataset.field && watch(item));
told(sessionStorage.getItem("say") || "");
const back = $(location.hash.slice(1)) || $(sessionStorage.getItem("mark") || "");
sessionStorage.removeItem("say");
sessionStorage.removeItem("mark");
if (back && back.classList.contains("item")) mark(back);
else mark(items().find(waits) || items()[0]);
