// Links into the live page that `polstack lessons --out DIR` writes, read by the page's own reader of addresses.
// Usage: node page/tests/links.mjs DIR
import { readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const [folder] = process.argv.slice(2);
// As a module, whatever this version of node takes a .js file for.
const reader = readFileSync(join(dirname(fileURLToPath(import.meta.url)), "..", "src", "state.js"), "utf8");
const { fromAddress } = await import(`data:text/javascript,${encodeURIComponent(reader)}`);
const html = readFileSync(join(folder, "links.html"), "utf8");
const page = readFileSync(join(folder, "polstack.html"), "utf8");
const carried = JSON.parse(/id="scenarios">(.*?)<\/script>/s.exec(page)[1]);
const links = [...html.matchAll(/href="polstack\.html#(s=[\w-]+)"/g)].map((match) => match[1]);
if (links.length === 0 || links.length !== carried.length) throw new Error(`${links.length} links, ${carried.length} scenarios in the page`);
for (const [k, link] of links.entries()) {
  const state = await fromAddress(`#${link}`);
  if (state === null) throw new Error(`link ${k + 1} cannot be read`);
  const file = readFileSync(join(folder, carried[k].name.split("/").pop()), "utf8");
  if (state.text !== file || state.opened !== file || carried[k].text !== file) throw new Error(`link ${k + 1} holds another scenario`);
  const parts = [...file.matchAll(/^name = "(.*)"$/gm)].map((match) => match[1]);
  for (const name of state.free ?? []) if (name !== "lamp" && !parts.includes(name)) throw new Error(`link ${k + 1} frees ${name}`);
}
console.log(`${links.length} links hold their lessons`);
