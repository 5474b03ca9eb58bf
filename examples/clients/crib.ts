// At the counter of a tool crib. Node 22.18 or newer.
//   node crib.ts plan REQUEST KEY                          promise blocks to a job
//   node crib.ts issue SITE BLOCK...                       blocks go out, by a scan of their ids
//   node crib.ts return SITE BLOCK [CONDITION] [REASON]    one comes back: damaged "burr at the edge"
//   node crib.ts replan PLAN [REASON]                      other blocks for those that failed
// CRIB_ADDRESS is http://127.0.0.1:8000 if not set; CRIB_KEY is the API key, if the service wants one.
// Ends with 1 if the service refuses: of a plan, 409 says who has the blocks.
import { readFile } from "node:fs/promises";
import type { components } from "./api";

type Schemas = components["schemas"];

const { CRIB_ADDRESS: address = "http://127.0.0.1:8000", CRIB_KEY: apiKey } = process.env;
const pause = (seconds: number) => new Promise((done) => setTimeout(done, seconds * 1000));

/**
 * A busy service says how long to wait. If the connection breaks, nobody knows whether it was done:
 * with a key it may be sent again, as it is not done twice, and the first answer comes back.
 */
async function post<T>(path: string, body: string, key?: string, tries = 5): Promise<T> {
  const headers: Record<string, string> = { "Content-Type": "application/json" };
  if (apiKey) headers["Authorization"] = `Bearer ${apiKey}`;
  if (key) headers["Idempotency-Key"] = key;
  let response: Response;
  try {
    response = await fetch(`${address}${path}`, { method: "POST", headers, body });
  } catch (broken) {
    if (!key || tries === 1) throw broken;
    await pause(1);
    return post(path, body, key, tries - 1);
  }
  if (response.ok) return (await response.json()) as T;
  if ((response.status === 503 || response.status === 429) && tries > 1) {
    await pause(Number(response.headers.get("Retry-After") ?? 1));
    return post(path, body, key, tries - 1);
  }
  showProblem((await response.json()) as Schemas["Problem"]);
  process.exit(1);
}

function showProblem(problem: Schemas["Problem"]) {
  console.error(`${problem.title} - ${problem.detail}`);
  for (const fault of problem.errors) console.error(`  ${fault.pointer}: ${fault.detail}`);
  for (const each of problem.taken ?? []) {
    console.error(`  ${each.block} has job ${each.job} until ${each.ends_at}`);
  }
}

function showPlan(plan: Schemas["PlanDetails"]) {
  console.log(`plan: ${plan.id}`);
  for (const stack of plan.answer.stacks) {
    console.log(`${stack.target}: ${stack.blocks.map((block) => block.id).join(" + ")}`);
  }
}

const [command = "", first = "", ...others] = process.argv.slice(2);
if (command === "plan") {
  showPlan(await post("/v1/plans", await readFile(first, "utf8"), others[0]));
} else if (command === "issue") {
  const body = JSON.stringify({ blocks: others });
  const issued = await post<Schemas["IssuedBlocks"]>(`/v1/sites/${first}/issues`, body);
  for (const loan of issued.loans) {
    console.log(`${loan.block} is out for ${loan.plan} until ${loan.due_at}`);
  }
} else if (command === "return") {
  const [id = "", condition = "fit", reason] = others;
  const body = JSON.stringify({ blocks: [{ id, condition, reason }] });
  const back = await post<Schemas["ChangedBlocks"]>(`/v1/sites/${first}/returns`, body);
  for (const block of back.blocks) console.log(`${block.id} is back: ${block.condition}`);
  for (const risk of back.at_risk) {
    console.log(`at risk: ${risk.plan} of job ${risk.job} from ${risk.starts_at}`);
  }
} else if (command === "replan") {
  showPlan(await post(`/v1/plans/${first}/replan`, JSON.stringify({ reason: others[0] })));
} else {
  console.error("plan REQUEST KEY | issue SITE BLOCK... | return SITE BLOCK [CONDITION] [REASON] | replan PLAN [REASON]");
  process.exitCode = 2;
}
