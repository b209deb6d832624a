// The page: it holds what was changed, undone and pinned, and asks the server what comes of it.

const MOST_PINS = 3;
const page = crypto.randomUUID();
const element = (id) => document.getElementById(id);

/// Makes an element with attributes and children; text is always text.
function make(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (value === true) made.setAttribute(key, "");
    else if (value !== false && value !== null) made.setAttribute(key, value);
  }
  made.append(...children);
  return made;
}

// The key stands behind the # of the address, which is never sent; it stays with this tab.
const brought = location.hash.slice(1);
if (/^[0-9a-f]{32}$/.test(brought)) {
  sessionStorage.setItem("key", brought);
  history.replaceState(null, "", "/");
}
const key = sessionStorage.getItem("key") ?? "";

/// What was changed: by path, in the order in which it was.
let changes = [];
let past = [];
let future = [];
let pins = [];
let number = 0;
let fields = new Map();
let latest = null;
/// The path that is being moved, as long as its gesture lasts.
let gesture = null;
let movesKnown = null;

const stored = sessionStorage.getItem("state");
if (stored) ({ changes, past, future } = JSON.parse(stored));
let units = sessionStorage.getItem("units");

const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);
const valueOf = (path) => changes.find((change) => change.path === path)?.value;
const pickedOf = (list) => list.filter((change) => typeof change.value === "string");

function trouble(text) {
  element("trouble").textContent = text;
  element("trouble").hidden = !text;
}

async function post(where, body) {
  return fetch(where, {
    method: "POST",
    headers: { "content-type": "application/json", "x-shakedown-key": key },
    body: JSON.stringify(body),
  });
}

/// Takes a change in; moves of one gesture are one step back.
function change(path, value) {
  const before = changes;
  const next = changes.filter((one) => one.path !== path && !(typeof value === "string" || value === null ? one.path.startsWith(path + ".") : false));
  if (value !== null) next.push({ path, value });
  if (same(before, next)) return;
  if (gesture !== path) {
    past.push(before);
    past = past.slice(-200);
    gesture = path;
  }
  future = [];
  changes = next;
  moved(path);
}

function go(from, to) {
  if (!from.length) return;
  to.push(changes);
  changes = from.pop();
  gesture = null;
  moved(null);
}

let askedPicks = null;

/// Tells the server, and shows what it says.
function moved(path, again = false) {
  sessionStorage.setItem("state", JSON.stringify({ changes, past, future }));
  element("undo").disabled = !past.length;
  element("redo").disabled = !future.length;
  element("reset").disabled = !changes.length;
  for (const field of fields.values()) field.show();
  ask(path, again);
}

let controller = null;
/// How wide a picture is: that of a column, of which there are as many as have room.
const width = () => parseFloat(getComputedStyle(element("pictures")).gridTemplateColumns) || 360;
async function ask(path, again) {
  const mine = ++number;
  delete document.body.dataset.bands;
  for (const later of document.querySelectorAll("#pictures .later")) later.classList.add("old");
  element("choice").classList.add("old");
  controller?.abort();
  controller = new AbortController();
  const picks = JSON.stringify(pickedOf(changes));
  const groups = again || picks !== askedPicks;
  const asked = changes;
  const begun = performance.now();
  let response;
  try {
    response = await fetch("/api/answer", {
      method: "POST",
      signal: controller.signal,
      headers: { "content-type": "application/json", "x-shakedown-key": key },
      body: JSON.stringify({
        page, number: mine, changes: asked, former: past.at(-1) ?? null,
        units, width: width(), groups, background: true,
      }),
    });
    if (response.status === 401) return trouble("This page needs the address that the program printed when it was started, with the key in it.");
    if (response.status === 409) return;
    if (!response.ok) return refused(path, (await response.json()).refused);
    trouble("");
    for await (const piece of lines(response.body)) {
      if (mine !== number) return;
      if (piece.kind === "groups") askedPicks = picks;
      show(piece, path, asked, begun);
    }
  } catch (error) {
    if (error.name !== "AbortError") trouble("The program does not answer: it was ended, or this computer slept. Start it again and open the new address.");
  }
}

async function* lines(body) {
  const reader = body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    rest += value;
    const whole = rest.split("\n");
    rest = whole.pop();
    for (const line of whole) yield JSON.parse(line);
  }
}

