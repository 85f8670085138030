// The bench: readings typed into a table, the fit in a worker of its own, blame and next reading beside it.

import { byId, make, save } from "./dom.js";
import { Engine } from "./engine.js";
import { wordsOf } from "./trouble.js";
import { leakInWords, number, say, unknownInWords, percentSure } from "./words.js";

/** @typedef {import("./main.js").App} App */

/** @type {Engine | null} */
let engine = null;
/** The scenario that the answer on the page is about. @type {string | null} */
let answered = null;

/** Columns of opened readings that the stand does not have: kept, so that the engine can say what is wrong with them. @type {string[]} */
let more = [];

/** The columns that a stand has: lenses can be turned. @param {App} app */
function columns(app) {
  const lenses = (app.outline?.parts ?? []).filter((/** @type {any} */ part) => part.kind === "condenser" || part.kind === "objective");
  return ["reading", "parallel", "ratio", "error_percent", "na", "analyzer_deg", ...lenses.map((/** @type {any} */ lens) => `turn:${lens.name}`), "out", "in", "polar_at", "lamp", "note", ...more];
}

/** Columns that most readings need; the others are shown where something stands in them, or when asked for. */
const USUAL = ["reading", "parallel", "ratio", "na"];

/** Whether all columns are asked for. */
let allColumns = false;

/** Shows the columns that are in use, or all. @param {App} app */
function showColumns(app) {
  const rows = [...byId("readings").querySelectorAll("tr")];
  columns(app).forEach((name, k) => {
    const used = rows.some((row) => row.querySelectorAll("input")[k]?.value.trim());
    const hidden = !(allColumns || used || USUAL.includes(name));
    for (const row of [byId("readings-head"), ...rows]) /** @type {HTMLElement} */ (row.children[k]).hidden = hidden;
  });
  const more = byId("more-columns");
  more.textContent = say(allColumns ? "fewerColumns" : "moreColumns");
  more.setAttribute("aria-expanded", String(allColumns));
}

/** What a column is called on the page; in the file it has its own name. @param {string} name */
function headOf(name) {
  if (more.includes(name)) return name;
  return name.startsWith("turn:") ? say("column.turn", { part: name.slice(5) }) : say(`column.${name}`);
}

/** What a cell may hold, offered while one types. @param {App} app */
function offers(app) {
  const parts = app.outline?.parts ?? [];
  const names = (/** @type {RegExp} */ kinds) => parts.filter((/** @type {any} */ part) => kinds.test(part.kind)).map((/** @type {any} */ part) => part.name);
  const gaps = parts.flatMap((/** @type {any} */ part) => part.gaps).filter((/** @type {any} */ gap) => gap.allowed && /condenser/.test(gap.words));
  /** @type {Record<string, string[]>} */
  const lists = {
    out: names(/condenser|objective|slide/), in: names(/plate/), polar_at: gaps.map((/** @type {any} */ gap) => gap.words),
    lamp: [...(app.catalog.sources ?? []).map(({ name }) => name), "546.1/10", "450/20", "650/20"],
  };
  const made = Object.entries(lists).map(([name, words]) => make("datalist", { id: `offers-${name}` }, ...words.map((word) => make("option", { value: word }))));
  byId("offers").replaceChildren(...made);
}

/** @param {App} app @param {Record<string, string>} [told] */
function addLine(app, told = {}) {
  const cells = columns(app).map((name) => {
    const input = make("input", {
      value: told[name] ?? "", "aria-label": headOf(name), className: name === "note" || name === "polar_at" ? "wide" : "",
      inputMode: /reading|parallel|ratio|error|na|deg|turn/.test(name) ? "decimal" : "text",
    });
    if (["out", "in", "polar_at", "lamp"].includes(name)) input.setAttribute("list", `offers-${name}`);
    return make("td", { "data-label": headOf(name) }, input);
  });
  const remove = make("button", { type: "button", "aria-label": say("removeLine") }, "×");
  const row = make("tr", { "data-label": say("readingNumber") }, ...cells, make("td", {}, remove));
  remove.addEventListener("click", () => row.remove());
  byId("readings").append(row);
}

