// Keeps a screen up to date: once a minute the sheet is fetched again, but never under somebody's hands.
"use strict";

const EVERY_MS = 60_000;

async function refresh() {
  const sheet = document.getElementById("main");
  const inUse = sheet.contains(document.activeElement) && document.activeElement !== sheet;
  if (document.hidden || inUse) return;
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
  if (answer.redirected) return location.reload(); // the token is no longer good
  if (!answer.ok) return saySheetIsOld();
  const read = new DOMParser().parseFromString(await answer.text(), "text/html");
  const open = [...sheet.querySelectorAll("details")].map((each) => each.open);
  sheet.replaceChildren(...read.getElementById("main").childNodes);
  sheet.querySelectorAll("details").forEach((each, at) => { each.open = open[at] ?? false; });
}

function saySheetIsOld() {
  document.querySelector(".old").hidden = false;
}

setInterval(() => refresh().catch(saySheetIsOld), EVERY_MS);
