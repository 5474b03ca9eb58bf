// Saves reloading: asks for the part that changes, drops what was overtaken, keeps the address true.
"use strict";
const form = document.getElementById("question");
const want = document.getElementById("want");
const answer = document.getElementById("answer");
const keypad = document.getElementById("keypad");
const said = document.getElementById("said");
const marked = new Set(form.dataset.marked.split("\n").filter(Boolean));
const TWICE_MS = 60; // a gloved finger may hit twice
const SETTLED_MS = 300; // what has just slid under a finger was not meant
let asking = null;
let waiting = 0;
let changed = -SETTLED_MS;
let answered = want.value;
let taken = new URLSearchParams(location.search).get("use") ?? ""; // the stack that was chosen in place of the best
let asked = ""; // the question that was asked last
let shown = String(query()); // the one that the answer is for
let read = shown; // the one of which it says what was understood
let typing = want.type === "hidden" ? form.querySelector("[data-typed]") ?? want : want; // where the keypad types

function query() {
  const given = new URLSearchParams(new FormData(form));
  for (const name of ["new_set", "new_grade", "new_name", "new_lengths", "lines", "gone"]) given.delete(name);
  for (const [name, value] of [...given]) if (!value) given.delete(name);
  for (const name of marked) given.append("gone", name); // the last one marked last
  if (taken) given.set("use", taken);
  return given;
}

function line(text, ...presses) {
  const made = document.createElement("p");
  made.className = "sheet progress";
  made.setAttribute("role", "status");
  const words = document.createElement("span");
  words.textContent = text;
  made.append(words);
  for (const [press, action] of presses) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = press;
    button.addEventListener("click", action);
    made.append(button);
  }
  answer.querySelector(".progress")?.remove();
  answer.prepend(made);
  changed = performance.now();
  return words;
}

// What is shown while it is searched for: an older answer, or the best so far for this question.
function progress(started, limit) {
  const best = shown === asked && answer.querySelector(".stack");
  const seconds = (number) => number.toLocaleString(document.documentElement.lang, { minimumFractionDigits: 1, maximumFractionDigits: 1 });
  const text = () => form.dataset.searching.replace("{now}", seconds((Date.now() - started) / 1000)).replace("{limit}", seconds(Number(limit)));
  const words = line(text(), ...(best ? [[form.dataset.take, take]] : []), [form.dataset.stop, stop]);
  answer.classList.toggle("searching", Boolean(best));
  answer.classList.toggle("old", !best);
  if (read !== asked) document.getElementById("read").textContent = "";
  return setInterval(() => { words.textContent = text(); }, 1000);
}

function stop() {
  if (!asking) return;
  asking.abort();
  asking = null;
  if (shown === asked) answer.querySelector(".progress")?.remove();
  else line(form.dataset.stopped, [form.dataset.again, () => ask()]);
  answer.classList.toggle("old", shown !== asked);
  answer.classList.remove("searching");
}

// The best so far is what is wanted: it stands in the address from now on.
function take() {
  use(standing());
}

function standing() {
  const blocks = [...answer.querySelectorAll("button[name=not_there]")].map((button) => button.value);
  return [...new Set(blocks)].join("~");
}

function use(blocks) {
  taken = blocks;
  ask();
}

async function ask(longer = false) {
  asking?.abort();
  const control = new AbortController();
  asking = control;
  asked = String(query());
  history.replaceState(null, "", `?${asked}`);
  const started = Date.now();
  let beat = 0;
  const late = () => {
    clearTimeout(after); // its buttons would be made anew under a finger
    clearInterval(beat);
    beat = progress(started, longer ? form.dataset.longer : form.dataset.limit);
  };
  const after = setTimeout(late, 500);
  try {
    // First what there is within half a second: nearly always all that there is.
    for (const search of longer ? ["longer"] : ["brief", "usual"]) {
      const response = await fetch(`${form.dataset.parts}answer?${asked}&search=${search}`, { signal: control.signal });
      if (!response.ok) throw new Error(response.statusText);
      const html = await response.text();
      if (asking !== control || show(html, search === "brief")) break;
      late();
    }
  } catch (error) {
    if (asking !== control) return;
    answer.classList.remove("searching");
    answer.classList.add("old");
    line(form.dataset.gone, [form.dataset.again, () => ask()]);
  } finally {
    clearTimeout(after);
    clearInterval(beat);
    if (asking === control) asking = null;
  }
}

