// All words of the page come from one table, so that another language is another file.

/** @type {Record<string, string>} */
const WORDS = JSON.parse(document.getElementById("words")?.textContent ?? "{}");

/**
 * A sentence of the table, with {names} filled in.
 * @param {string} key
 * @param {Record<string, string | number>} [values]
 */
export function say(key, values = {}) {
  const words = WORDS[key] ?? key;
  return words.replace(/\{(\w+)\}/g, (_, name) => String(values[name] ?? ""));
}

/** Fills in the words of elements that name them in data-say. */
export function fillWords() {
  for (const element of document.querySelectorAll("[data-say]")) {
    element.textContent = say(/** @type {HTMLElement} */ (element).dataset.say ?? "");
  }
  for (const element of document.querySelectorAll("[data-say-label]")) {
    element.setAttribute("aria-label", say(/** @type {HTMLElement} */ (element).dataset.sayLabel ?? ""));
  }
}

/**
 * A number with so many significant digits, without an exponent where that reads well.
 * @param {number | null | undefined} value
 * @param {number} digits
 */
export function number(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return say("infinite");
  if (value === 0) return "0";
  const size = Math.abs(value);
  if (size >= 1e7 || size < 1e-4) return value.toExponential(digits - 1);
  const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(size)));
  const rounded = Number(value.toPrecision(digits));
  return rounded.toFixed(Math.min(decimals, 8));
}
