// Values of the scenario and the controls that change them.

import { choiceControl, numberControl } from "./controls.js";
import { say } from "./words.js";

/** @typedef {import("./main.js").App} App */
/** @typedef {(string | number)[]} Way the way to a value in the scenario */

/**
 * @typedef {object} Field
 * @property {string} key
 * @property {string} label a word of the table
 * @property {string} [unit]
 * @property {number} [min]
 * @property {number} [max]
 * @property {number} [step]
 * @property {string} [names] a list of the catalog
 * @property {boolean} [plain]
 * @property {boolean} [always] shown where the scenario does not say it
 */

/** @type {Field} */
export const AZIMUTH = { key: "azimuth_deg", label: "azimuth", unit: "°", min: 0, max: 180, step: 0.5 };
/**
 * A control for one value of the scenario; null where the scenario says something that has no control.
 * @param {App} app @param {Field} field @param {Record<string, any>} table @param {Way} way @param {boolean} locked
 */
export function control(app, field, table, way, locked) {
  const value = table[field.key];
  const path = [...way, field.key];
  if (field.names) {
    if (typeof value !== "string") return typeof value === "number" ? asNumber(app, { ...field, min: 1, max: 2, step: 0.001 }, value, path, locked) : null;
    const changed = (/** @type {string} */ name) => app.change([{ path, value: name }], false);
    return choiceControl({ label: say(field.label), key: path.join("."), value, names: app.catalog[field.names] ?? [], locked, changed });
  }
  if (value === undefined && !field.always) return null;
  if (value !== undefined && typeof value !== "number") return null;
  return asNumber(app, field, value, path, locked);
}

/** @param {App} app @param {Field} field @param {number | undefined} value @param {Way} path @param {boolean} locked */
export function asNumber(app, field, value, path, locked) {
  return numberControl({
    label: say(field.label), key: path.join("."), unit: field.unit, value, min: field.min ?? 0, max: field.max ?? 1, step: field.step ?? 0.01, plain: field.plain, locked,
    changed: (number, again) => app.change([{ path, value: number }], again),
  });
}