// False as long as a longer search may find more.
function show(html, brief) {
  const part = document.createElement("template");
  part.innerHTML = html;
  read = asked;
  for (const each of part.content.querySelectorAll("[data-place]")) document.getElementById(each.id).replaceWith(each);
  const state = document.getElementById("read").dataset.state;
  want.toggleAttribute("aria-invalid", state === "wrong" || state === "angle");
  answer.querySelector(".progress")?.remove();
  const stack = answer.querySelector(".stack");
  if (stack && state === "unfinished" && !part.content.querySelector(".sheet:not(.strip)")) {
    before(stack);
    return true;
  }
  const open = brief && part.content.querySelector("[data-open]") !== null;
  if (open && !part.content.querySelector(".stack")) return false;
  shown = asked;
  answer.classList.remove("old");
  answer.classList.toggle("searching", open);
  answer.replaceChildren(part.content);
  answered = want.value;
  changed = performance.now();
  said.textContent = answer.querySelector(".proof, .refused h2")?.textContent ?? "";
  mark();
  return !open;
}

// While a figure is to come the last stack stays, with the length that it belongs to.
function before(stack) {
  answer.classList.add("old");
  if (stack.querySelector(".before")) return;
  const words = document.createElement("p");
  words.className = "before";
  words.textContent = form.dataset.before.replace("{length}", answered);
  stack.append(words);
}

// The case shows which blocks stand in the stack, as the answer names them.
function mark() {
  const order = new Map();
  for (const button of answer.querySelector(".missing")?.querySelectorAll("button") ?? []) order.set(button.value, button.dataset.order);
  for (const box of form.querySelectorAll(".row input")) {
    const cell = box.nextElementSibling;
    const number = order.get(box.value);
    cell.classList.toggle("used", number !== undefined);
    cell.querySelector("b")?.remove();
    if (number !== undefined) cell.insertAdjacentHTML("beforeend", `<b>${Number(number)}</b>`);
  }
}

function put(name, gone) {
  taken = "";
  if (gone) marked.add(name);
  else marked.delete(name);
  for (const box of form.querySelectorAll("input[name=gone]")) if (box.value === name) box.checked = gone;
  ask();
}

function soon() {
  taken = "";
  want.classList.toggle("long", want.value.length > 8);
  want.classList.toggle("longest", want.value.length > 14);
  clearTimeout(waiting);
  waiting = setTimeout(ask, 30);
}

form.addEventListener("input", (event) => {
  if (event.target.closest("details")) return;
  if (event.target.name === "gone") put(event.target.value, event.target.checked);
  else soon();
});

// "Not there" marks the block in the case, and asks again in place.
answer.addEventListener("click", async (event) => {
  const button = event.target.closest("button[name=not_there], button[name=back]");
  if (!button) return;
  event.preventDefault();
  // Only the click of a pointer has a detail; keys hit what they mean.
  if (event.detail && performance.now() - changed < SETTLED_MS) return;
  changed = performance.now();
  if (button.formMethod === "post") await report(button);
  put(button.value, button.name === "not_there");
});

// To the crib; whether it went well is what the crib says in the next answer.
async function report(button) {
  const body = query();
  body.append(button.name, button.value);
  try {
    await fetch(button.formAction, { method: "POST", body, redirect: "manual" });
  } catch { /* as the next answer will say */ }
}

// Links keep what was typed since the page came.
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-set]");
  if (!link) return;
  const given = query();
  const [name, value] = link.dataset.set.split("=");
  // Searched for once more, it might be another stack that is printed.
  const printed = link.pathname.endsWith("/cards");
  if (printed && answer.querySelector("[data-open]") && shown === String(given)) given.set("use", standing());
  if (name) given.set(name, value);
  link.search = given;
});

let last = { key: "", at: 0 };
keypad.addEventListener("click", (event) => {
  const key = event.target.closest("button")?.dataset.key;
  const again = key === last.key && event.timeStamp - last.at < TWICE_MS;
  if (!key || again) return;
  last = { key, at: event.timeStamp };
  typing.value = pressed(typing.value, key);
  soon();
});
form.addEventListener("focusin", ({ target }) => { if (target === want || target.matches("[data-typed]")) typing = target; });
keypad.addEventListener("mousedown", (event) => event.preventDefault()); // the entry keeps the focus

function pressed(text, key) {
  if (key === "clear") return "";
  if (key === "rub") return text.slice(0, -1);
  if (key !== "unit") return text + key;
  const plain = text.replace(/\s*(mm|in)$/, "");
  return plain === text ? `${text} ${form.elements.unit.value === "in" ? "mm" : "in"}` : plain;
}
