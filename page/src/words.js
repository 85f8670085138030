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

/** A probability in percent, without the sign; draws do not tell certainty. @param {number} probability */
export function percentSure(probability) {
  if (probability >= 0.995) return say("over", { bound: 99 });
  if (probability < 0.005) return say("under", { bound: 1 });
  return `${Math.round(100 * probability)}`;
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

/** What a number that is not known is called, by the end of its name. @type {Record<string, string>} */
const UNKNOWNS = {
  "k2": "leakOf", "cover_nm": "coverOf", "bending.n_eff": "bendingOf", "fraction": "strayOf", "azimuth_deg": "azimuthOf", "uniform.path_difference_nm": "uniformOf",
  "uniform.azimuth_deg": "uniformAzimuthOf", "radial.edge_nm": "radialOf", "clamp.force_n": "clampOfPart", "map.factor": "mapOf",
};

/** A number that is not known, in words; as the program names it where there are none. @param {string} name */
export function unknownInWords(name) {
  const [, part, kind, count, key] = /^(.+?)(?:\.(uniform|radial|clamp|map|bending)(?:#(\d+))?)?\.(\w+)$/.exec(name) ?? [];
  const words = UNKNOWNS[kind ? `${kind}.${key}` : key];
  if (!words) return kind ? say("strainOfPart", { part }) : name;
  return count ? say("numbered", { words: say(words, { part }), number: count }) : say(words, { part });
}

/**
 * A value with the digits that an interval around it supports: the interval's width keeps two, and so does the value of a wide interval.
 * @param {number} value @param {{ low: number, high: number }} interval
 */
export function supported(value, { low, high }) {
  const width = Math.abs(high - low);
  if (!(Number.isFinite(width) && width > 0 && Number.isFinite(value))) return number(value, 4);
  let place = Math.floor(Math.log10(width)) - 1;
  if (place < -3) return value === 0 ? "0" : value.toExponential(1);
  if (low > 0.01 * high && value > 0) place = Math.min(place, Math.floor(Math.log10(value)) - 1);
  const rounded = Math.round(value / 10 ** place) * 10 ** place + 0;
  return rounded.toFixed(Math.max(-place, 0));
}

/** A part and what is wrong with it. @param {{ part: string, cause: string }} leak */
export function leakInWords({ part, cause }) {
  return part === "stack" ? cause : `${part}, ${cause}`;
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
