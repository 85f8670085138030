// A browser with the page in it, for its tests. The page's file is the first word of their command lines.
// Needs playwright-core and axe-core (package.json), beside this file or in the folder that POLSTACK_NODE names, and Chromium.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const require = createRequire(join(process.env.POLSTACK_NODE ?? dirname(fileURLToPath(import.meta.url)), "package.json"));
const { chromium } = require("playwright-core");
export const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const address = pathToFileURL(resolve(process.argv[2])).href;

const OPTIONS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: OPTIONS });
let failures = 0;

/** @param {boolean} holds @param {string} words */
export function check(holds, words) {
  console.log(`${holds ? "ok    " : "FAILED"} ${words}`);
  if (!holds) failures += 1;
}

/** Opens the page; what leaves it or breaks in it is a failure. */
export async function open({ width = 1280, height = 900, scheme = "light", hash = "" } = {}) {
  const context = await browser.newContext({ viewport: { width, height }, colorScheme: scheme, acceptDownloads: true });
  const tab = await context.newPage();
  tab.on("request", (request) => {
    if (!/^(file|blob|data):/.test(request.url())) check(false, `a request leaves: ${request.url()}`);
  });
  tab.on("pageerror", (error) => check(false, `an error in the page: ${error.message}`));
  await tab.goto(address + hash);
  await tab.waitForFunction(() => Number(document.body.dataset.frames) > 0);
  return tab;
}

/** Waits until the answers that take longer are there. */
export async function rested(tab) {
  await tab.waitForFunction(() => document.body.dataset.rested === document.body.dataset.frames && window.polstack.engine.waiting.size === 0 && !window.polstack.engine.running, null, { timeout: 20000 });
}

export const openRow = (tab, name) => tab.evaluate((name) => { document.querySelector(`details[data-name="${name}"]`).open = true; }, name);

/** Drags the condenser's first slider through 60 places, and waits until all is answered. */
export async function drag(tab) {
  await openRow(tab, "condenser");
  const slider = tab.locator("details[data-name='condenser'] fieldset input[type=range]").first();
  await slider.scrollIntoViewIfNeeded();
  const { x, y, width, height } = await slider.boundingBox();
  await tab.mouse.move(x + width * 0.5, y + height / 2);
  await tab.mouse.down();
  for (let k = 0; k < 60; k += 1) {
    await tab.mouse.move(x + width * (0.5 + 0.007 * k), y + height / 2);
    await tab.waitForTimeout(25);
  }
  await tab.mouse.up();
  await rested(tab);
}

/** The end of a test: `words` where nothing failed. */
export async function done(words) {
  await browser.close();
  console.log(failures === 0 ? words : `${failures} failures`);
  process.exit(failures === 0 ? 0 : 1);
}
