// Dictating: sends what the microphone hears, keeps it until the program has it on disk, shows what comes back. No rule stands here.
"use strict";
const $ = (id) => document.getElementById(id);
const base = document.body.dataset.base, RATE = 16000;
let socket = null, over = false, running = false, wanted = false; // wanted: the microphone is to be sent
let place = null; // where in the recording the next sample belongs; null: the program has not said yet
let waiting = []; // {at, pcm}: sent or to be sent, not known to be on disk
let known = {}, kept = 0, context = null, deafSince = 0, press = 0, ending = false; // press: counts the presses of Start

const begin = () => send({ do: "begin", consent: consented(), press: ++press });
const say = (text, refused = false) => { $("say").textContent = text; $("say").classList.toggle("refused", refused); };
const send = (value) => { if (socket && socket.readyState === WebSocket.OPEN) socket.send(JSON.stringify(value)); };

// The line to the program.
function connect() {
  socket = new WebSocket("ws://" + location.host + base + "/sound");
  socket.binaryType = "arraybuffer";
  socket.onopen = () => {
    deafSince = 0;
    if (wanted || ending || waiting.length) begin();
  };
  socket.onmessage = (event) => hear(JSON.parse(event.data));
  socket.onclose = (event) => {
    if (over) return;
    deafSince = deafSince || Date.now();
    running = false;
    say("The program does not answer. What you say is kept in this tab, and sent when it does.", true);
    rescue();
    setTimeout(again, 1000);
  };
}

async function again() {
  try {
    const answer = await fetch(base, { headers: { accept: "application/json" } });
    if (answer.status === 401) return locked();
    connect();
  } catch {
    rescue();
    setTimeout(again, 1000);
  }
}

function locked() {
  if (!$("again").open) $("again").showModal();
}

$("again").addEventListener("close", async () => {
  const body = new URLSearchParams({ code: $("code").value, to: base });
  $("code").value = "";
  try {
    const answer = await fetch("/enter", { method: "POST", body, redirect: "manual" });
    if (answer.type !== "opaqueredirect") return locked();
    connect();
  } catch {
    setTimeout(again, 1000);
  }
});

function hear(news) {
  if (news.locked) return locked();
  if (news.go) {
    over = true;
    stopMicrophone();
    location.assign(news.go);
    return;
  }
  if (news.refused) {
    say(news.refused, true);
    if (news.over) over = true;
  }
  if (news.kept !== undefined) acknowledge(news.kept);
  if (news.state !== undefined) state(news.state);
  if (news.begun !== undefined && news.begun === press && press > 0) sendOn();
  if (news.soFar !== undefined) $("so-far").textContent = news.soFar;
  if (news.message !== undefined || news.late !== undefined) {
    known = { ...known, ...news };
    const late = known.late > 5 ? `The words come ${known.late} s late; your sound is kept, and they catch up.` : "";
    const text = [known.message, late].filter(Boolean).join(" ");
    say(text, text !== "");
  }
  if (news.marks) $("marks").textContent = "Marked: " + news.marks + ".";
  if (news.pieces) show(news.pieces);
}

function acknowledge(samples) {
  kept = samples;
  $("time").textContent = Math.floor(kept / RATE / 60) + ":" + String(Math.floor(kept / RATE) % 60).padStart(2, "0");
  waiting = waiting.filter((piece) => piece.at === null || piece.at + piece.pcm.length > kept);
}

// Begun, or begun again: what is not on disk yet goes after what is, and new sound after that.
function sendOn() {
  let at = waiting.length && waiting[0].at !== null ? Math.min(waiting[0].at, kept) : kept;
  for (const piece of waiting) { piece.at = at; at += piece.pcm.length; }
  place = at;
  running = true;
  for (const piece of waiting) post(piece);
  if (!wanted) running = false;
  if (ending) send({ do: "end" });
}

function post(piece) {
  if (!socket || socket.readyState !== WebSocket.OPEN) return;
  const message = new ArrayBuffer(8 + piece.pcm.byteLength), head = new DataView(message);
  head.setBigUint64(0, BigInt(piece.at), true);
  new Int16Array(message, 8).set(piece.pcm);
  socket.send(message);
}

function rescue() {
  const link = $("rescue");
  link.hidden = !(deafSince && Date.now() - deafSince > 5000 && waiting.length);
}

