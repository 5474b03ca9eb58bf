// Post a traveller in turn, print its stacks, keep its record: node traveller.ts REQUEST RECORD [ADDRESS]
// Node 22.18 or newer. The request says `in_turn` and asks for a record.
import { readFile, writeFile } from "node:fs/promises";
import type { components } from "./api";

const [requestFile = "", recordFile = "", address = "http://127.0.0.1:8000"] = process.argv.slice(2);
const response = await fetch(`${address}/v1/stacks`, {
  method: "POST",
  headers: { "Content-Type": "application/json" },
  body: await readFile(requestFile, "utf8"),
});
if (!response.ok) throw new Error(await response.text());
const answer = (await response.json()) as components["schemas"]["StackAnswer"];
for (const stack of answer.stacks) {
  console.log(`${stack.target}: ${stack.blocks.map((block) => block.nominal).join(" + ")}`);
}
await writeFile(recordFile, JSON.stringify(answer.record, null, 2));
console.log(`record: ${answer.record?.request_sha256}`);
