// Have many requests answered in the background. Node 22.18 or newer.
//   node batch.ts REQUESTS RESULTS KEY [SITE]    one request a line in, one answer a line out, in order
// KEY is an Idempotency-Key of your own, another one for each batch. CRIB_ADDRESS is http://127.0.0.1:8000
// if not set; CRIB_KEY is the API key, if the service wants one. Ends with 1 if the service refuses the
// batch; what it refuses of a request stands in the line of that request.
import { open, readFile } from "node:fs/promises";
import type { components } from "./api";

type Schemas = components["schemas"];

const { CRIB_ADDRESS: address = "http://127.0.0.1:8000", CRIB_KEY: apiKey } = process.env;
const pause = (seconds: number) => new Promise((done) => setTimeout(done, seconds * 1000));

/**
 * A busy service says how long to wait. If the connection breaks, it is asked again: a batch with its
 * key is made once.
 */
async function ask(path: string, sent: RequestInit = {}, tries = 5): Promise<Response> {
  const headers = new Headers(sent.headers);
  if (apiKey) headers.set("Authorization", `Bearer ${apiKey}`);
  let response: Response;
  try {
    response = await fetch(`${address}${path}`, { ...sent, headers });
  } catch (broken) {
    if (tries === 1) throw broken;
    await pause(1);
    return ask(path, sent, tries - 1);
  }
  if (response.ok) return response;
  if ((response.status === 503 || response.status === 429) && tries > 1) {
    await pause(Number(response.headers.get("Retry-After") ?? 1));
    return ask(path, sent, tries - 1);
  }
  const problem = (await response.json()) as Schemas["Problem"];
  console.error(`${problem.title} - ${problem.detail}`);
  process.exit(1);
}

/** The lines behind a position, as they come; where the answer breaks off, whole ones only. */
async function* linesAfter(batch: string, position: number) {
  const { body } = await ask(`${batch}/results?after=${position}`);
  const decoder = new TextDecoder();
  let rest = "";
  for await (const piece of body as unknown as AsyncIterable<Uint8Array>) {
    const lines = (rest + decoder.decode(piece, { stream: true })).split("\n");
    rest = lines.pop() ?? "";
    yield* lines;
  }
}

const [requests, results, key, site] = process.argv.slice(2);
if (!requests || !results || !key) {
  console.error("REQUESTS RESULTS KEY [SITE]");
  process.exit(2);
}
const posted = await ask(`/v1/batches${site ? `?site=${site}` : ""}`, {
  method: "POST",
  headers: { "Content-Type": "application/x-ndjson", "Idempotency-Key": key },
  body: await readFile(requests, "utf8"),
});
const batch = posted.headers.get("Location") ?? "";
console.log(`batch: ${batch}`);

const file = await open(results, "w");
let [last, total, failed, ended] = [-1, 0, 0, false];
while (!ended) {
  // Asked before the lines are read, so that none comes after those.
  const status = (await (await ask(batch)).json()) as Schemas["Batch"];
  ended = status.ended_at !== null;
  try {
    for await (const line of linesAfter(batch, last)) {
      const result = JSON.parse(line) as Schemas["BatchResult"];
      await file.write(`${line}\n`);
      last = result.position;
      total += 1;
      if (result.problem) failed += 1;
    }
  } catch {
    // It broke off: go on behind the last whole line.
    ended = false;
  }
}
await file.close();
console.log(`answers: ${total}, of them problems: ${failed}`);