function show(piece, path, asked, begun) {
  switch (piece.kind) {
    case "groups": return showGroups(piece);
    case "figures": {
      for (const field of fields.values()) field.refused("");
      latest = { ...piece, changes: asked };
      showVerdicts(piece.verdicts);
      showFigures(piece.figures);
      showStrip(piece.figures);
      element("lines").textContent = piece.lines.join(" \\\n") || "nothing was changed";
      document.body.dataset.took = (performance.now() - begun).toFixed(1);
      return;
    }
    case "picture":
      showPicture(piece);
      document.body.dataset.drawn = (performance.now() - begun).toFixed(1);
      return;
    case "advice": return showAdvice(piece.advice);
    case "bands": return showBands(piece);
    case "moves":
      // The last piece: what is not drawn by then is no more of this car.
      for (const old of document.querySelectorAll("#pictures .old")) old.remove();
      return showMoves(piece);
    case "choice": return showChoice(piece);
    case "refused": return refused(path, piece.sentence);
  }
}

/// Which parts to buy, as the program says it: its text is escaped there.
function showChoice(piece) {
  const said = parser.parseFromString(piece.html, "text/html").body;
  element("choice").querySelector("div").replaceChildren(...[...said.children].map((one) => document.importNode(one, true)));
  element("choice").hidden = false;
  element("choice").classList.remove("old");
}

/// What was refused stands beside the field that was moved; what was shown before stays.
function refused(path, sentence) {
  const field = fields.get(path);
  if (field) field.refused(sentence);
  else trouble(sentence);
}

function showVerdicts(verdicts) {
  const list = element("verdicts");
  const before = new Set([...list.children].map((item) => item.textContent));
  list.replaceChildren(...verdicts.map((verdict) =>
    make("li", { class: `${verdict.standing}${before.size && !before.has(verdict.sentence) ? " new" : ""}` }, verdict.sentence)));
}

function showAdvice(advice) {
  element("advice").hidden = !advice.length;
  element("advice").lastElementChild.replaceChildren(...advice.map((sentence) => make("li", {}, sentence)));
}

function showFigures(figures) {
  const ranges = new Map([...document.querySelectorAll("#figures tbody tr")].map((row) => [row.dataset.name, ""]));
  element("figures").tBodies[0].replaceChildren(...figures.map((figure) => make("tr", { "data-name": figure.name },
    make("th", { scope: "row", title: figure.meaning }, figure.label),
    make("td", {}, figure.value),
    make("td", { class: figure.change ? figure.turn : "" }, figure.change ?? ""),
    make("td", { class: "range quiet" }, ranges.get(figure.name) ?? ""))));
}

/// On a phone, where what comes of a move is out of sight: the figures that changed.
function showStrip(figures) {
  const changed = figures.filter((figure) => figure.change).slice(0, 4);
  element("strip").hidden = !changed.length;
  element("strip").replaceChildren(...changed.map((figure) => make("span", {}, `${figure.label}: ${figure.value} `, make("b", { class: figure.turn }, figure.change))));
}

function showBands(piece) {
  for (const band of piece.bands) {
    const cell = document.querySelector(`#figures tr[data-name="${CSS.escape(band.name)}"] .range`);
    if (cell) cell.textContent = `${band.low} to ${band.high}`;
  }
  document.body.dataset.bands = number;
}

/// In the order in which they stand on the page.
const LATER = ["season", "regen", "endurance", "electrics", "charging", "cost", "causes"];
const PICTURES = ["tractive", "throttle", "climb", "pass", "road", "recorded", "energy", ...LATER];
const parser = new DOMParser();
/// A picture of the server; `of` tells those of several cars apart.
function drawing(svg, of = "") {
  const drawn = document.importNode(parser.parseFromString(svg, "text/html").querySelector("svg"), true);
  for (const named of drawn.querySelectorAll("[id]")) named.id += of;
  const labels = drawn.getAttribute("aria-labelledby") ?? "";
  drawn.setAttribute("aria-labelledby", labels.split(" ").map((id) => id + of).join(" "));
  return drawn;
}

