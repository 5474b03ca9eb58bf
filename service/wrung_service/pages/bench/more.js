// After the stack: asks for the next best ones and what one more block buys; takes one of them.
"use strict";
let second = null;

async function askMore() {
  second?.abort();
  const place = document.getElementById("more");
  if (!place || place.children.length || !answer.querySelector(".stack")) return;
  const control = new AbortController();
  second = control;
  try {
    const response = await fetch(`bench/more?${query()}`, { signal: control.signal });
    if (response.ok && second === control) place.innerHTML = await response.text();
  } catch { /* overtaken, or gone: the stack stands without it */ }
}

new MutationObserver(() => { if (!answer.classList.contains("old")) askMore(); }).observe(answer, { childList: true });

// Asked once: it stands in the address, but the next change of the question is without it.
answer.addEventListener("click", (event) => {
  const button = event.target.closest("button[name=use], button[name=longer]");
  if (!button) return;
  event.preventDefault();
  const once = document.createElement("input");
  Object.assign(once, { type: "hidden", name: button.name, value: button.value });
  form.append(once);
  ask();
  once.remove();
});
