// What is seen: background with the plate out and in, the extinction ratio and how sure it is, the field while the stage turns.

import { byId, chip, make, paint } from "./dom.js";
import { number, say, supported, unknownInWords } from "./words.js";

/** @typedef {import("./main.js").App} App */

/** The curve of sRGB and back. @param {number} linear */
function encoded(linear) {
  const value = linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055;
  return Math.round(255 * Math.min(Math.max(value, 0), 1));
}

/** @param {string} hex @param {number} stops darker by so many */
function darker(hex, stops) {
  const channels = [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16) / 255);
  const linear = channels.map((value) => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4));
  const bytes = linear.map((value) => encoded(value * 2 ** -stops));
  return `#${bytes.map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
}

/** @param {App} app @param {string} name @param {any} background */
function swatch(app, name, background) {
  const own = app.state.exposure === "own";
  const color = own ? background.srgb : darker(background.srgb, background.exposure_stops);
  const exposure = own && background.exposure_stops > 0 ? say("stopsUp", { stops: background.exposure_stops.toFixed(1) }) : say("parallelExposure");
  const patch = make("div", { className: "patch" });
  patch.style.background = color;
  const light = number(100 * background.relative_luminance, 3);
  return make("figure", { className: "swatch" }, patch,
    make("figcaption", {}, make("strong", {}, own ? background.name : color), make("br"), say(name), make("br"),
      say("ofParallel", { percent: light }), make("br"), make("small", {}, exposure)));
}

/** Background and extinction ratio of a frame. @param {App} app @param {any} frame */
export function showFrame(app, frame) {
  const written = number(frame.extinction_ratio, 3);
  byId("ratio").textContent = written;
  byId("ratio").dataset.written = written;
  byId("ratio-small").textContent = say("ratioSmall", { ratio: written });
  const { without_plate: out, with_plate: within } = frame.background;
  byId("swatches").replaceChildren(swatch(app, within ? "plateOut" : "crossed", out), ...(within ? [swatch(app, "plateIn", within)] : []));
  const small = byId("patch-small");
  small.style.background = `linear-gradient(90deg, ${out.srgb} 50%, ${(within ?? out).srgb} 50%)`;
  byId("interval").textContent = "";
  byId("written").textContent = say("asWrittenNow");
}

/** How sure the ratio is: the median leads where the number of the scenario as written lies off the middle. @param {any} prediction */
export function showDoubt(prediction) {
  const interval = prediction.doubt?.extinction_ratio;
  const written = number(prediction.extinction_ratio, 3);
  byId("interval").textContent = "";
  byId("written").textContent = say(interval ? "asWritten" : "noDoubt");
  if (!interval) return;
  const [low, high] = [interval.low, interval.high].map((end) => supported(end, interval));
  const ratio = prediction.median_leads ? supported(interval.median, interval) : written;
  byId("ratio").textContent = ratio;
  byId("ratio-small").textContent = say("ratioSmallSure", { ratio, low, high });
  byId("interval").textContent = say("interval", { low, high, widest: unknownInWords(prediction.doubt.widest) });
  if (prediction.median_leads) byId("written").textContent = say("asWrittenToo", { ratio: written });
}

/** The field. @param {any} answer */
export function showField(answer) {
  const canvas = byId("field");
  paint(canvas, answer.size, answer.pixels);
  byId("field-words").textContent = `${answer.sentence} ${say("exposed", { how: answer.exposure })}`;
  byId("bar").style.width = `${(100 * answer.bar_um) / answer.width_um}%`;
  byId("bar-words").textContent = `${answer.bar_um} µm`;
  const cell = (/** @type {any} */ seen) => (seen ? make("td", {}, chip(seen.srgb), ` ${seen.name}, ${number(100 * seen.luminance, 3)} %`) : make("td", {}, ""));
  const rows = answer.objects.map((/** @type {any} */ object) => make("tr", {}, make("th", { scope: "row" }, object.name),
    make("td", {}, `${Math.round(object.path_difference_nm)} nm`), cell(object.without_plate), cell(object.with_plate)));
  byId("field-table").replaceChildren(...rows);
}

/** Stage, plate and exposure. @param {App} app */
export function listenSeen(app) {
  const stage = byId("stage");
  let again = false;
  stage.addEventListener("input", () => {
    app.set({ stage: Number(stage.value) }, again, "stage");
    again = true;
  });
  stage.addEventListener("change", () => {
    again = false;
  });
  byId("plate").addEventListener("change", (/** @type {any} */ event) => app.set({ plate: event.target.checked }, false));
  byId("same-exposure").addEventListener("change", (/** @type {any} */ event) => app.set({ exposure: event.target.checked ? "parallel" : "own" }, false));
  const play = byId("play");
  let playing = 0;
  const stop = () => {
    clearInterval(playing);
    playing = 0;
    play.textContent = say("play");
    play.setAttribute("aria-pressed", "false");
  };
  play.addEventListener("click", () => {
    if (playing) return stop();
    // Who wants less motion gets it in larger steps, more slowly.
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const [step, pause] = calm ? [45, 1500] : [3, 60];
    playing = window.setInterval(() => app.set({ stage: (app.state.stage + step) % 360 }, true, "stage"), pause);
    play.textContent = say("pause");
    play.setAttribute("aria-pressed", "true");
  });
}

/** The controls as the state has them. @param {App} app */
export function showSeenControls(app) {
  byId("stage").value = String(app.state.stage);
  byId("stage-words").textContent = say("degrees", { degrees: app.state.stage });
  const lacks = app.outline !== null && !app.hasPlate;
  byId("plate").checked = app.state.plate && !lacks;
  byId("plate").disabled = lacks;
  byId("no-plate").hidden = !lacks;
  byId("same-exposure").checked = app.state.exposure === "parallel";
}
