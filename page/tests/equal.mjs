// Every shipped scenario through the engine of the page, compared with the native program: what is computed of the file as written is the same to
// the last bit; with what is not known, each number is within 1e-8 of itself (or of the largest number of its list, where that is more).
// Usage: node page/tests/equal.mjs WASM NATIVE_BINARY
import { execFileSync } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { engine } from "./engine.mjs";

const SAME = 1e-8;
const [wasm, native] = process.argv.slice(2);
const root = join(dirname(fileURLToPath(import.meta.url)), "..", "..");
const ask = await engine(wasm);

/** The files that a scenario names, by these names. */
function files(text) {
  const named = [...text.matchAll(/csv = "([^"]+)"/g)].map((match) => match[1]);
  return Object.fromEntries(named.map((name) => [name, readFileSync(join(root, "scenarios", name), "utf8")]));
}

/** The largest difference of two documents; throws where they differ in anything but numbers. */
function apart(one, other, way, scale = 0) {
  if (typeof one === "number" && typeof other === "number") {
    const size = Math.max(Math.abs(one), Math.abs(other), scale);
    return size === 0 ? 0 : Math.abs(one - other) / size;
  }
  if (one === null || other === null || typeof one !== "object" || typeof other !== "object") {
    if (one !== other) throw new Error(`${way}: ${JSON.stringify(one)} in the page, ${JSON.stringify(other)} natively`);
    return 0;
  }
  const keys = Object.keys(one);
  if (keys.sort().join() !== Object.keys(other).sort().join()) throw new Error(`${way}: other keys`);
  // Error estimates, shares and matrix elements may be differences of larger numbers: they count beside 1.
  const list = Array.isArray(one) && typeof one[0] === "number" ? Math.max(...one.map(Math.abs)) : scale;
  return Math.max(0, ...keys.map((key) => {
    const beside = /error|share|mueller|diattenuation|depolarization|retardance/.test(key) ? 1 : list;
    return apart(one[key], other[key], `${way}.${key}`, beside);
  }));
}

let worst = 0;
for (const name of readdirSync(join(root, "scenarios")).filter((name) => name.endsWith(".toml"))) {
  const path = join(root, "scenarios", name);
  const text = readFileSync(path, "utf8");
  const asked = { do: "predict", text, files: files(text), shares: true };
  const page = ask(asked);
  if (page.error) throw new Error(`${name}: ${page.error.rendered}`);
  const options = { encoding: "utf8", maxBuffer: 1 << 28 };
  const written = apart(ask({ ...asked, exact: true }), JSON.parse(execFileSync(native, ["predict", path, "--json", "--exact"], options)), name);
  if (written !== 0) throw new Error(`${name}: as written, page and program differ by ${written}`);
  const program = JSON.parse(execFileSync(native, ["predict", path, "--json"], options));
  const off = apart(page, program, name);
  worst = Math.max(worst, off);
  console.log(`${name}: ${off.toExponential(1)}`);
}
console.log(`largest difference ${worst.toExponential(1)}`);
if (!(worst <= SAME)) throw new Error(`page and program differ by more than ${SAME}`);
