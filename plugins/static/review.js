"use strict";
// Single keys for the review page: each stands for the button, link or field that names it in aria-keyshortcuts.
// Without this script all of them are still there to be reached by Tab.
const room = document.querySelector("[data-review]");
const film = document.getElementById("player");
const heading = document.querySelector("h1");
const tick = document.getElementById("single-keys");
const REMEMBERED = "single keys off";
let sent = false;

function typing(target) {
  return target.closest("input:not([type=checkbox]), textarea, select") !== null;
}

function press(target) {
  if (target.matches("input")) {
    target.focus();
    target.select();
  } else if (target.matches(".cut")) target.focus(); // which line, the arrow keys choose
  else target.click();
}

// Up and down between the places where a stretch can be cut.
function walkCuts(event) {
  const cuts = [...document.querySelectorAll(".cut")];
  const place = cuts.indexOf(document.activeElement);
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!step || place < 0) return;
  event.preventDefault();
  cuts[place + step]?.focus();
}

function onKey(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing || event.repeat) return;
  if (event.key === "Escape" && document.activeElement !== document.body) {
    event.preventDefault();
    heading.focus();
    return;
  }
  walkCuts(event);
  if (event.defaultPrevented || typing(event.target) || (tick && !tick.checked)) return;
  const meant = document.querySelector(`[aria-keyshortcuts="${CSS.escape(event.key)}"]`);
  if (!meant) return;
  event.preventDefault();
  press(meant);
}

// A key that is hit twice decides once.
function onSubmit(event) {
  if (sent) event.preventDefault();
  sent = true;
}

if (room) {
  document.addEventListener("keydown", onKey);
  document.addEventListener("submit", onSubmit);
  addEventListener("pageshow", () => { sent = false; });
  heading.focus({ preventScroll: true });
}
if (tick) {
  document.getElementById("keys-off").hidden = false;
  tick.checked = localStorage.getItem(REMEMBERED) === null;
  tick.addEventListener("change", () => {
    if (tick.checked) localStorage.removeItem(REMEMBERED);
    else localStorage.setItem(REMEMBERED, "1");
  });
}
if (room && film) {
  const again = document.getElementById("play-again");
  const end = Number(room.dataset.end);
  let heardOut = false;
  again.hidden = false;
  again.addEventListener("click", () => {
    if (!film.paused) film.pause();
    else if (heardOut && film.currentTime >= end) playFrom(Number(film.dataset.start));
    else film.play();
  });
  film.addEventListener("timeupdate", () => {
    if (heardOut || film.currentTime < end) return;
    heardOut = true;
    film.pause();
  });
}
