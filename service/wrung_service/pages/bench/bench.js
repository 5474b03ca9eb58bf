// Saves reloading: asks for the part that changes, drops what was overtaken, keeps the address true.
"use strict";
const form = document.getElementById("question");
const want = document.getElementById("want");
const answer = document.getElementById("answer");
const keypad = document.getElementById("keypad");
let asking = null;
let waiting = 0;

function query() {
  const given = new URLSearchParams(new FormData(form));
  for (const name of ["new_set", "new_grade", "new_name"]) given.delete(name);
  for (const [name, value] of [...given]) if (!value) given.delete(name);
  return given;
}

function progress(started, control) {
  const line = document.createElement("p");
  line.className = "sheet progress";
  line.setAttribute("role", "status");
  const words = document.createElement("span");
  const stop = document.createElement("button");
  stop.type = "button";
  stop.textContent = form.dataset.stop;
  stop.addEventListener("click", () => control.abort());
  line.append(words, stop);
  const say = () => { words.textContent = `${form.dataset.searching} ${((Date.now() - started) / 1000).toFixed(1)} s`; };
  say();
  answer.classList.add("old");
  answer.prepend(line);
  return setInterval(say, 1000);
}

async function ask() {
  asking?.abort();
  const control = new AbortController();
  asking = control;
  const given = query();
  history.replaceState(null, "", `?${given}`);
  let beat = 0;
  const late = setTimeout(() => { beat = progress(Date.now(), control); }, 500);
  try {
    const response = await fetch(`bench/answer?${given}`, { signal: control.signal });
    const html = await response.text();
    if (asking !== control) return;
    if (!response.ok) throw new Error(response.statusText);
    answer.innerHTML = html;
    mark();
  } catch (error) {
    if (asking === control && error.name !== "AbortError") {
      answer.innerHTML = `<p class="sheet refused strip" role="alert"><strong></strong></p>`;
      answer.querySelector("strong").textContent = form.dataset.gone;
    }
  } finally {
    clearTimeout(late);
    clearInterval(beat);
    if (asking === control) { answer.classList.remove("old"); answer.querySelector(".progress")?.remove(); }
  }
}

// The case shows which blocks stand in the stack, as the answer names them.
function mark() {
  const order = new Map();
  for (const button of answer.querySelectorAll(".missing button[data-order]")) order.set(button.value, button.dataset.order);
  for (const box of form.querySelectorAll(".row input")) {
    const cell = box.nextElementSibling;
    const number = order.get(box.value);
    cell.classList.toggle("used", number !== undefined);
    cell.querySelector("b")?.remove();
    if (number !== undefined) cell.insertAdjacentHTML("beforeend", `<b>${Number(number)}</b>`);
  }
}

function soon() {
  clearTimeout(waiting);
  waiting = setTimeout(ask, 30);
}

form.addEventListener("input", (event) => {
  if (!event.target.closest("details")) soon();
});

// "Not there" marks the block in the case, and asks again in place.
answer.addEventListener("click", (event) => {
  const button = event.target.closest("button[name=not_there]");
  if (!button) return;
  const box = [...form.querySelectorAll("input[name=gone]")].find((each) => each.value === button.value);
  if (!box) return;
  event.preventDefault();
  box.checked = true;
  ask();
});

let last = { key: "", at: 0 };
keypad.addEventListener("click", (event) => {
  const key = event.target.closest("button")?.dataset.key;
  if (!key) return;
  // A gloved finger may hit twice.
  const now = performance.now();
  if (key === last.key && now - last.at < 60) return;
  last = { key, at: now };
  if (key === "clear") want.value = "";
  else if (key === "rub") want.value = want.value.slice(0, -1);
  else want.value += key;
  soon();
});
keypad.hidden = false;
if (matchMedia("(pointer: coarse)").matches) want.inputMode = "none";
