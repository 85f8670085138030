// Controls that change one number or name of the scenario.

import { draw, freshId, make } from "./dom.js";
import { say } from "./words.js";

/**
 * @typedef {object} NumberControl
 * @property {string} label
 * @property {string} [key] the way to the number in the scenario, so that a message finds its control
 * @property {string} [unit]
 * @property {number | undefined} value undefined where the scenario does not say
 * @property {number} min of the slider
 * @property {number} max of the slider
 * @property {number} step
 * @property {boolean} [plain] without a slider
 * @property {boolean} locked
 * @property {(value: number, again: boolean) => void} changed `again` while the same move goes on
 */

/** Changes of one control within so many milliseconds are one move, and one step to undo. */
const ONE_MOVE = 1000;

/** Tells each time whether the last time was only just before. */
function sameMove() {
  let last = -Infinity;
  return () => {
    const now = performance.now();
    const same = now - last < ONE_MOVE;
    last = now;
    return same;
  };
}

/**
 * A slider and a box for one number. The slider is for the usual range, the box takes what the program takes.
 * @param {NumberControl} told
 */
export function numberControl(told) {
  const id = freshId();
  const goesOn = sameMove();
  const box = make("input", {
    type: "number", id, step: "any", value: told.value ?? "", disabled: told.locked,
    placeholder: told.value === undefined ? say("notSaid") : "",
  });
  const slider = told.plain ? null : make("input", {
    type: "range", min: String(told.min), max: String(told.max), step: String(told.step), disabled: told.locked,
    value: String(told.value ?? told.min), "aria-label": told.label,
  });
  box.addEventListener("change", () => {
    if (box.value === "") return;
    if (slider) slider.value = box.value;
    told.changed(Number(box.value), false);
  });
  slider?.addEventListener("input", () => {
    box.value = slider.value;
    told.changed(Number(slider.value), goesOn());
  });
  const unit = make("span", { className: "unit" }, told.unit ?? "");
  return make("div", { className: "control", "data-key": told.key }, make("label", { for: id }, told.label), slider, make("span", { className: "box" }, box, unit));
}

/**
 * A choice among names.
 * @param {{ label: string, key?: string, value: string, names: { name: string, words?: string, about?: string }[], locked: boolean, changed: (name: string) => void }} told `words` are shown in place of a name
 */
export function choiceControl(told) {
  const id = freshId();
  const known = told.names.some(({ name }) => name === told.value);
  const names = known ? told.names : [{ name: told.value }, ...told.names];
  const options = names.map(({ name, words, about }) => make("option", { value: name, selected: name === told.value, title: about ?? "" }, words ?? name));
  const select = make("select", { id, disabled: told.locked }, ...options);
  select.addEventListener("change", () => told.changed(select.value));
  return make("div", { className: "control", "data-key": told.key }, make("label", { for: id }, told.label), select);
}

/**
 * A dial that turns a part: arrow keys by a degree, with shift by ten, or the pointer.
 * @param {{ label: string, degrees: number, locked: boolean, turned: (degrees: number, again: boolean) => void }} told by how much it is turned
 */
export function dial(told) {
  let degrees = told.degrees;
  let last = degrees;
  const goesOn = sameMove();
  const hand = draw("line", { x1: 20, y1: 20, x2: 38, y2: 20, class: "hand" });
  const other = draw("line", { x1: 2, y1: 20, x2: 20, y2: 20, class: "tail" });
  const pointer = draw("g", {}, other, hand);
  const picture = draw("svg", { viewBox: "0 0 40 40", "aria-hidden": "true" }, draw("circle", { cx: 20, cy: 20, r: 18.5, class: "rim" }), pointer);
  const element = make("div", {
    className: "dial", role: "slider", tabIndex: told.locked ? -1 : 0, "aria-label": told.label, "aria-valuemin": "-360", "aria-valuemax": "360",
    "aria-disabled": told.locked ? "true" : null,
  });
  element.append(picture);
  const show = () => {
    pointer.setAttribute("transform", `rotate(${-degrees} 20 20)`);
    const shown = Math.round(degrees * 10) / 10;
    element.setAttribute("aria-valuenow", String(shown));
    element.setAttribute("aria-valuetext", say("degrees", { degrees: shown }));
  };
  const turn = (/** @type {number} */ to) => {
    degrees = ((to + 180) % 360 + 360) % 360 - 180;
    show();
    const by = degrees - last;
    last = degrees;
    if (by !== 0) told.turned(by, goesOn());
  };
  show();
  if (told.locked) return element;
  element.addEventListener("keydown", (event) => {
    const steps = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 15, PageDown: -15 };
    const step = /** @type {Record<string, number>} */ (steps)[event.key];
    if (!step) return;
    event.preventDefault();
    turn(degrees + step * (event.shiftKey ? 10 : 1));
  });
  const follow = (/** @type {PointerEvent} */ event) => {
    const frame = element.getBoundingClientRect();
    const x = event.clientX - frame.left - frame.width / 2;
    const y = frame.top + frame.height / 2 - event.clientY;
    turn(Math.round((Math.atan2(y, x) * 180) / Math.PI));
  };
  element.addEventListener("pointerdown", (event) => {
    element.setPointerCapture(event.pointerId);
    element.focus();
    follow(event);
  });
  element.addEventListener("pointermove", (event) => {
    if (element.hasPointerCapture(event.pointerId)) follow(event);
  });
  return element;
}
