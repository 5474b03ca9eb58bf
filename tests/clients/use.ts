// Uses what openapi-typescript made of the document: node use.ts ADDRESS
import createClient from "openapi-fetch";
import type { components, paths } from "./api";

const length: components["schemas"]["Length"] = "0.3506";
const request: components["schemas"]["StackRequest"] = {
  unit: "in",
  sets: [{ id: "crib", composition: "inch-81", grade: "AS-1" }],
  targets: [{ kind: "length", ref: "op10", length }],
};

const client = createClient<paths>({ baseUrl: process.argv[2] ?? "" });
const { data, error } = await client.POST("/v1/stacks", { body: request });
if (error) throw new Error(error.detail);
// The record can be had as CSV, which is text.
if (typeof data === "string") throw new Error(data);
// Only whoever prefers it gets the address of a batch instead.
if (!("outcome" in data)) throw new Error(data.id);
const outcome: components["schemas"]["Outcome"] = data.outcome;
const imported = await client.POST("/v1/certificate-imports", {
  body: "id,nominal,unit,deviation,expanded_uncertainty\na,0.1006,in,1.2,2",
  bodySerializer: (body: unknown) => body as string,
  headers: { "Content-Type": "text/csv" },
});
const refused = await client.POST("/v1/stacks", { body: { ...request, targets: [] } });
console.log(outcome, data.stacks.length, imported.data?.blocks.length, refused.error?.status);
