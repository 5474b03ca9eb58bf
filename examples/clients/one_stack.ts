// Ask for one stack and print it: node one_stack.ts [ADDRESS]
// Node 22.18 or newer. The types: npx openapi-typescript ADDRESS/openapi.json -o api.d.ts
import type { components } from "./api";

const address = process.argv[2] ?? "http://127.0.0.1:8000";
// Lengths are text, so that no digit is lost.
const request: components["schemas"]["StackRequest"] = {
  unit: "in",
  sets: [{ id: "crib", composition: "inch-81", grade: "AS-1" }],
  targets: [{ ref: "op10", kind: "length", length: "0.3506" }],
};
const response = await fetch(`${address}/v1/stacks`, {
  method: "POST",
  headers: { "Content-Type": "application/json" },
  body: JSON.stringify(request),
});
if (!response.ok) throw new Error(await response.text());
const answer = (await response.json()) as components["schemas"]["StackAnswer"];
for (const stack of answer.stacks) {
  console.log(`${stack.target}: ${stack.blocks.map((block) => block.nominal).join(" + ")}`);
}
