"use strict";
// The player and its words: a chosen line plays, the line being spoken is marked, ?t= and #t= start there.
// Without this script every line is still a link that opens the film at its moment.
const player = document.getElementById("player");
const says = document.getElementById("player-says");
const lines = [...document.querySelectorAll(".spoken a[data-start]")];
const topics = [...document.querySelectorAll(".topics a[data-start]")];
const starts = (links) => links.map((link) => Number(link.dataset.start));
const lineStarts = starts(lines);
const topicStarts = starts(topics);
// How long the page leaves scrolling to a person who has just scrolled, in milliseconds.
const HANDS_ON = 5000;
let lastTouched = -HANDS_ON;

function clock(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const minutes = Math.floor(whole / 60) % 60;
  const pad = (number) => String(number).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  return hours ? `${hours}:${pad(minutes)}:${pad(whole % 60)}` : `${minutes}:${pad(whole % 60)}`;
}

function whenKnown(action) {
  if (player.readyState >= HTMLMediaElement.HAVE_METADATA) action();
  else player.addEventListener("loadedmetadata", action, { once: true });
}

function playFrom(seconds) {
  if (player.error) player.load(); // the file may be back, or a bad stretch be behind us
  whenKnown(() => {
    player.currentTime = seconds;
    mark(seconds);
    player.play().then(() => { says.textContent = ""; }, (problem) => {
      if (problem.name === "NotAllowedError") offerToPlay(seconds);
    });
  });
}

function sayItCannotPlay() {
  says.textContent = "This film cannot be played here: its file was moved or deleted, or this browser does not know its kind.";
}

// Browsers let a page play sound only after a person touched it: offer a key large enough for a glove.
function offerToPlay(seconds) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = `▶ Play from ${clock(seconds)}`;
  button.addEventListener("click", () => playFrom(seconds));
  says.replaceChildren(button);
}

// The last of the sorted times at or before a moment; -1 before the first.
function placeOf(times, seconds) {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] <= seconds + 0.05) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

function markIn(links, place) {
  const before = links.find((link) => link.hasAttribute("aria-current"));
  const now = links[place];
  if (before === now) return false;
  before?.removeAttribute("aria-current");
  now?.setAttribute("aria-current", "true");
  return Boolean(now);
}

function mark(seconds) {
  markIn(topics, placeOf(topicStarts, seconds));
  const place = placeOf(lineStarts, seconds);
  if (markIn(lines, place) && performance.now() - lastTouched > HANDS_ON) {
    lines[place].scrollIntoView({ block: "nearest" });
  }
}

function momentInAddress() {
  const hash = /^#t=([0-9]+(?:\.[0-9]+)?)$/.exec(location.hash);
  if (hash) return Number(hash[1]);
  return player.dataset.start === "" ? null : Number(player.dataset.start);
}

function chosen(event) {
  const link = event.target.closest("a[data-start]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  history.replaceState(null, "", link.getAttribute("href"));
  playFrom(Number(link.dataset.start));
}

function walk(event) {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const place = lines.indexOf(document.activeElement);
  if (!step || place < 0) return;
  event.preventDefault();
  lastTouched = performance.now();
  lines[place + step]?.focus();
}

if (player) {
  // On a phone the words come first; the topics are one touch away.
  const folded = document.querySelector(".topics details");
  if (folded && matchMedia("(max-width: 59.99rem)").matches) folded.open = false;
  document.addEventListener("click", chosen);
  document.addEventListener("keydown", walk);
  for (const kind of ["wheel", "touchmove"]) {
    document.addEventListener(kind, () => { lastTouched = performance.now(); }, { passive: true });
  }
  player.addEventListener("timeupdate", () => mark(player.currentTime));
  player.addEventListener("seeking", () => mark(player.currentTime));
  player.addEventListener("play", () => { says.textContent = ""; });
  player.addEventListener("error", sayItCannotPlay);
  if (player.error) sayItCannotPlay();
  addEventListener("hashchange", () => {
    const moment = momentInAddress();
    if (moment !== null) playFrom(moment);
  });
  const moment = momentInAddress();
  if (moment !== null) playFrom(moment);
}
