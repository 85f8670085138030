// The page in a real browser, opened as a file: what a user does with it, and that nothing leaves it. What it costs is in times.mjs.
// Usage: node page/tests/run.mjs PAGE.html NATIVE_BINARY [PICTURES_FOLDER]; needs what browser.mjs needs.
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync, readdirSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { axe, check, done, drag, open, openRow, rested } from "./browser.mjs";

const [, native, pictures] = process.argv.slice(2);
const root = join(dirname(fileURLToPath(import.meta.url)), "..", "..");

/** The ratio of the parts as written, which the page shows alone or beside the median. */
const ratio = (tab) => tab.evaluate(() => Number(document.getElementById("ratio").dataset.written));

// Opening.
{
  const tab = await open();
  await rested(tab);
  check((await ratio(tab)) === 501, "the first scenario is the program's");
  check((await tab.textContent("#interval")).includes("90 %"), "the interval is told");
  check((await tab.textContent("#ratio")) === "501" && (await tab.textContent("#written")).includes("exactly as written"), "in the middle of it, the number as written leads");
  check((await tab.locator("#shares tr").count()) > 4, "the leak is taken apart");
  await tab.context().close();
}

// Every shipped scenario, from the door of the page itself.
{
  const tab = await open();
  let worst = 0;
  for (const name of readdirSync(join(root, "scenarios")).filter((name) => name.endsWith(".toml"))) {
    const path = join(root, "scenarios", name);
    const text = readFileSync(path, "utf8");
    const named = [...text.matchAll(/csv = "([^"]+)"/g)].map((match) => match[1]);
    const files = Object.fromEntries(named.map((file) => [file, readFileSync(join(root, "scenarios", file), "utf8")]));
    const own = JSON.parse(execFileSync(native, ["predict", path, "--json"], { encoding: "utf8", maxBuffer: 1 << 28 }));
    const told = await tab.evaluate(([text, files]) => window.polstack.engine.ask("predict", { text, files, shares: true }), [text, files]);
    const pairs = [[told.extinction_ratio, own.extinction_ratio], ...told.spectrum.crossed.map((light, k) => [light, own.spectrum.crossed[k]]), ...told.leak.map((share, k) => [1 + share.share, 1 + own.leak[k].share])];
    for (const [one, other] of pairs) if (one !== other) worst = Math.max(worst, Math.abs(one - other) / Math.max(Math.abs(one), Math.abs(other)));
  }
  check(worst < 1e-8, `every shipped scenario in the browser as natively: ${worst.toExponential(1)} apart (1e-8 allowed)`);
  await tab.context().close();
}

