// Scenario in and out: shipped ones, files, text, links, pictures and data.

import { byId, make, save } from "./dom.js";
import { toAddress } from "./state.js";
import { wordsOf } from "./trouble.js";
import { say } from "./words.js";

/** @typedef {import("./main.js").App} App */
/** @typedef {{ name: string, title: string, text: string, files: Record<string, string> }} Shipped */

/** The scenarios that the page carries. @returns {Shipped[]} */
export function shipped() {
  return JSON.parse(document.getElementById("scenarios")?.textContent ?? "[]");
}

/** @param {App} app @param {FileList | File[]} list */
async function take(app, list) {
  const all = await Promise.all([...list].map(async (file) => ({ name: file.name, text: await file.text() })));
  const scenario = all.find(({ name }) => name.endsWith(".toml"));
  const tables = all.filter(({ name }) => !name.endsWith(".toml"));
  const text = scenario?.text ?? app.state.text;
  const files = { ...(scenario ? {} : app.state.files), ...asNamed(text, tables) };
  if (scenario) app.load(text, files);
  else app.set({ files }, false, "files");
}

/**
 * Tables under the names that the scenario calls them by: it may name a folder too, which a file that is opened here does not tell.
 * @param {string} text @param {{ name: string, text: string }[]} tables
 */
function asNamed(text, tables) {
  const called = [...text.matchAll(/"([^"\n]+)"|'([^'\n]+)'/g)].map(([, double, single]) => double ?? single);
  return Object.fromEntries(tables.flatMap(({ name, text: table }) => {
    const names = called.filter((way) => way === name || way.endsWith(`/${name}`));
    return (names.length > 0 ? names : [name]).map((way) => [way, table]);
  }));
}

/** @param {string} words */
function told(words) {
  byId("files-words").textContent = words;
}

/** Copies a text; where that is not allowed, shows it to be copied by hand. @param {string} text @param {string} [note] what to know of it */
async function copy(text, note = "") {
  try {
    await navigator.clipboard.writeText(text);
    told(`${say("copied")} ${note}`.trim());
  } catch {
    const field = byId("to-copy");
    field.value = text;
    field.hidden = false;
    field.select();
    told(`${note} ${say("copyByHand")}`.trim());
  }
}

/** @param {App} app @param {string[] | null} free */
async function link(app, free) {
  const hash = await toAddress({ ...app.state, free });
  await copy(`${location.href.split("#")[0]}#${hash}`, location.protocol === "file:" ? say("linkNote") : "");
}

/** A name for files. @param {App} app */
function stem(app) {
  return (app.outline?.title ?? "scenario").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "scenario";
}

/** @param {App} app @param {string} id */
function savePicture(app, id) {
  byId(id).toBlob((/** @type {Blob | null} */ blob) => blob && save(`${stem(app)}-${id}.png`, blob));
}

/** The spectra as an SVG file of their own. @param {App} app */
function saveSvg(app) {
  const copied = byId("spectra").cloneNode(true);
  copied.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  const style = ".grid{stroke:#ccc}.tick{stroke:#666}text{font:12px sans-serif;fill:#222}.curve{fill:none;stroke:#222;stroke-width:2}.crossed{stroke:#1f5f5b}.plateIn{stroke:#1f5f5b;stroke-dasharray:6 4}.name{stroke:none}";
  copied.prepend(make("style", {}, style));
  save(`${stem(app)}-spectra.svg`, new Blob([new XMLSerializer().serializeToString(copied)], { type: "image/svg+xml" }));
}

/** The lesson's ticks: which parts a class may change. @param {App} app */
export function showLesson(app) {
  const names = ["lamp", ...(app.outline?.parts ?? []).map((/** @type {any} */ part) => part.name)];
  const place = byId("lesson-parts");
  if (place.dataset.names === names.join()) return;
  place.dataset.names = names.join();
  place.replaceChildren(...names.map((name) => make("label", { className: "tick" }, make("input", { type: "checkbox", value: name }), name === "lamp" ? say("lampRow") : name)));
}

/** What a lesson asks, where the scenario is one; its answer is closed until it is opened. @param {App} app */
export function showTold(app) {
  const lesson = app.outline?.document?.lesson;
  const panel = byId("told");
  panel.hidden = !lesson;
  if (!lesson || byId("told-question").textContent === lesson.question) return;
  byId("told-question").textContent = lesson.question;
  byId("told-steps").replaceChildren(...lesson.do.map((/** @type {string} */ step) => make("li", {}, step)));
  byId("told-see").textContent = lesson.see;
  byId("told-answer-words").textContent = lesson.answer;
  byId("told-answer").open = false;
}

/** @param {App} app */
export function listenFiles(app) {
  const select = byId("shipped");
  const all = shipped();
  const options = (/** @type {boolean} */ lessons) =>
    all.flatMap(({ name, title }, place) => (name.startsWith("lessons/") === lessons ? [make("option", { value: String(place) }, title)] : []));
  for (const [label, group] of [[say("scenariosGroup"), options(false)], [say("lessonsGroup"), options(true)]]) {
    if (group.length > 0) select.append(make("optgroup", { label }, .../** @type {HTMLOptionElement[]} */ (group)));
  }
  select.addEventListener("change", () => {
    const chosen = all[Number(select.value)];
    if (select.value !== "" && chosen) app.load(chosen.text, chosen.files);
    select.value = "";
  });
  byId("open").addEventListener("change", (/** @type {any} */ event) => {
    take(app, event.target.files);
    event.target.value = "";
  });
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event.dataTransfer?.files.length) take(app, event.dataTransfer.files);
  });
  byId("apply").addEventListener("click", () => {
    const text = byId("text").value;
    const title = (/** @type {string} */ scenario) => /^title\s*=.*$/m.exec(scenario)?.[0];
    // Under the same title it is the scenario that was opened, changed by hand.
    app.load(text, app.state.files, title(text) === title(app.state.text) ? app.state.opened : text);
  });
  byId("save").addEventListener("click", () => save(`${stem(app)}.toml`, new Blob([app.state.text], { type: "application/toml" })));
  byId("copy-text").addEventListener("click", () => copy(app.state.text));
  byId("copy-link").addEventListener("click", () => link(app, app.state.free));
  byId("copy-lesson").addEventListener("click", () => {
    const ticked = [...byId("lesson-parts").querySelectorAll("input:checked")].map((tick) => /** @type {HTMLInputElement} */ (tick).value);
    link(app, ticked);
  });
  byId("unlock").addEventListener("click", () => app.set({ free: null }, false, "free"));
  byId("save-plane").addEventListener("click", () => savePicture(app, "plane"));
  byId("save-field").addEventListener("click", () => savePicture(app, "field"));
  byId("save-spectra").addEventListener("click", () => saveSvg(app));
  for (const name of ["spectra", "shares"]) {
    byId(`csv-${name}`).addEventListener("click", async () => {
      const { text, files, out } = app.state;
      const answer = await app.engine.ask("csv", { text, files, out, name });
      if (answer?.error) told(wordsOf(answer.error));
      else if (answer) save(`${stem(app)}-${name}.csv`, new Blob([answer.csv], { type: "text/csv" }));
    });
  }
}
