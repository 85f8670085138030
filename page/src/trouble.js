// What is wrong, said where the eye is: beside the control, else in the part's row, else at the top; and always beside the scenario's text.

import { byId, freshId, make } from "./dom.js";
import { say } from "./words.js";

/** Tables of the scenario that the lamp's row shows. */
const LAMP_TABLES = ["aperture", "light", "stray", "spectrum"];

/** A mistake in words, with what to do where the engine knows it. @param {any} error */
export function wordsOf(error) {
  return error.remedy && !error.message.includes(error.remedy) ? `${error.message}. ${error.remedy}` : error.message;
}

/** Takes away what was said before. */
function clearTrouble() {
  for (const place of document.querySelectorAll(".trouble")) {
    if (place.classList.contains("beside")) place.remove();
    else place.textContent = "";
  }
  for (const input of document.querySelectorAll("[aria-invalid]")) {
    input.removeAttribute("aria-invalid");
    input.removeAttribute("aria-describedby");
  }
}

/**
 * The control that is to blame: the one that was just moved, else the one whose value the engine names.
 * @param {any} error @param {(string | number)[]} [path]
 * @returns {HTMLElement | null}
 */
function controlOf(error, path) {
  const all = /** @type {HTMLElement[]} */ ([...byId("rows").querySelectorAll(".control[data-key]")]);
  const moved = path && all.find((control) => control.dataset.key === path.join("."));
  if (moved) return moved;
  const named = (error.key ?? "").replace(/^part\./, `part.${error.part}.`).replace(/\[(\d+)\]/g, ".$1");
  return all.find((control) => control.dataset.key === named) ?? null;
}

/** The row of the part that is to blame. @param {any} error @returns {HTMLDetailsElement | null} */
function rowOf(error) {
  const lamp = LAMP_TABLES.some((table) => (error.key ?? "").startsWith(table));
  const name = error.part ?? (lamp ? "lamp" : null);
  return name === null ? null : byId("rows").querySelector(`details[data-part="${name}"]`);
}

/** @param {HTMLElement} control @param {string} words */
function sayBeside(control, words) {
  const id = freshId();
  control.append(make("p", { id, className: "trouble beside", role: "alert" }, words));
  for (const input of control.querySelectorAll("input, select")) {
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", id);
  }
}

/**
 * Shows what is wrong; takes it away where nothing is.
 * @param {any} error
 * @param {boolean} [rowsStand] whether the rows are those of the text that is wrong
 * @param {(string | number)[]} [path] what was changed last
 */
export function showTrouble(error, rowsStand = false, path = undefined) {
  clearTrouble();
  if (!error) return;
  const words = wordsOf(error);
  if (!error.stopped) byId("text-trouble").textContent = error.rendered ?? words;
  const control = rowsStand && !error.stopped ? controlOf(error, path) : null;
  const row = control?.closest("details") ?? (rowsStand && !error.stopped ? rowOf(error) : null);
  if (row) row.open = true;
  if (control) sayBeside(control, words);
  else if (row?.querySelector(".trouble")) /** @type {Element} */ (row.querySelector(".trouble")).textContent = words;
  else byId("trouble").textContent = error.line ? say("atLine", { line: error.line, words }) : words;
}
