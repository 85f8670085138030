// Joins the page into one HTML file: modules, style, words, scenarios and the engine.
// Usage: node page/join.mjs ENGINE.wasm OUT.html
import { createHash } from "node:crypto";
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { constants, gzipSync } from "node:zlib";

const page = dirname(fileURLToPath(import.meta.url));
const root = join(page, "..");
const [wasm, out] = process.argv.slice(2);
const read = (...way) => readFileSync(join(page, ...way), "utf8");

/** Modules in the order in which they need each other; each top-level name is used once in all of them. */
const MODULES = ["words", "dom", "state", "engine", "controls", "fields", "specimen", "rows", "trouble", "seen", "why", "bench", "files", "main"];

/** A module as a part of one script: what it takes from the others is there already. */
function part(name) {
  return read("src", `${name}.js`)
    .replace(/^import [\s\S]*? from "[^"]+";\n/gm, "")
    .replace(/^export /gm, "");
}

/** The shipped scenarios, the starting point first and the lessons last, with the files that they name. */
function scenarios() {
  const folder = join(root, "scenarios");
  const inFolder = (name) => readdirSync(join(folder, name)).filter((file) => file.endsWith(".toml"));
  const names = [...inFolder("."), ...inFolder("lessons").map((file) => `lessons/${file}`)];
  const place = (name) => (name === "pond-life.toml" ? 0 : name.startsWith("lessons/") ? 2 : 1);
  names.sort((a, b) => place(a) - place(b) || a.localeCompare(b));
  return names.map((name) => {
    const text = readFileSync(join(folder, name), "utf8");
    const named = [...text.matchAll(/csv = "([^"]+)"/g)].map((match) => match[1]);
    const files = Object.fromEntries(named.map((file) => [file, readFileSync(join(folder, file), "utf8")]));
    return { name, title: /^title = "(.*)"$/m.exec(text)?.[1] ?? name, text, files };
  });
}

/** Text that may stand inside a script element. */
const inScript = (text) => text.replaceAll("</", "<\\/").replaceAll("<!--", "<\\!--");
const hash = (text) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;

const twice = new Map();
for (const name of MODULES) {
  for (const [, own] of part(name).matchAll(/^(?:async )?(?:function|class|const|let) (\w+)/gm)) {
    if (twice.has(own)) throw new Error(`${own} is a name in ${twice.get(own)} and in ${name}`);
    twice.set(own, name);
  }
}
const script = `"use strict";\n(() => {\n${MODULES.map(part).join("\n")}\n})();\n`;
const style = read("style.css");
const engine = gzipSync(readFileSync(wasm), { level: constants.Z_BEST_COMPRESSION }).toString("base64");
const policy = [
  "default-src 'none'", `script-src ${hash(script)} 'wasm-unsafe-eval' blob:`, `style-src ${hash(style)}`, "img-src data: blob:", "worker-src blob:",
  "connect-src 'none'", "base-uri 'none'", "form-action 'none'",
].join("; ");
const filled = {
  policy, style, script, engine,
  words: inScript(JSON.stringify(JSON.parse(read("words", "en.json")))),
  scenarios: inScript(JSON.stringify(scenarios())),
  worker: read("src", "worker.js"),
};
const html = read("index.html").replace(/\{\{(\w+)\}\}/g, (_, name) => {
  if (!(name in filled)) throw new Error(`nothing is called ${name}`);
  return filled[name];
});
writeFileSync(out, html);
console.log(`${out}: ${html.length} bytes, ${gzipSync(html, { level: 9 }).length} gzipped`);
