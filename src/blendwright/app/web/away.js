// While the program can't be reached the page says so (style sheet: body.away), and keeps what is
// typed. Once the program answers again, the framework loads the page anew; what was typed is then
// handed over ("typed_while_away"), and half-filled fields of open questions are filled again.
// The server clears the formula's copy when it has it on its disk.
const JUST_BEFORE_ms = 3000; // typed so shortly before may not have arrived
const WAIT_ms = 20_000; // for a question to be laid out again
const QUESTIONS = "blendwright.questions";
const TEXT_FIELDS = "input:not([type]), input[type=text], input[type=email], textarea";
let isAway = false;
let isLeaving = false;
let typedAt = -Infinity;

const all = (where, inside = document) => [...inside.querySelectorAll(where)];
const formula = () => document.querySelector(".side.formula");
const name = () => `blendwright.unsent.${formula().dataset.document}`;
const inFormula = (e) => e.target.closest?.("li.line, .about-formula");

function fieldsOfFormula() {
  const head = Object.fromEntries(
    all("[data-head]", formula()).map((one) => [one.dataset.head, one.value]));
  const cells = (line) => Object.fromEntries(
    all("input[data-cell]", line).map((one) => [one.dataset.cell, one.value]));
  return {head, rows: all("li.line", formula()).map(cells)};
}

const fieldsOf = (question) =>
  all(`:scope > .inside :is(${TEXT_FIELDS})`, question).filter((one) => !one.readOnly);

function keep() {
  if (performance.now() - typedAt < JUST_BEFORE_ms || localStorage.getItem(name())) {
    localStorage.setItem(name(), JSON.stringify(fieldsOfFormula()));
  }
  const open = all(".question").filter((one) => one.offsetParent).map(
    (one) => [one.id, fieldsOf(one).map((field) => field.value)]);
  if (open.length) sessionStorage.setItem(QUESTIONS, JSON.stringify(open));
}

function handOver() {
  const kept = localStorage.getItem(name());
  if (kept) emitEvent("typed_while_away", JSON.parse(kept));
}

// What hangs on the program is stopped while it is away: it would be lost, or done later, unseen.
function hangsOnIt(e) {
  const on = (where) => e.target.closest?.(where);
  if (e.type === "submit" || e.type === "drop") return true;
  if (e.type === "paste") return inFormula(e) && /[\t\n]/.test(e.clipboardData.getData("text/plain").trim());
  if (e.type === "pointerdown") return on(".grip");
  if (e.type === "click") {
    return on("button, a:not([href^='#']), .q-checkbox, .q-radio, .q-select");
  }
  // a key
  if (on(".q-checkbox, .q-radio, .q-select")) return e.key !== "Tab";
  const steps = (e.ctrlKey || e.metaKey) && /^[zy]$/i.test(e.key);
  const moves = e.altKey && /^Arrow(Up|Down)$/.test(e.key);
  return inFormula(e) && (steps || moves);
}

function stop(e) {
  if (!isAway || !hangsOnIt(e)) return;
  e.preventDefault();
  e.stopPropagation();
  const note = document.getElementById("away");
  note.classList.remove("again");
  requestAnimationFrame(() => note.classList.add("again"));
}

function goAway() {
  if (isLeaving) return;
  isAway = true;
  document.body.classList.add("away");
  keep();
}

function comeBack() {
  const was = isAway;
  isAway = false;
  document.body.classList.remove("away", "gone");
  if (was && localStorage.getItem(name())) localStorage.setItem(name(), JSON.stringify(fieldsOfFormula()));
  if (was) sessionStorage.removeItem(QUESTIONS);
  handOver();
}

// Open questions again, and fill their fields as they are laid out.
function fillAgain([id, values], until) {
  const question = document.getElementById(id);
  if (!question) return;
  const tab = document.getElementById(question.getAttribute("aria-labelledby"));
  if (tab.getAttribute("aria-selected") !== "true") tab.click();
  const fields = fieldsOf(question);
  if (fields.length < values.length) {
    if (performance.now() < until) setTimeout(() => fillAgain([id, values], until), 50);
    return;
  }
  values.forEach((value, place) => {
    if (fields[place].value === value) return;
    fields[place].value = value;
    fields[place].dispatchEvent(new Event("input", {bubbles: true}));
  });
}

function watch(socket) {
  socket.on("disconnect", goAway);
  socket.on("connect_error", () => isAway && document.body.classList.add("gone"));
  socket.on("connect", comeBack);
  if (socket.connected) comeBack();
  const open = JSON.parse(sessionStorage.getItem(QUESTIONS) || "[]");
  sessionStorage.removeItem(QUESTIONS);
  for (const one of open) fillAgain(one, performance.now() + WAIT_ms);
}

document.addEventListener("input", (e) => {
  if (inFormula(e)) typedAt = performance.now();
  if (isAway) keep();
}, true);
addEventListener("pagehide", () => { isLeaving = true; });
for (const type of ["click", "submit", "drop", "paste", "pointerdown", "keydown", "keyup"]) {
  addEventListener(type, stop, true);
}
const start = () => window.socket ? watch(window.socket) : setTimeout(start, 20);
start();
