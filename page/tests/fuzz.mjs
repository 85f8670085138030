// Spoiled scenarios through the engine of the page: each is answered or refused, and none stops the engine.
// Usage: node page/tests/fuzz.mjs ENGINE.wasm SECONDS [SEED]
import { readFileSync, readdirSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { engine } from "./engine.mjs";

const [wasm, seconds, seed = "1"] = process.argv.slice(2);
const folder = join(dirname(fileURLToPath(import.meta.url)), "..", "..", "scenarios");
const texts = readdirSync(folder).filter((name) => name.endsWith(".toml")).map((name) => readFileSync(join(folder, name), "utf8").replace(/^#.*\n/gm, ""));
const PIECES = ["-1", "0", "nan", "inf", "1e308", "1e-308", "90", "\"ideal\"", "\"oil\"", "{", "}", "[", "]", "[[part]]\n", "=", "\"", "\n", "é", "😀", "\0", "[doubt]\nsample = \"x\"\n", "polarizer = { sheet = \"ideal\", azimuth_deg = 0 }\n", "99999999999999999999"];

// A small generator of even numbers (xorshift of 32 bits), so that a failure can be made again.
let state = Number(seed) >>> 0 || 1;
const even = (below) => {
  state ^= state << 13;
  state ^= state >>> 17;
  state ^= state << 5;
  return (state >>> 0) % below;
};

/** @param {string} text */
function spoiled(text) {
  let letters = text;
  for (let times = 1 + even(4); times > 0; times -= 1) {
    const at = even(letters.length + 1);
    const length = even(12);
    const numbers = [...letters.matchAll(/-?\d+(\.\d+)?/g)];
    const piece = PIECES[even(PIECES.length)];
    const kind = even(5);
    if (kind === 0) letters = letters.slice(0, at) + letters.slice(at + length);
    else if (kind === 1) letters = letters.slice(0, at) + piece + letters.slice(at);
    else if (kind === 2 && numbers.length > 0) {
      const found = numbers[even(numbers.length)];
      letters = letters.slice(0, found.index) + piece + letters.slice(found.index + found[0].length);
    } else if (kind === 3) {
      const lines = letters.split("\n");
      lines.splice(even(lines.length), 1);
      letters = lines.join("\n");
    } else {
      const lines = letters.split("\n");
      lines.splice(even(lines.length), 0, lines[even(lines.length)]);
      letters = lines.join("\n");
    }
  }
  return letters;
}

const ask = await engine(wasm);
const until = Date.now() + 1000 * Number(seconds);
let [count, answered] = [0, 0];
while (Date.now() < until) {
  const text = spoiled(texts[even(texts.length)]);
  const request = even(2) === 0 ? { do: "frame", text, size: 16, coarse: true } : { do: "edit", text, edits: [{ part: even(6), turn_deg: even(360) }, { part: even(6), move_to: even(6) }, { path: ["aperture", "na"], value: even(150) / 100 }] };
  let answer;
  try {
    answer = ask(request);
    if (request.do === "edit" && answer.text && even(4) === 0) answer = ask({ do: "outline", text: answer.text });
  } catch (error) {
    console.error(`the engine stopped at number ${count}: ${error}\n${JSON.stringify(request)}`);
    process.exit(1);
  }
  if (answer.error && typeof answer.error.message !== "string") throw new Error(JSON.stringify(answer));
  count += 1;
  answered += answer.error ? 0 : 1;
}
if (answered === 0) throw new Error("nothing was answered: what is spoiled is spoiled too much");
console.log(`${count} spoiled requests, ${answered} answered, the rest refused; the engine runs on`);