function showPicture(piece) {
  if (piece.name === "front") return element("choice").querySelector("figure").replaceChildren(drawing(piece.svg));
  const id = `picture-${piece.name}`;
  let figure = element(id);
  if (!figure) {
    figure = make("figure", { id, class: LATER.includes(piece.name) ? "later" : null });
    const later = PICTURES.slice(PICTURES.indexOf(piece.name) + 1).map((name) => element(`picture-${name}`));
    element("pictures").insertBefore(figure, later.find((one) => one) ?? null);
  }
  figure.replaceChildren(drawing(piece.svg));
  figure.classList.remove("old");
  if (latest && piece.name === "tractive") latest.tractive = piece.svg;
}

function showMoves(piece) {
  movesKnown = new Map(piece.moves.map((one) => [one.path, one]));
  for (const field of fields.values()) field.show();
}

const digits = (value) => {
  const size = Math.abs(value);
  const decimals = size === 0 ? 0 : Math.min(8, Math.max(0, 3 - Math.floor(Math.log10(size))));
  return String(Number(value.toFixed(decimals)));
};

const SAID = { file: "stated", shelf: "typical of its class", caller: "stated with --set", nobody: "assumed", measured: "measured" };

function showGroups(piece) {
  element("units").value = piece.units;
  element("name").textContent = piece.name;
  document.title = `${piece.name} · shakedown`;
  const open = new Map([...document.querySelectorAll("#build details")].map((one) => [one.dataset.name, one.open]));
  const focused = document.activeElement?.id;
  fields = new Map();
  element("build").replaceChildren(...piece.groups.map((group, i) => {
    const details = make("details", { "data-name": group.name, open: open.get(group.name) ?? i < (matchMedia("(max-width: 760px)").matches ? 1 : 4) }, make("summary", {}, group.name));
    for (const picker of group.pickers) details.append(pickerField(picker));
    for (const one of group.numbers) details.append(numberField(one));
    return details;
  }));
  for (const field of fields.values()) field.show();
  if (focused) document.getElementById(focused)?.focus();
}

function pickerField(picker) {
  const id = `field-${picker.path}`;
  const select = make("select", { id, onchange: () => { gesture = null; change(picker.path, select.value || null); gesture = null; } });
  const named = valueOf(picker.path) ? "as in the file" : `${picker.stated} (as in the file)`;
  select.append(make("option", { value: "" }, named));
  const words = { shelf: "From the shelf", folder: "From the folder", program: "Built in" };
  for (const [from, label] of Object.entries(words)) {
    const some = picker.choices.filter((choice) => choice.from === from);
    if (some.length) select.append(make("optgroup", { label }, ...some.map((choice) => make("option", { value: choice.value }, choice.label))));
  }
  const said = make("span", { class: "refused", role: "alert", id: `${id}-said` });
  select.setAttribute("aria-describedby", said.id);
  const field = make("div", { class: "field" }, make("label", { for: id }, picker.label), select, said);
  fields.set(picker.path, {
    show() {
      select.value = valueOf(picker.path) ?? "";
      field.classList.toggle("moved", select.value !== "");
    },
    refused(sentence) { said.textContent = sentence; },
  });
  return field;
}