/** The head of the table, and its lines as far as the columns are the same. @param {App} app */
export function showBench(app) {
  const names = columns(app);
  const head = byId("readings-head");
  if (head.dataset.names === names.join()) return;
  head.dataset.names = names.join();
  offers(app);
  head.replaceChildren(...names.map((name) => make("th", { scope: "col", title: name }, headOf(name))), make("td", {}, ""));
  byId("readings").replaceChildren();
  addLine(app);
  addLine(app);
  showColumns(app);
}

/** The table as CSV. @param {App} app */
function asCsv(app) {
  const names = columns(app);
  const quoted = (/** @type {string} */ cell) => (/[",\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell);
  const all = [...byId("readings").querySelectorAll("tr")].map((row) => [...row.querySelectorAll("input")].map((input) => input.value.trim()));
  // Empty rows before the last one that is filled stay, so that a line's number is that of its row.
  const rows = all.slice(0, all.reduce((end, row, k) => (row.some(Boolean) ? k + 1 : end), 0));
  const used = names.map((_, k) => rows.some((row) => row[k]));
  const line = (/** @type {string[]} */ cells) => cells.filter((_, k) => used[k]).map(quoted).join(",");
  return rows.length === 0 ? "" : `${[line(names), ...rows.map(line)].join("\n")}\n`;
}

/** Fills the table from CSV. @param {App} app @param {string} text */
export function readingsFrom(app, text) {
  const lines = text.split(/\r?\n/).filter((line) => line.trim() && !line.trim().startsWith("#"));
  const parts = (/** @type {string} */ line) => (line.match(/("([^"]|"")*"|[^,;\t]*)([,;\t]|$)/g) ?? []).map((cell) => cell.replace(/[,;\t]$/, "").replace(/^"|"$/g, "").replaceAll('""', '"').trim());
  const names = parts(lines[0] ?? "");
  more = [];
  more = names.filter((name) => name && !columns(app).includes(name));
  showBench(app);
  byId("readings").replaceChildren();
  for (const line of lines.slice(1)) {
    const cells = parts(line);
    addLine(app, Object.fromEntries(names.map((name, k) => [name, cells[k] ?? ""])));
  }
  showColumns(app);
}

/** A long name that may go on in a new line after each point or low line. @param {string} name */
function breakable(name) {
  return name.split(/(?<=[._])/).flatMap((piece) => [piece, make("wbr")]);
}

/** @param {{ name: string, unit: string }} unknown */
function unitOf({ name, unit }) {
  if (unit === "deg") return "°";
  return name.endsWith(".n_eff") ? say("ofSurfaces") : unit;
}

/** How much a reading is expected to tell, from so many nats on: two equally probable parts are told apart by 0.69. @type {[number, string][]} */
const TELLS = [[0.3, "tells.much"], [0.1, "tells.some"], [0, "tells.little"]];

/** @param {{ words: string, gain_nats: number }} next */
function nextReading({ words, gain_nats: gain }) {
  const [, tells] = TELLS.find(([least]) => gain >= least) ?? TELLS[TELLS.length - 1];
  return make("li", {}, `${words}: `, make("span", { className: "tells", title: say("nats", { nats: gain.toFixed(2) }) }, say(tells)));
}

/** @param {any} answer */
function showFit(answer) {
  // Numbers by the words that the tables have for them.
  const inWords = (/** @type {string} */ sentence) => answer.unknown.reduce((/** @type {string} */ words, /** @type {any} */ { name }) => words.replaceAll(name, unknownInWords(name)), sentence);
  byId("fit-words").replaceChildren(...answer.words.map(inWords).map((/** @type {string} */ sentence, /** @type {number} */ k) => make("p", { className: k === 0 ? "verdict" : "" }, sentence)));
  const blame = answer.blame.filter((/** @type {any} */ row) => row.largest > 0.005 || Math.max(Math.abs(row.share.low), Math.abs(row.share.high)) > 0.02).map((/** @type {any} */ row) => make("tr", {},
    make("th", { scope: "row" }, leakInWords(row)),
    make("td", {}, `${Math.round(100 * row.share.median)} %`), make("td", {}, say("from_to", { low: Math.round(100 * row.share.low), high: Math.round(100 * row.share.high) })),
    make("td", {}, `${percentSure(row.largest)} %`)));
  byId("blame").replaceChildren(...blame);
  byId("blame-negative").hidden = !answer.blame.some((/** @type {any} */ row) => Math.round(100 * row.share.low) < 0);
  const told = answer.unknown.map((/** @type {any} */ row) => make("tr", {}, make("th", { scope: "row" }, unknownInWords(row.name), make("br"), make("small", {}, ...breakable(row.name))),
    make("td", {}, say("range", { low: number(row.prior.low, 2), high: number(row.prior.high, 2) })),
    // Readings that no stand explains tell nothing of it.
    make("td", {}, answer.consistent ? `${number(row.posterior.median, 2)} ${unitOf(row)}` : "–"),
    make("td", {}, answer.consistent ? say("range", { low: number(row.posterior.low, 2), high: number(row.posterior.high, 2) }) : "–")));
  byId("unknown").replaceChildren(...told);
  const off = (/** @type {number} */ z) => (Math.abs(z) < 0.05 ? say("againstNothing") : `${z > 0 ? "+" : "−"}${Math.abs(z).toFixed(1)}`);
  byId("against").replaceChildren(...answer.readings.map((/** @type {any} */ row) => make("tr", {}, make("th", { scope: "row" }, String(row.line)),
    make("td", {}, number(row.measured, 3)), make("td", {}, say("range", { low: number(row.predicted.low, 3), high: number(row.predicted.high, 3) })), make("td", {}, off(row.z)))));
  byId("next").replaceChildren(...answer.next.map(nextReading));
  byId("fit-answer").hidden = false;
}

/** Says so where the answer is about a stack that is no longer the page's. @param {App} app */
export function ageFit(app) {
  byId("fit-old").hidden = answered === null || answered === app.state.text;
}

/** @param {App} app */
export function listenBench(app) {
  byId("add-line").addEventListener("click", () => {
    addLine(app);
    showColumns(app);
  });
  byId("more-columns").addEventListener("click", () => {
    allColumns = !allColumns;
    showColumns(app);
  });
  byId("save-readings").addEventListener("click", () => save("readings.csv", new Blob([asCsv(app)], { type: "text/csv" })));
  byId("open-readings").addEventListener("change", async (/** @type {any} */ event) => {
    const [file] = event.target.files;
    if (file) readingsFrom(app, await file.text());
    event.target.value = "";
  });
  const bar = byId("fit-progress");
  const stop = byId("fit-stop");
  const run = byId("fit-run");
  run.addEventListener("click", async () => {
    byId("bench-trouble").textContent = "";
    const readings = asCsv(app);
    if (readings === "") {
      byId("bench-trouble").textContent = say("noReadings");
      return;
    }
    engine ??= new Engine();
    engine.onprogress = (percent) => {
      bar.value = percent;
    };
    run.disabled = true;
    bar.hidden = false;
    stop.hidden = false;
    bar.value = 0;
    const { text, files, out } = app.state;
    const answer = await engine.ask("fit", { text, files, out, readings });
    run.disabled = false;
    bar.hidden = true;
    stop.hidden = true;
    if (!answer) return;
    if (answer.error) {
      byId("bench-trouble").textContent = wordsOf(answer.error);
      return;
    }
    answered = text;
    showFit(answer);
    ageFit(app);
  });
  stop.addEventListener("click", () => engine?.stop());
}