// By the keyboard alone: the objective's strain, the polar's place, turning, taking out, undoing.
{
  const tab = await open();
  await rested(tab);
  const before = await ratio(tab);
  const reach = async (ready) => {
    for (let presses = 0; presses < 200; presses += 1) {
      await tab.keyboard.press("Tab");
      if (await tab.evaluate(ready)) return true;
    }
    return false;
  };
  check(await reach(() => document.activeElement.closest("details")?.dataset.name === "objective" && document.activeElement.tagName === "SUMMARY"), "Tab reaches the objective's row");
  await tab.keyboard.press("Enter");
  check(await reach(() => document.activeElement.type === "range" && document.activeElement.getAttribute("aria-label") === "path difference"), "Tab reaches its strain");
  for (let k = 0; k < 8; k += 1) await tab.keyboard.press("ArrowRight");
  await rested(tab);
  const strained = await ratio(tab);
  check(strained < before, `arrow keys change the strain: ${before} to ${strained}`);
  check((await tab.textContent("#changed")).includes(`${before} to ${strained}`), "the sentence says what changed");
  check((await tab.evaluate(() => window.polstack.state.text)).includes("path_difference_nm = 7"), "the scenario's text has it");
  check(await reach(() => document.activeElement.classList.contains("dial")), "Tab reaches the dial");
  await tab.keyboard.press("Shift+ArrowRight");
  await rested(tab);
  check((await tab.evaluate(() => window.polstack.state.text)).includes("azimuth_deg = 55"), "the dial turns the objective by ten degrees");
  await tab.keyboard.press("Control+z");
  await tab.keyboard.press("Control+z");
  await rested(tab);
  check((await ratio(tab)) === before, "undone, all is as before");
  await tab.keyboard.press("Control+y");
  await rested(tab);
  check((await ratio(tab)) === strained, "and done again");
  await tab.keyboard.press("Control+z");
  await rested(tab);
  await openRow(tab, "lower polar");
  await tab.focus("details[data-name='lower polar'] button");
  await tab.keyboard.press("Enter");
  await rested(tab);
  check((await ratio(tab)) === 390, `the polar below the condenser: ${await ratio(tab)}, as place says`);
  check((await tab.textContent("#changed")).includes("condenser's strain is now between the polars"), "and why is said");
  const [low, high] = /between (\d+) and (\d+)/.exec(await tab.textContent("#interval"))?.slice(1).map(Number) ?? [];
  const shown = Number(await tab.textContent("#ratio"));
  check(low < shown && shown < high && (await tab.textContent("#written")).startsWith("390 if"), `outside of its interval, the number as written comes second: ${shown}, 90 % between ${low} and ${high}`);
  check((await tab.textContent("#title")).endsWith("(changed)"), "the title says that the stack is another than the one that was opened");
  await tab.focus("#plate");
  await tab.keyboard.press("Space");
  await rested(tab);
  check((await tab.textContent("#changed")) === "", "with the plate, what changed before is no longer said");
  check((await tab.textContent("#plane-words")).startsWith("With the plate in") && !(await tab.textContent("#ramp-row")).includes("ratio"), "nor is a dark cross");
  await tab.focus("#undo");
  await tab.keyboard.press("Enter");
  await rested(tab);
  check((await tab.textContent("#changed")) === "Undone.", "the plate is out again");
  await tab.keyboard.press("Enter");
  await rested(tab);
  check(/^Undone: Extinction ratio 390 to 501/.test(await tab.textContent("#changed")), `undone is no new change: ${await tab.textContent("#changed")}`);
  check(!(await tab.textContent("#title")).includes("changed"), "and the title is the scenario's again");
  await tab.keyboard.press("Control+y");
  await rested(tab);
  check((await tab.textContent("#changed")).startsWith("Done again: "), "nor is what is done again");
  await tab.context().close();
}

// The pointer.
{
  const tab = await open();
  await rested(tab);
  await drag(tab);
  check(await tab.evaluate(() => window.polstack.history.at) === 1, "a drag is one step to undo");
  // The address carries the state.
  await tab.waitForTimeout(600);
  const [now, hash] = [await ratio(tab), await tab.evaluate(() => location.hash)];
  const other = await open({ hash });
  await rested(other);
  check((await ratio(other)) === now, "a link shows the same state");
  await other.reload();
  await other.waitForFunction(() => Number(document.body.dataset.frames) > 0);
  check((await ratio(other)) === now, "and so does a reload");
  await other.context().close();
  await tab.context().close();
}

// What is wrong is said beside the part, and the scenario stays.
{
  const tab = await open();
  await rested(tab);
  await openRow(tab, "objective");
  const box = tab.locator("details[data-name='objective'] input[type=number]").first();
  await box.fill("9");
  await box.press("Enter");
  await tab.waitForFunction(() => document.querySelector("details[data-name='objective'] .trouble").textContent !== "");
  const words = await tab.textContent("details[data-name='objective'] .trouble");
  check(words.includes("allowed"), `a wrong number is refused beside its row: ${words}`);
  await tab.keyboard.press("Escape");
  await tab.evaluate(() => window.polstack.step("undo"));
  await rested(tab);
  check((await tab.textContent("details[data-name='objective'] .trouble")) === "", "taken back, the message goes");
  await tab.evaluate(() => window.polstack.load("this is no scenario", {}));
  await tab.waitForFunction(() => document.getElementById("trouble").textContent !== "");
  check((await tab.textContent("#trouble")).includes("TOML"), "a text that is no scenario is refused");
  await tab.context().close();
}

