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
let typing = want.type === "hidden" ? form.querySelector("[data-typed]") ?? want : want; // where the keypad types

function query() {
  const given = new URLSearchParams(new FormData(form));
  for (const name of ["new_set", "new_grade", "new_name", "new_lengths", "lines", "gone"]) given.delete(name);
  for (const [name, value] of [...given]) if (!value) given.delete(name);
  for (const name of marked) given.append("gone", name); // the last one marked last
  return given;
}

function line(text, press, action) {
  const made = document.createElement("p");
  made.className = "sheet progress";
  made.setAttribute("role", "status");
  const words = document.createElement("span");
  words.textContent = text;
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = press;
  button.addEventListener("click", action);
  made.append(words, button);
  answer.querySelector(".progress")?.remove();
  answer.prepend(made);
  return words;
}

function progress(started) {
  const text = () => `${form.dataset.searching} ${((Date.now() - started) / 1000).toFixed(1)} s`;
  const words = line(text(), form.dataset.stop, stop);
  answer.classList.add("old");
  document.getElementById("read").textContent = "";
  return setInterval(() => { words.textContent = text(); }, 1000);
}

function stop() {
  if (!asking) return;
  asking.abort();
  asking = null;
  answer.classList.add("old");
  line(form.dataset.stopped, form.dataset.searching, ask);
}

async function ask() {
  asking?.abort();
  const control = new AbortController();
  asking = control;
  const given = query();
  history.replaceState(null, "", `?${given}`);
  const started = Date.now();
  let beat = 0;
  const late = setTimeout(() => { beat = progress(started); }, 500);
  try {
    const response = await fetch(`bench/answer?${given}`, { signal: control.signal });
    if (!response.ok) throw new Error(response.statusText);
    const html = await response.text();
    if (asking === control) show(html);
  } catch (error) {
    if (asking !== control) return;
    answer.classList.add("old");
    line(form.dataset.gone, form.dataset.searching, ask);
  } finally {
    clearTimeout(late);
    clearInterval(beat);
    if (asking === control) asking = null;
  }
}

function show(html) {
  const part = document.createElement("template");
  part.innerHTML = html;
  for (const each of part.content.querySelectorAll("[data-place]")) document.getElementById(each.id).replaceWith(each);
  const state = document.getElementById("read").dataset.state;
  want.toggleAttribute("aria-invalid", state === "wrong" || state === "angle");
  answer.querySelector(".progress")?.remove();
  if (state === "unfinished" && !part.content.querySelector(".sheet:not(.strip)")) return before();
  answer.classList.remove("old");
  answer.replaceChildren(part.content);
  answered = want.value;
  changed = performance.now();
  said.textContent = answer.querySelector(".proof, .refused h2")?.textContent ?? "";
  mark();
}

// While a figure is to come the last stack stays, with the length that it belongs to.
function before() {
  const stack = answer.querySelector(".stack");
  answer.classList.toggle("old", stack !== null);
  if (!stack || stack.querySelector(".before")) return;
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
  if (gone) marked.add(name);
  else marked.delete(name);
  for (const box of form.querySelectorAll("input[name=gone]")) if (box.value === name) box.checked = gone;
  ask();
}

function soon() {
  want.classList.toggle("long", want.value.length > 8);
  clearTimeout(waiting);
  waiting = setTimeout(ask, 30);
}

form.addEventListener("input", (event) => {
  if (event.target.closest("details")) return;
  if (event.target.name === "gone") put(event.target.value, event.target.checked);
  else soon();
});

// "Not there" marks the block in the case, and asks again in place.
answer.addEventListener("click", (event) => {
  const button = event.target.closest("button[name=not_there], button[name=back]");
  if (!button) return;
  event.preventDefault();
  if (performance.now() - changed >= SETTLED_MS) put(button.value, button.name === "not_there");
});

// Links keep what was typed since the page came.
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-set]");
  if (!link) return;
  const given = query();
  const [name, value] = link.dataset.set.split("=");
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
