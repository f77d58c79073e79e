"use strict";
const place = document.getElementById("lot");
function put(kind, text, into = place) {
  const made = document.createElement(kind);
  made.textContent = text;
  into.append(made);
  return made;
}
function show(lot) {
  put("h2", lot.title);
  if (lot.recalled_at) put("p", "This lot is called back: " + lot.recall_reason + " Don't eat of it.").className = "warning";
  const held = lot.holders.filter((each) => each.state === "hold");
  if (held.length) put("p", "Jars of this lot are on hold. Don't eat of them until a person has decided.").className = "warning";
  const list = put("dl", "");
  const rows = [["Made on", lot.made_on], ["Best by", lot.best_by]];
  for (const each of lot.holders) {
    rows.push([each.name, each.count + " × " + each.jar_size + ", " + each.state + (each.location ? ", " + each.location : "")]);
  }
  for (const [name, value] of rows) { put("dt", name, list); put("dd", value, list); }
  for (const each of lot.cautions) put("p", each.says);
}
document.getElementById("ask").addEventListener("submit", async (event) => {
  event.preventDefault();
  place.replaceChildren();
  const token = document.getElementById("token").value.trim();
  const code = location.pathname.split("/").pop();
  try {
    const answer = await fetch("../v1/lots/" + code, { headers: { Authorization: "Bearer " + token } });
    const body = await answer.json();
    if (answer.ok) show(body);
    else put("p", body.title + ". " + body.detail).className = "warning";
  } catch {
    put("p", "The kitchen's service doesn't answer.").className = "warning";
  }
});
