// The work list: recordings dropped onto it, and how far they are heard.
"use strict";
const $ = (id) => document.getElementById(id);
let chosen = [];

async function choose(files) {
  for (const file of files) {
    const answer = await fetch("/suggest?name=" + encodeURIComponent(file.name));
    if (answer.status === 401) return location.assign("/enter?to=/");
    const row = document.createElement("li"), id = "r" + Date.now() + chosen.length;
    row.innerHTML = "<p><label></label> <input autocomplete='off' maxlength='40'></p>" +
      "<p hidden><label><input type='checkbox'> It belongs to the encounter that is there</label></p><p class='doubt' hidden></p>";
    const [label, reference] = row.firstChild.children;
    label.textContent = "Reference for " + file.name;
    label.htmlFor = reference.id = id;
    reference.value = (await answer.json()).reference;
    $("chosen").append(row);
    chosen.push({ file, row, reference });
  }
  $("draft").hidden = !chosen.length;
  if (chosen.length) chosen[0].reference.focus();
}

async function draft() {
  $("draft").disabled = true;
  for (const one of [...chosen]) {
    const known = one.row.querySelector("[type=checkbox]");
    const query = new URLSearchParams({ name: one.file.name, reference: one.reference.value, known: known.checked ? "yes" : "" });
    $("drop-say").textContent = "Taking " + one.file.name + " …";
    const [, belongs, refused] = one.row.children;
    let answer = null;
    try {
      answer = await fetch("/drop?" + query, { method: "POST", body: one.file, headers: { accept: "application/json" } });
    } catch { /* said below */ }
    if (answer && answer.status === 401) return location.assign("/enter?to=/");
    if (answer && answer.ok) {
      one.row.remove();
      chosen = chosen.filter((other) => other !== one);
      continue;
    }
    refused.textContent = answer ? (await answer.json()).refused : "The program does not answer.";
    refused.hidden = false;
    belongs.hidden = !refused.textContent.includes("already");
  }
  $("draft").disabled = false;
  $("draft").hidden = !chosen.length;
  $("drop-say").textContent = chosen.length ? "Not all of them were taken; each says why." : "";
  follow();
}

let timer = 0;
async function follow() {
  clearTimeout(timer);
  const answer = await fetch("/rows" + location.search).catch(() => null);
  if (answer && answer.status === 401) return location.assign("/enter?to=/");
  if (answer && answer.ok) {
    const made = document.createElement("template");
    made.innerHTML = (await answer.text()).trim();
    if (!$("rows").contains(document.activeElement)) $("rows").replaceWith(made.content.firstElementChild);
  }
  if ($("rows").dataset.open) timer = setTimeout(follow, 1000);
}

$("files").addEventListener("change", () => { choose([...$("files").files]); $("files").value = ""; });
$("draft").addEventListener("click", draft);
for (const kind of ["dragover", "drop"]) addEventListener(kind, (event) => event.preventDefault());
addEventListener("dragover", () => $("drop").classList.add("over"));
addEventListener("dragleave", (event) => { if (!event.relatedTarget) $("drop").classList.remove("over"); });
addEventListener("drop", (event) => { $("drop").classList.remove("over"); choose([...event.dataTransfer.files]); });
if ($("rows").dataset.open) follow();