// A text that is no stack: said beside the text, and what is shown is marked as older.
{
  const tab = await open();
  await rested(tab);
  await tab.evaluate(() => { document.getElementById("files").open = true; });
  await tab.fill("#text", 'title = "x"\n[light]\nsource = "led-b9"\n');
  await tab.click("#apply");
  await tab.waitForFunction(() => document.getElementById("text-trouble").textContent !== "");
  check((await tab.textContent("#text-trouble")).includes("led-b9"), "a broken scenario's message stands beside its text");
  check((await tab.textContent("#trouble")).startsWith("Line 3"), "and at the top, with its line");
  check(await tab.isVisible("#stale"), "the pictures are said to be older");
  await tab.click("#undo");
  await rested(tab);
  check((await tab.textContent("#text-trouble")) === "" && !(await tab.isVisible("#stale")) && (await ratio(tab)) === 501, "taken back, all is as before");
  await openRow(tab, "lower polar");
  check((await tab.textContent("details[data-name='lower polar']")).includes("Not above the objective"), "a gap that may not be taken says why");
  await openRow(tab, "objective");
  const box = tab.locator("details[data-name='objective'] input[type=number]").first();
  await box.fill("9");
  await box.press("Enter");
  await tab.waitForFunction(() => document.querySelector("details[data-name='objective'] .control .trouble"));
  const told = await box.evaluate((input) => [input.getAttribute("aria-invalid"), document.getElementById(input.getAttribute("aria-describedby") ?? "")?.textContent]);
  check(told[0] === "true" && told[1]?.includes("allowed"), "a refused number says so itself, to screen readers too");
  await tab.context().close();
}

// Tables that a scenario names with their folder, opened as plain files.
{
  const tab = await open();
  await rested(tab);
  const folder = join(root, "scenarios");
  await tab.setInputFiles("#open", [join(folder, "moulded-parabolic.toml"), ...readdirSync(join(folder, "lenses")).map((name) => join(folder, "lenses", name))]);
  await tab.waitForFunction(() => document.getElementById("title").textContent.includes("parabolic"));
  await rested(tab);
  check((await ratio(tab)) === 733 && (await tab.textContent("#trouble")) === "", "a scenario opens with its tables");
  await tab.context().close();
}

// The engine stops: the page says so, keeps the scenario and starts it again. Its worker cannot write such a number as JSON.
{
  const tab = await open();
  await rested(tab);
  const text = await tab.evaluate(() => window.polstack.state.text);
  const answer = await tab.evaluate(() => window.polstack.engine.ask("frame", { text: 1n }));
  check(answer?.error?.stopped === true && (await tab.textContent("#trouble")).includes("started again"), "an engine that stops is said to have stopped");
  await tab.evaluate(() => window.polstack.change([{ path: ["aperture", "na"], value: 0.5 }], false));
  await rested(tab);
  check((await tab.evaluate(() => window.polstack.state.text)) === text.replace("na = 0.60", "na = 0.5") && (await tab.textContent("#trouble")) === "", "the scenario is kept, and the next move is answered");
  // A move that is taken back before it is answered leaves nothing behind.
  await tab.evaluate(() => {
    window.polstack.change([{ path: ["aperture", "na"], value: 0.4 }], false);
    window.polstack.step("undo");
  });
  await rested(tab);
  check((await tab.evaluate(() => window.polstack.state.text)) === text, "undone at once, a move leaves nothing behind");
  await tab.context().close();
}

// The bench: eight readings, and the part to blame.
{
  const tab = await open();
  await rested(tab);
  const text = readFileSync(join(root, "scenarios", "leaking-stand.toml"), "utf8");
  await tab.evaluate((text) => window.polstack.load(text, {}), text);
  await rested(tab);
  await tab.evaluate(() => { document.getElementById("bench").open = true; });
  await tab.setInputFiles("#open-readings", join(root, "scenarios", "readings", "leaking-stand.csv"));
  await tab.waitForFunction(() => document.querySelectorAll("#readings tr").length === 8);
  await tab.click("#fit-run");
  await tab.waitForFunction(() => document.getElementById("fit-progress").value > 0, null, { timeout: 60000 });
  check(await tab.isDisabled("#fit-run"), "a fit tells how far it is, and does not run twice at once");
  await tab.click("#fit-stop");
  check(!(await tab.isVisible("#fit-stop")) && !(await tab.isVisible("#fit-answer")), "a fit can be stopped");
  await tab.click("#fit-run");
  await tab.waitForFunction(() => !document.getElementById("fit-answer").hidden || document.getElementById("bench-trouble").textContent !== "", null, { timeout: 120000 });
  check((await tab.textContent("#next")).includes("tells") && (await tab.textContent("#unknown")).includes("uniform strain"), "unknowns and next readings are told in words");
  const words = await tab.textContent("#fit-words");
  check(words.includes("objective, strain is the largest leak"), `eight readings name the part: ${words}`);
  await tab.evaluate(() => window.polstack.change([{ path: ["aperture", "na"], value: 0.3 }], false));
  await rested(tab);
  check(await tab.isVisible("#fit-old"), "once the stack is another, the answer is said to be older");
  await tab.context().close();
}

