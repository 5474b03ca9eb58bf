// Post a request, again if the service is busy, and print its stacks: node stacks.ts REQUEST [ADDRESS]
// Node 22.18 or newer. Ends with 1 if the service refuses the request.
import { readFile } from "node:fs/promises";
import type { components } from "./api";

type Schemas = components["schemas"];

/** Waits as long as a busy service says. Posting again is safe: nothing is stored. */
async function post(address: string, body: string, tries = 5): Promise<Response> {
  const headers = { "Content-Type": "application/json" };
  const response = await fetch(`${address}/v1/stacks`, { method: "POST", headers, body });
  if (response.status !== 503 || tries === 1) return response;
  const seconds = Number(response.headers.get("Retry-After") ?? 1);
  await new Promise((done) => setTimeout(done, seconds * 1000));
  return post(address, body, tries - 1);
}

const name = (stack: Schemas["StackOfTarget"]) =>
  stack.role === null ? stack.target : `${stack.target} ${stack.role}`;

const [requestFile = "", address = "http://127.0.0.1:8000"] = process.argv.slice(2);
const response = await post(address, await readFile(requestFile, "utf8"));
if (response.ok) {
  const answer = (await response.json()) as Schemas["StackAnswer"];
  console.log(`outcome: ${answer.outcome}`);
  for (const stack of answer.stacks) {
    const blocks = stack.blocks.map((block) => block.nominal).join(" + ");
    const within = `within ${stack.worst_case_error} ${answer.small_unit}`;
    console.log(`${name(stack)}: ${blocks} = ${stack.nominal} ${answer.unit}, ${within}`);
  }
  for (const unmet of answer.unmet) {
    console.log(`${name(unmet)}: no stack, ${unmet.reason.replaceAll("_", " ")}`);
  }
} else {
  const problem = (await response.json()) as Schemas["Problem"];
  console.error(`${problem.title} - ${problem.detail}`);
  for (const fault of problem.errors) console.error(`  ${fault.pointer}: ${fault.detail}`);
  process.exitCode = 1;
}
