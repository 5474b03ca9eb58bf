// The keyboard: Enter is the next target, Esc takes back, arrows walk in the stack and in the case.
"use strict";
const next = form.querySelector("button[name=next]");

form.addEventListener("keydown", (event) => {
  const { key, target } = event;
  if (key === "Enter" && target.matches(".entry input:not([type])")) {
    event.preventDefault();
    if (target.value.trim()) form.requestSubmit(next);
  } else if (key === "Delete" && target.name === "not_there") {
    event.preventDefault();
    target.click();
  } else if (target.name === "not_there") walk(event, answer.querySelectorAll("button[name=not_there]"), 1);
  else if (target.name === "gone") walk(event, target.closest(".case").querySelectorAll("input"), 0);
});

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  const back = answer.querySelector("button[name=back]");
  if (asking) stop();
  else back?.click();
});

function walk(event, all, onlyDown) {
  const items = [...all];
  const here = items.indexOf(event.target);
  const to = { ArrowLeft: onlyDown ? -1 : here - 1, ArrowRight: onlyDown ? -1 : here + 1, ArrowUp: onlyDown ? here - 1 : beside(items, here, -1), ArrowDown: onlyDown ? here + 1 : beside(items, here, 1) }[event.key];
  if (to === undefined) return;
  event.preventDefault();
  items[to]?.focus();
}

// The nearest one of the next row up or down, as it stands on the screen.
function beside(items, here, way) {
  const at = items[here].getBoundingClientRect();
  let best = -1;
  for (let i = here + way; items[i]; i += way) {
    const box = items[i].getBoundingClientRect();
    if (Math.abs(box.top - at.top) < 4) continue;
    if (best >= 0 && Math.abs(items[best].getBoundingClientRect().top - box.top) > 4) break;
    if (best < 0 || Math.abs(items[best].getBoundingClientRect().left - at.left) > Math.abs(box.left - at.left)) best = i;
  }
  return best;
}

// A step of history a target; an address in which a button was pressed is put in its plain form.
if (/[?&](next|add|take|search|not_there|back|theme)=/.test(location.search)) history.replaceState(null, "", `?${query()}`);
document.documentElement.classList.add("script");
keypad.hidden = false;
if (matchMedia("(pointer: coarse)").matches) {
  for (const each of form.querySelectorAll("#want, [data-typed]")) each.inputMode = "none";
  // Nor does the entry take the focus by itself, which would open the keypad of a low screen.
  const unasked = () => want.blur();
  want.addEventListener("focus", unasked);
  for (const touched of ["pointerdown", "keydown"]) addEventListener(touched, () => want.removeEventListener("focus", unasked), { capture: true, once: true });
  if (document.activeElement === want) unasked();
} else if (document.activeElement === document.body && !location.hash) {
  // Its autofocus waits for the first frame, and keys that are hit before that would be lost.
  want.focus();
}