// How sure the shares are comes after a longer rest.
{
  const tab = await open();
  await rested(tab);
  await tab.waitForFunction(() => !/being worked out/.test(document.getElementById("shares-sure").textContent), null, { timeout: 60000 });
  check(/Largest of all is .*\(\d+ %\)/.test(await tab.textContent("#shares-sure")), `how sure the shares are: ${await tab.textContent("#shares-sure")}`);
  check((await tab.locator("#shares .range").count()) > 4, "and each has its range");
  await tab.evaluate(() => { document.getElementById("files").open = true; });
  await tab.click("#copy-link");
  await tab.waitForFunction(() => document.getElementById("files-words").textContent !== "");
  check((await tab.textContent("#files-words")).includes("needs this page's file too"), "a link says what its receiver needs");
  await tab.evaluate(() => { for (const part of window.polstack.outline.parts) if (part.kind === "plate") window.polstack.set({ out: [part.name] }, false); });
  await rested(tab);
  check((await tab.isDisabled("#plate")) && (await tab.isVisible("#no-plate")), "a plate that is not there cannot be slid in");
  await tab.context().close();
}

// Specimens: each kind has its controls, and what they do not change stays in the text.
{
  const tab = await open();
  await rested(tab);
  const text = () => tab.evaluate(() => window.polstack.state.text);
  const shipped = (name) => readFileSync(join(root, "scenarios", `${name}.toml`), "utf8");
  const specimen = async () => /^specimen = (.*)$/m.exec(await text())?.[1];
  const load = async (written) => {
    await tab.evaluate((written) => window.polstack.load(written, {}), written);
    await rested(tab);
    await tab.evaluate(() => { document.querySelector("details.specimen").open = true; });
  };
  // Shares and doubt of a thick crystal take seconds: they are waited for where a scenario is loaded, not after each change.
  const settled = async () => {
    await tab.waitForFunction(() => {
      const { sending, outlineText, state, engine } = window.polstack;
      return !sending && outlineText === state.text && engine.waiting.size === 0 && !engine.running;
    });
    const wrong = await tab.evaluate(() => [...document.querySelectorAll(".trouble")].map((place) => place.textContent).join(""));
    if (wrong !== "") check(false, `a control of a specimen makes no mistake: ${wrong}`);
  };
  const key = (name) => `details.specimen .control[data-key$=".specimen.${name}"]`;
  const choose = async (name, value) => {
    await tab.locator(`${key(name)} select`).selectOption(value);
    await settled();
  };
  const type = async (name, value) => {
    const box = tab.locator(`${key(name)} input[type=number]`);
    await box.fill(value);
    await box.press("Enter");
    await settled();
  };
  const lies = async (kind) => {
    await tab.locator("details.specimen .control:has(label:text-is('what lies here')) select").selectOption(kind);
    await settled();
  };
  const is = async (expected, words) => check((await specimen()) === expected, `${words}: ${await specimen()}`);

  // Two optic axes, with everything that can be written.
  const muscovite = shipped("muscovite-figure");
  const full = muscovite.replace('normal = "x", azimuth_deg = 45 }', 'normal = [0.9, 0, 0.1], two_v_deg = 40, azimuth_deg = 45 } # a comment\ntolerance = { azimuth_deg = 1 }');
  await load(full);
  check((await text()) === full, "a crystal's keys are kept when it is loaded");
  check((await tab.locator("details.specimen .told").textContent()) === "muscovite, 100 µm, 45°", "the row says which crystal it is");
  await type("thickness_um", "120");
  check((await text()) === full.replace("thickness_um = 100", "thickness_um = 120"), "a changed thickness changes nothing else");
  await type("normal.1", "-0.25");
  check((await specimen()).includes("normal = [0.9, -0.25, 0.1]"), "a component of the normal can be typed");
  await tab.evaluate(() => { document.getElementById("files").open = true; });
  const [saved] = await Promise.all([tab.waitForEvent("download"), tab.click("#save")]);
  check(readFileSync(await saved.path(), "utf8") === (await text()), "it is saved as it stands");
  await type("two_v_deg", "42");
  await tab.click("details.specimen button:text-is('2V as in the catalog')");
  await settled();
  check(!(await text()).includes("two_v_deg") && (await text()).includes("# a comment"), "2V of the catalog again");

  // Which axis stands upright, by the keyboard, then another crystal.
  await load(muscovite);
  await tab.focus(`${key("normal")} select`);
  await tab.keyboard.press("ArrowDown");
  await settled();
  await is('{ material = "muscovite", thickness_um = 100, normal = "y", azimuth_deg = 45 }', "the arrow keys choose which axis stands upright");
  await choose("normal", "any");
  await is('{ material = "muscovite", thickness_um = 100, normal = [0, 1, 0], azimuth_deg = 45 }', "any other direction begins there");
  await tab.locator(`${key("two_v_deg")} input[type=range]`).focus();
  await tab.keyboard.press("ArrowRight");
  await choose("material", "baryte");
  check(!(await specimen()).includes("two_v_deg"), "the angle of one crystal is not another's");
  check((await specimen()).includes('"baryte"') && (await specimen()).includes("normal = [0, 1, 0]"), "another crystal with two axes is cut alike");
  await choose("material", "quartz");
  await is('{ material = "quartz", thickness_um = 100, azimuth_deg = 45 }', "one with one axis has no such cut");
  await choose("material", "topaz");
  await is('{ material = "topaz", thickness_um = 100, azimuth_deg = 45, normal = "z" }', "one with two gets one that shows both axes");
  await choose("material", "aragonite");
  await lies("own");
  check((await specimen()).includes("indices = [1.52, 1.53, 1.55]") && !(await specimen()).includes("material"), "three indices stand in place of a name");
  await type("indices.1", "1.545");
  check((await specimen()).includes("[1.52, 1.545, 1.55]"), "and can be typed");

  // Quartz: which way it turns light, and how it is cut.
  await load(shipped("quartz-across-axis"));
  await choose("rotation", "left");
  await is('{ material = "quartz", thickness_um = 3000, cut = "across", rotation = "left" }', "quartz can be left-handed");
  await choose("cut", "askew");
  await is('{ material = "quartz", thickness_um = 3000, rotation = "left", axis_from_normal_deg = 30, azimuth_deg = 45 }', "its axis can lean");
  await tab.focus(`${key("axis_from_normal_deg")} input[type=range]`);
  for (let k = 0; k < 4; k += 1) await tab.keyboard.press("ArrowLeft");
  await settled();
  check((await specimen()).includes("axis_from_normal_deg = 28,"), "by as much as the arrow keys say");
  await choose("cut", "along");
  await is('{ material = "quartz", thickness_um = 3000, azimuth_deg = 45 }', "or lie in the plate");
  await choose("cut", "across");
  await choose("material", "calcite");
  await is('{ material = "calcite", thickness_um = 3000, cut = "across" }', "calcite keeps the cut");
  check((await tab.locator(`${key("rotation")}`).count()) === 0, "and turns no light");
  await tab.keyboard.press("Control+z");
  await settled();
  check((await specimen()).includes('"quartz"'), "a change is one step to undo");

  // An object of the catalog, and a path difference.
  const needle = shipped("urate-needle");
  await load(needle);
  await choose("object", "cotton fibre");
  check((await text()) === needle.replace('object = "monosodium urate crystal"', 'object = "cotton fibre"'), "another object, and all else stays");
  await lies("stated");
  await is("{ azimuth_deg = 45, path_difference_nm = 100 }", "a path difference stands in its place");
  await type("path_difference_nm", "-80");
  await is("{ azimuth_deg = 45, path_difference_nm = -80 }", "which may be below 0");
  await lies("crystal");
  await lies("object");
  await is('{ azimuth_deg = 45, object = "monosodium urate crystal" }', "and an object again");
  await rested(tab);
  await tab.context().close();
}