$("rescue").addEventListener("click", () => {
  const length = waiting.reduce((sum, piece) => sum + piece.pcm.length, 0), head = new DataView(new ArrayBuffer(44));
  const text = (at, letters) => [...letters].forEach((letter, i) => head.setUint8(at + i, letter.charCodeAt(0)));
  text(0, "RIFF"); head.setUint32(4, 36 + 2 * length, true); text(8, "WAVEfmt ");
  head.setUint32(16, 16, true); head.setUint16(20, 1, true); head.setUint16(22, 1, true);
  head.setUint32(24, RATE, true); head.setUint32(28, 2 * RATE, true); head.setUint16(32, 2, true); head.setUint16(34, 16, true);
  text(36, "data"); head.setUint32(40, 2 * length, true);
  $("rescue").href = URL.createObjectURL(new Blob([head.buffer, ...waiting.map((piece) => piece.pcm)], { type: "audio/wav" }));
});

// The microphone.
async function startMicrophone() {
  if (context) return;
  const stream = await navigator.mediaDevices.getUserMedia({ audio: { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
  const made = new AudioContext({ sampleRate: RATE });
  await made.audioWorklet.addModule("/static/microphone.js");
  const node = new AudioWorkletNode(made, "microphone", { numberOfOutputs: 0 });
  node.port.onmessage = ({ data }) => {
    $("level").value = data.level;
    if (!wanted) return;
    const piece = { at: running ? place : null, pcm: data.pcm };
    waiting.push(piece);
    if (!running) return;
    place += data.pcm.length;
    post(piece);
  };
  made.createMediaStreamSource(stream).connect(node);
  context = { made, stream };
}

function stopMicrophone() {
  if (!context) return;
  for (const track of context.stream.getTracks()) track.stop();
  context.made.close();
  context = null;
  $("level").value = 0;
}

// What is pressed.
const consented = () => document.body.dataset.consent === "given" || Boolean($("consent") && $("consent").checked);

async function start() {
  if (!consented()) {
    say("Ask the patient first; nothing is recorded without consent.", true);
    if ($("consent")) $("consent").focus();
    return;
  }
  try {
    await startMicrophone();
  } catch (err) {
    say(err.name === "NotSupportedError"
      ? "This browser cannot take the microphone at 16 kHz; use another, or dictation listen at a terminal."
      : "There is no microphone that this page may use; connect one, and allow it in the browser.", true);
    return;
  }
  wanted = true;
  say("");
  begin();
}

function pause() {
  wanted = false;
  running = false;
  send({ do: "pause" });
}

$("start").addEventListener("click", start);
$("pause").addEventListener("click", pause);
$("end").addEventListener("click", () => {
  wanted = running = false;
  ending = true;
  $("going").textContent = "Ending: the rest is being read.";
  stopMicrophone();
  send({ do: "end" });
});
$("withdraw").addEventListener("click", () => $("sure").showModal());
$("keep").addEventListener("click", () => $("sure").close());
$("delete").addEventListener("click", () => {
  $("sure").close();
  wanted = false;
  stopMicrophone();
  waiting = [];
  send({ do: "withdraw" });
});

addEventListener("keydown", (event) => {
  const spared = ["Tab", "Enter", "Escape", " ", "Shift", "Control", "Alt", "Meta", "ArrowUp", "ArrowDown", "PageUp"];
  if (document.querySelector("dialog[open]") || event.target.matches("input, textarea, select")) return;
  if (event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
  if (spared.includes(event.key) && !(event.key === " " && !event.target.matches("button, a"))) return;
  event.preventDefault();
  send({ do: "mark" });
});

let goesOn = false;
const STATES = {
  none: null, beginning: "Getting ready; you can speak.", listening: "Listening.", paused: "Paused: nothing is recorded.",
  ending: "Ending: the rest is being read.", ended: "Ended.",
};

function state(name) {
  goesOn = name !== "none";
  document.body.dataset.state = name;
  if (STATES[name]) $("going").textContent = STATES[name];
  const on = name === "beginning" || name === "listening";
  $("pause").disabled = !on;
  $("end").disabled = !(goesOn || $("start").textContent === "Go on") || name.startsWith("end");
  $("start").disabled = (on && wanted) || name.startsWith("end");
  $("start").textContent = name === "none" && $("start").textContent !== "Go on" ? "Start" : "Go on";
}

// What was understood: what is new or changed is shown so for a while.
function show(pieces) {
  for (const [id, html] of Object.entries(pieces)) {
    const element = $(id);
    if (id !== "draft") {
      if (element.innerHTML !== html) element.innerHTML = html;
      if (id === "said") element.scrollTop = element.scrollHeight;
      continue;
    }
    const before = new Map([...element.querySelectorAll("li")].map((item) => [item.dataset.key, item.querySelector(".sentence").textContent]));
    const sentences = new Set(before.values());
    element.innerHTML = html;
    let newest = null;
    for (const item of element.querySelectorAll("li")) {
      if (sentences.has(item.querySelector(".sentence").textContent)) continue;
      item.classList.add(before.has(item.dataset.key) ? "changed" : "fresh");
      newest = item;
    }
    if (newest) newest.scrollIntoView({ block: "nearest" });
  }
}

connect();