function numberField(one) {
  const id = `field-${one.path}`;
  const shown = (value) => value * one.times + one.plus;
  const meant = (text) => (Number(text) - one.plus) / one.times;
  const snapped = (value) => one.whole ? Math.round(value) : Number(value.toPrecision(12));
  const slide = make("input", {
    type: "range", id, min: one.low, max: one.high, step: one.step,
    // What a hand moves without letting go, and what keys move one after the other, is one step back.
    onpointerdown: () => { gesture = null; },
    onblur: () => { gesture = null; },
    oninput: () => change(one.path, snapped(Number(slide.value))),
  });
  const box = make("input", {
    type: "number", step: "any", "aria-label": `${one.label}${one.unit ? ", " + one.unit : ""}`,
    onchange: () => {
      gesture = null;
      if (box.value === "") return field.show();
      change(one.path, snapped(meant(box.value)));
      gesture = null;
    },
  });
  const said = make("span", { class: "said", id: `${id}-said` });
  const wrong = make("span", { class: "refused", role: "alert" });
  slide.setAttribute("aria-describedby", said.id);
  const place = make("div", { class: "field" },
    make("label", { for: id }, one.label),
    make("span", { class: "number" }, box, one.unit ? ` ${one.unit}` : ""), slide, said, wrong);
  const field = {
    show() {
      const value = valueOf(one.path) ?? one.value;
      if (document.activeElement !== slide || Number(slide.value) !== value) slide.value = value;
      slide.setAttribute("aria-valuetext", `${digits(shown(value))} ${one.unit}`.trim());
      box.value = digits(shown(value));
      const moved = valueOf(one.path) !== undefined;
      place.classList.toggle("moved", moved);
      const listed = one.known === "typical" && one.said_by === "file";
      const source = (one.known === "measured" ? "measured" : SAID[listed ? "shelf" : one.said_by]) + (one.reason ? `: ${one.reason}` : "");
      const moves = movesKnown?.get(one.path);
      const by = moves && `${moves.by > 0 ? "+" : "−"}${digits(Math.abs(moves.by * one.times))}${one.unit ? " " + one.unit : ""}`;
      const effect = moves ? (moves.figure ? `; ${by} moves most ${moves.figure}: ${moves.change}` : `; ${by} moves nothing here`) : "";
      said.replaceChildren(moved ? `moved from ${digits(shown(one.value))}, ${source}${effect}` : source + effect);
      if (moved) said.append(make("button", { type: "button", "aria-label": `${one.label}: back`, onclick: () => { gesture = null; change(one.path, null); gesture = null; slide.focus(); } }, "back"));
    },
    refused(sentence) {
      wrong.textContent = sentence;
      box.setAttribute("aria-invalid", sentence ? "true" : "false");
    },
  };
  fields.set(one.path, field);
  return place;
}

function showPins() {
  element("pins").hidden = !pins.length;
  element("pin").disabled = pins.length >= MOST_PINS;
  element("pins").lastElementChild.replaceChildren(...pins.map((pin, i) => make("article", { class: "pin" },
    make("h3", {}, `${i + 1}. ${pin.lines.length ? pin.lines.map((line) => line.replace(/^--set /, "").replace("=", " = ")).join(", ") : "as in the file"}`),
    ...(pin.verdicts[0] ? [make("p", { class: "quiet" }, pin.verdicts[0].sentence)] : []),
    ...(pin.tractive ? [drawing(pin.tractive, `-pin-${i}`)] : []),
    make("table", {}, make("tbody", {}, ...pin.figures.map((figure) => make("tr", {}, make("th", { scope: "row" }, figure.label), make("td", {}, figure.value))))),
    make("button", { type: "button", onclick: () => { past.push(changes); future = []; changes = pin.changes; gesture = null; moved(null); } }, "Go there"), " ",
    make("button", { type: "button", onclick: () => { pins.splice(i, 1); showPins(); element("pin").focus(); } }, "Unpin"))));
}

element("undo").addEventListener("click", () => go(past, future));
element("redo").addEventListener("click", () => go(future, past));
element("reset").addEventListener("click", () => { past.push(changes); future = []; changes = []; gesture = null; moved(null); });
element("pin").addEventListener("click", () => { if (latest && pins.length < MOST_PINS) { pins.push(latest); showPins(); } });
element("units").addEventListener("change", () => { units = element("units").value; sessionStorage.setItem("units", units); pins = []; showPins(); movesKnown = null; moved(null, true); });
element("build").addEventListener("submit", (event) => event.preventDefault());
element("copy").addEventListener("click", async () => {
  await navigator.clipboard.writeText(element("lines").textContent);
  element("copy").textContent = "Copied";
  setTimeout(() => { element("copy").textContent = "Copy"; }, 1500);
});
element("save").addEventListener("submit", async (event) => {
  event.preventDefault();
  const typed = element("file").value.trim();
  const name = typed.endsWith(".json") ? typed : `${typed}.json`;
  const response = await post("/api/save", { changes, name, replace: element("replace").checked });
  const said = await response.json();
  element("saved").textContent = response.ok ? `Saved as ${said.saved}.` : said.refused;
  element("replace").checked = false;
});
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target.matches?.("input[type=number], #file")) return;
  if (event.key === "z" && !event.shiftKey) { event.preventDefault(); go(past, future); }
  else if (event.key === "y" || (event.key === "Z" && event.shiftKey)) { event.preventDefault(); go(future, past); }
});

moved(null, true);