// A specimen's row on small screens, for hands and for screen readers.
for (const width of [320, 360]) {
  for (const [name, change] of [["muscovite-figure", 'normal = [0.9, 0, 0.1], two_v_deg = 40'], ["quartz-across-axis", null], ["urate-needle", null], ["calcite-askew", null]]) {
    const tab = await open({ width, height: 900 });
    await rested(tab);
    const written = readFileSync(join(root, "scenarios", `${name}.toml`), "utf8");
    await tab.evaluate((text) => window.polstack.load(text, {}), change ? written.replace('normal = "x"', change) : written);
    await rested(tab);
    await tab.evaluate(() => { document.querySelector("details.specimen").open = true; });
    const over = await tab.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    check(over <= 0, `${width} px, specimen of ${name}: ${over > 0 ? `${over} px too wide` : "nothing is too wide"}`);
    const small = await tab.evaluate(() => [...document.querySelectorAll("details.specimen :is(input, select, button)")].filter((own) => own.getBoundingClientRect().height < (own.type === "checkbox" ? 18 : 24)).length);
    check(small === 0, `${width} px, specimen of ${name}: every control is large enough for a finger`);
    await tab.evaluate(axe);
    const found = await tab.evaluate(() => window.axe.run(document.querySelector("details.specimen"), { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
    const serious = found.violations.filter(({ impact }) => impact === "serious" || impact === "critical");
    check(serious.length === 0, `${width} px, specimen of ${name}: ${serious.map(({ id }) => id).join(", ") || "nothing serious for axe"}`);
    if (pictures) {
      mkdirSync(pictures, { recursive: true });
      await tab.locator("details.specimen").screenshot({ path: join(pictures, `specimen-${name}-${width}.png`) });
    }
    await tab.context().close();
  }
}

// A lesson: only what is ticked can be changed.
{
  const tab = await open();
  await rested(tab);
  await tab.evaluate(() => window.polstack.set({ free: ["objective"] }, false));
  await rested(tab);
  const locked = await tab.evaluate(() => [...document.querySelectorAll("#rows details")].map((row) => [row.dataset.name, [...row.querySelectorAll("input, select")].every((input) => input.disabled)]));
  check(locked.every(([name, all]) => all === (name !== "objective")), "a lesson fixes all but the ticked parts");
  await tab.context().close();
}

// Wide and small screens, light and dark: nothing wider than the screen, nothing that keeps people out.
for (const scheme of ["light", "dark"]) {
  for (const width of [320, 360, 1280, 1920]) {
    const tab = await open({ width, height: 900, scheme });
    await rested(tab);
    await tab.evaluate(() => { for (const row of document.querySelectorAll("#rows details, #bench, #files")) row.open = true; });
    const over = await tab.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    check(over <= 0, `${width} px, ${scheme}: ${over > 0 ? `${over} px too wide` : "nothing is too wide"}`);
    if (width < 860) {
      await tab.click("#more-columns");
      const readings = await tab.evaluate(() => { const { scrollWidth, clientWidth } = document.getElementById("bench-table").parentElement; return scrollWidth - clientWidth; });
      check(readings <= 0, `${width} px, ${scheme}: all fields of a reading are in sight`);
    }
    if (width !== 320) {
      await tab.evaluate(axe);
      const found = await tab.evaluate(() => window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
      const serious = found.violations.filter(({ impact }) => impact === "serious" || impact === "critical");
      check(serious.length === 0, `${width} px, ${scheme}: ${serious.map(({ id, nodes }) => `${id} (${nodes.length}: ${nodes[0].target})`).join(", ") || "nothing serious for axe"}`);
    }
    if (pictures) {
      mkdirSync(pictures, { recursive: true });
      await tab.screenshot({ path: join(pictures, `${width}-${scheme}.png`), fullPage: true });
    }
    await tab.context().close();
  }
}

await done("the page does all that");
