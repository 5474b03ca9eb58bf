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
    const response = await fetch(`${form.dataset.parts}more?${query()}`, { signal: control.signal });
    if (response.ok && second === control) place.innerHTML = await response.text();
  } catch { /* overtaken, or gone: the stack stands without it */ }
}

new MutationObserver(() => { if (!answer.matches(".old, .searching")) askMore(); }).observe(answer, { childList: true });

answer.addEventListener("click", (event) => {
  const button = event.target.closest("button[name=use], button[name=search]");
  if (!button) return;
  event.preventDefault();
  if (button.name === "use") use(button.value);
  else ask(true);
});
