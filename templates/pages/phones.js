// Swaps in what changed. Without it the page works by reload and forms.
"use strict";

const held = new Map();
let version = document.body.dataset.version;
let busy = false;

const wide = matchMedia("(min-width: 62rem)");

/** Keeps the texts at their end, unless the reader has scrolled up. */
function toEnd() {
  const texts = document.getElementById("texts");
  if (texts) texts.scrollTop = texts.scrollHeight;
}

function atEnd(element) {
  return element.scrollHeight - element.scrollTop - element.clientHeight < 60;
}

function swap(id, html) {
  const part = document.getElementById(id);
  if (!part || held.get(id) === html) return;
  held.set(id, html);
  const active = part.contains(document.activeElement) ? document.activeElement : null;
  const key = active && (active.id || active.getAttribute("href"));
  const top = part.scrollTop;
  const follow = id === "texts" && atEnd(part);
  const closed = new Map([...part.querySelectorAll("details")].map((group) => [group.id, group.open]));
  part.innerHTML = html;
  for (const [group, open] of closed) {
    const now = document.getElementById(group);
    if (now) now.open = open;
  }
  part.scrollTop = top;
  if (follow) toEnd();
  if (key) [...part.querySelectorAll("a, button, summary")].find((one) => (one.id || one.getAttribute("href")) === key)?.focus();
}

async function refresh(all) {
  if (busy && !all) return;
  busy = true;
  try {
    const query = new URLSearchParams(location.search);
    if (!all) query.set("v", version);
    const answer = await fetch("/parts?" + query);
    if (!answer.ok) return;
    const fresh = await answer.json();
    version = fresh.version;
    document.getElementById("time").textContent = fresh.time;
    document.getElementById("day").textContent = fresh.day;
    for (const [id, html] of Object.entries(fresh.parts)) swap(id, html);
  } catch {
    // The program has ended, or is busy; the next look will tell.
  } finally {
    busy = false;
  }
}

async function send(form, button) {
  const body = new URLSearchParams(new FormData(form));
  if (button?.name) body.set(button.name, button.value);
  await fetch(form.action, { method: "POST", body, redirect: "manual" });
  await refresh(true);
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  event.preventDefault();
  await send(form, event.submitter);
  if (form.classList.contains("type")) {
    form.reset();
    document.getElementById("text").focus();
    toEnd();
  }
});

document.getElementById("find").addEventListener("input", (event) => {
  const query = new URLSearchParams(location.search);
  query.set("find", event.target.value);
  history.replaceState(null, "", "/?" + query);
  refresh(true);
});

setInterval(() => { if (!document.hidden) refresh(false); }, 700);
toEnd();
if (wide.matches) document.getElementById("text")?.focus({ preventScroll: true });
