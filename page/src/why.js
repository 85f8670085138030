// Why it looks so: who leaks, the back focal plane, the spectra, the interference scale of this stack.

import { byId, chip, draw, make, paint } from "./dom.js";
import { leakInWords, number, say, percentSure } from "./words.js";

/** @typedef {import("./main.js").App} App */

/** Shares smaller than this are told together. */
const SMALL = 0.005;

/**
 * Where the leak comes from, as bars.
 * @param {any} prediction @param {any[]} [sure] of each part and cause, its share as far as the parts are known
 */
export function showShares(prediction, sure = []) {
  const shares = prediction.leak ?? [];
  const shown = shares.filter((/** @type {any} */ share) => Math.abs(share.share) >= SMALL);
  const rest = shares.length - shown.length;
  const rangeOf = (/** @type {any} */ share) => sure.find(({ part, cause }) => part === share.part && cause === share.cause)?.share;
  const ends = sure.length > 0 ? shown.flatMap((/** @type {any} */ share) => [rangeOf(share)?.low ?? 0, rangeOf(share)?.high ?? 0]) : [];
  const most = Math.max(0.01, ...[...shown.map((/** @type {any} */ share) => share.share), ...ends].map(Math.abs));
  // The largest of those that are shown comes first.
  const value = (/** @type {any} */ share) => shownOf(share, rangeOf(share));
  const rows = shown.sort((/** @type {any} */ one, /** @type {any} */ other) => value(other) - value(one))
    .map((/** @type {any} */ share) => shareRow(share, rangeOf(share), most));
  byId("shares").replaceChildren(...rows);
  byId("shares-negative").hidden = !shown.some((/** @type {any} */ share) => share.share < 0 || Math.round(100 * (rangeOf(share)?.low ?? 0)) < 0);
  const all = say("leakInAll", { percent: number(100 * prediction.leak_luminance, 3) });
  byId("shares-words").textContent = rest > 0 ? `${all} ${say("andOthers", { count: rest })}` : all;
}

/** Whether the share as written lies outside of its range. @param {any} share @param {{ low: number, median: number, high: number } | undefined} range */
function isOutside(share, range) {
  return range !== undefined && (share.share < range.low || share.share > range.high);
}

/** The share that is shown: outside of its range the median leads. @param {any} share @param {{ low: number, median: number, high: number } | undefined} range */
function shownOf(share, range) {
  return range && isOutside(share, range) ? range.median : share.share;
}

/**
 * The bar of a share.
 * @param {any} share @param {{ low: number, median: number, high: number } | undefined} range @param {number} most the longest bar's share
 */
function shareRow(share, range, most) {
  const outside = isOutside(share, range);
  const value = shownOf(share, range);
  const bar = make("span", { className: value < 0 ? "share against" : "share" });
  bar.style.width = `${(100 * Math.abs(value)) / most}%`;
  const whole = (/** @type {number} */ part) => String(Math.round(100 * part) + 0);
  const figure = range && outside ? `${whole(value)} %` : `${(100 * value).toFixed(1)} %`;
  const told = make("td", { className: "figure" }, figure);
  const track = make("div", { className: "track" }, bar);
  if (range) {
    const [low, high] = [range.low, range.high].map(whole);
    told.append(make("br"), make("small", {}, say(outside ? "shareRangeWritten" : "shareRange", { low, high, share: whole(share.share) })));
    // A bar tells how much; on which side of nought its ends lie is told by their numbers.
    const [from, to] = [range.low, range.high].map((end) => (100 * Math.max(value < 0 ? -end : end, 0)) / most);
    const line = make("span", { className: "range" });
    line.style.left = `${Math.min(from, to)}%`;
    line.style.width = `${Math.abs(to - from)}%`;
    track.append(line);
  }
  return make("tr", {}, make("th", { scope: "row" }, leakInWords(share)), make("td", { className: "bar" }, track), told);
}

/** Whether it is being worked out how sure the shares are. @param {boolean} soon */
export function sureSoon(soon) {
  byId("shares-sure").textContent = soon ? say("sureWorking") : "";
}

/** Parts that are the largest leak less often than this are not named. */
const HARDLY = 0.02;

/** How sure the shares are. @param {any} prediction @param {any[]} sure */
export function showSure(prediction, sure) {
  showShares(prediction, sure);
  const among = sure.filter(({ largest }) => largest >= HARDLY).slice(0, 4)
    .map((leak) => say("sureOne", { name: leakInWords(leak), percent: percentSure(leak.largest) }));
  byId("shares-sure").textContent = among.length > 0 ? say("sureShares", { among: among.join(say("sureOr")) }) : "";
}

/** Lines of equal extinction ratio over the disc. @param {CanvasRenderingContext2D} pen @param {any} plane @param {number} side */
function lines(pen, plane, side) {
  const half = side / 2;
  pen.lineWidth = Math.max(1, side / 220);
  pen.strokeStyle = "rgba(255, 255, 255, 0.9)";
  pen.fillStyle = "white";
  pen.font = `${Math.max(11, side / 24)}px sans-serif`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  for (const { ratio, lines } of plane.levels) {
    let longest = [];
    for (const line of lines) {
      pen.beginPath();
      for (let at = 0; at + 1 < line.length; at += 2) pen.lineTo(half * (1 + line[at]), half * (1 - line[at + 1]));
      pen.stroke();
      if (line.length > longest.length) longest = line;
    }
    if (longest.length < 40) continue;
    const middle = 2 * Math.floor(longest.length / 4);
    const [x, y] = [half * (1 + longest[middle]), half * (1 - longest[middle + 1])];
    const words = number(ratio, 3);
    const wide = pen.measureText(words).width + 6;
    pen.fillStyle = "rgba(20, 16, 30, 0.75)";
    pen.fillRect(x - wide / 2, y - side / 36, wide, side / 18);
    pen.fillStyle = "white";
    pen.fillText(words, x, y);
  }
}

/** The back focal plane of a frame. @param {App} app @param {any} frame */
export function showPlane(app, frame) {
  const { plane } = frame;
  const small = make("canvas");
  paint(small, plane.size, plane.pixels);
  const canvas = byId("plane");
  const pen = canvas.getContext("2d");
  pen.clearRect(0, 0, canvas.width, canvas.height);
  pen.imageSmoothingEnabled = true;
  pen.drawImage(small, 0, 0, canvas.width, canvas.height);
  if (app.state.show === "luminance") lines(pen, plane, canvas.width);
  const within = app.state.plate && app.hasPlate ? frame.background.with_plate : null;
  const sentence = within ? say("planePlate", { color: within.name, percent: number(100 * within.relative_luminance, 2) }) : plane.sentence;
  byId("plane-words").textContent = `${sentence} ${plane.exposure ? say("exposed", { how: plane.exposure }) : ""}`;
  byId("isolines-words").textContent = plane.levels.length === 0 ? "" : say(within ? "isolinesPlate" : "isolinesWords");
  const [low, high] = plane.scale;
  byId("ramp").style.background = `linear-gradient(90deg, ${plane.ramp.join(", ")})`;
  byId("ramp-low").textContent = power(low);
  byId("ramp-high").textContent = power(high);
  byId("ramp-row").hidden = app.state.show !== "luminance";
  const rows = plane.levels.map((/** @type {any} */ level) => make("tr", {}, make("th", { scope: "row" }, number(level.ratio, 3)),
    ...reach(level.lines, plane.na).map((words) => make("td", {}, words))));
  byId("plane-table").replaceChildren(...(rows.length > 0 ? rows : [make("tr", {}, make("td", { colSpan: 3 }, say("nowhere")))]));
  const thumb = byId("plane-small");
  const brush = thumb.getContext("2d");
  brush.clearRect(0, 0, thumb.width, thumb.height);
  brush.drawImage(small, 0, 0, thumb.width, thumb.height);
}

/**
 * Where the lines of a level come nearest to the axis, and where they are farthest from it, in words.
 * @param {number[][]} lines points in units of the disc's radius @param {number} na of the disc's rim
 */
function reach(lines, na) {
  let [near, far] = [{ radius: Infinity, words: say("nowhere") }, { radius: -Infinity, words: say("nowhere") }];
  for (const line of lines) {
    for (let at = 0; at + 1 < line.length; at += 2) {
      const radius = Math.hypot(line[at], line[at + 1]);
      const azimuth = Math.round((Math.atan2(line[at + 1], line[at]) * 180) / Math.PI + 360) % 360;
      const words = say("atRay", { na: (radius * na).toFixed(3), azimuth });
      if (radius < near.radius) near = { radius, words };
      if (radius > far.radius) far = { radius, words };
    }
  }
  return [near.words, far.words];
}

/** @param {number} exponent */
function power(exponent) {
  const raised = "⁰¹²³⁴⁵⁶⁷⁸⁹";
  const digits = [...String(Math.abs(exponent))].map((digit) => raised[Number(digit)]).join("");
  return exponent === 0 ? "1" : `10${exponent < 0 ? "⁻" : ""}${digits}`;
}

/** Frame of the spectra's panel. */
const PANEL = { left: 46, right: 470, top: 12, bottom: 190 };

/** The spectra on a logarithmic axis. @param {any} spectrum */
export function showSpectra(spectrum) {
  const nm = spectrum.wavelength_nm;
  const curves = [["parallel", spectrum.parallel], ["crossed", spectrum.crossed], ["plateIn", spectrum.crossed_with_plate]].filter(([, light]) => light);
  const all = curves.flatMap(([, light]) => light).filter((light) => light > 1e-9);
  const [low, high] = [Math.floor(Math.log10(Math.min(...all))), Math.ceil(Math.log10(Math.max(...all)))];
  const x = (/** @type {number} */ value) => PANEL.left + ((value - nm[0]) / (nm[nm.length - 1] - nm[0] || 1)) * (PANEL.right - PANEL.left);
  const y = (/** @type {number} */ light) => PANEL.bottom - ((Math.log10(Math.max(light, 1e-12)) - low) / (high - low || 1)) * (PANEL.bottom - PANEL.top);
  const items = [];
  for (let decade = low; decade <= high; decade += 1) {
    const at = y(10 ** decade);
    items.push(draw("line", { x1: PANEL.left, x2: PANEL.right, y1: at, y2: at, class: "grid" }));
    items.push(draw("text", { x: PANEL.left - 6, y: at + 4, "text-anchor": "end" }, power(decade)));
  }
  for (let tick = Math.ceil(nm[0] / 50) * 50; tick <= nm[nm.length - 1]; tick += 50) {
    items.push(draw("line", { x1: x(tick), x2: x(tick), y1: PANEL.bottom, y2: PANEL.bottom + 4, class: "tick" }));
    if (tick % 100 === 0) items.push(draw("text", { x: x(tick), y: PANEL.bottom + 18, "text-anchor": "middle" }, String(tick)));
  }
  items.push(draw("text", { x: PANEL.right, y: PANEL.bottom + 34, "text-anchor": "end" }, say("wavelength")));
  for (const [name, light] of curves) {
    const points = light.map((/** @type {number} */ value, /** @type {number} */ k) => `${x(nm[k]).toFixed(1)},${y(Math.max(value, 10 ** low)).toFixed(1)}`);
    items.push(draw("polyline", { points: points.join(" "), class: `curve ${name}` }));
    const middle = Math.floor(nm.length * 0.72);
    items.push(draw("text", { x: x(nm[middle]), y: y(light[middle]) - 6, class: `name ${name}`, "text-anchor": "middle" }, say(name)));
  }
  byId("spectra").replaceChildren(...items);
  const rows = nm.map((/** @type {number} */ value, /** @type {number} */ k) => make("tr", {}, make("th", { scope: "row" }, String(Math.round(value))),
    ...["parallel", "crossed", "crossed_with_plate"].map((name) => make("td", {}, spectrum[name] ? number(spectrum[name][k], 3) : ""))));
  byId("spectra-table").replaceChildren(...rows.filter((/** @type {any} */ _, /** @type {number} */ k) => k % 4 === 0));
  const green = nm.reduce((/** @type {number} */ best, /** @type {number} */ value, /** @type {number} */ k) => (Math.abs(value - 546) < Math.abs(nm[best] - 546) ? k : best), 0);
  byId("spectra-words").textContent = say("spectraWords", {
    nm: Math.round(nm[green]), parallel: number(100 * spectrum.parallel[green], 3), crossed: number(100 * spectrum.crossed[green], 3),
  });
}

/** @type {any} the last scale, for the marker */
let scale = null;

/** The interference scale. @param {any} answer */
export function showScale(answer) {
  scale = answer;
  const canvas = byId("scale");
  const pen = canvas.getContext("2d");
  const [width, height] = [canvas.width, canvas.height];
  const bands = answer.with_plate ? [answer.without_plate, answer.with_plate] : [answer.without_plate];
  bands.forEach((band, row) => band.forEach((/** @type {string} */ color, /** @type {number} */ k) => {
    pen.fillStyle = color;
    const from = Math.floor((k * width) / band.length);
    pen.fillRect(from, (row * height) / bands.length, Math.ceil(width / band.length) + 1, height / bands.length - (row + 1 < bands.length ? 3 : 0));
  }));
  const last = answer.path_difference_nm[answer.path_difference_nm.length - 1];
  const ticks = answer.orders_nm.map((/** @type {number} */ nm, /** @type {number} */ k) => {
    const tick = make("span", { className: "order" }, `${k + 1}`);
    tick.style.left = `${(100 * nm) / last}%`;
    return tick;
  });
  byId("orders").replaceChildren(...ticks);
  const probe = byId("probe");
  const every = Math.round((100 * (answer.path_difference_nm.length - 1)) / last);
  const cell = (/** @type {string} */ color, /** @type {string} */ name) => make("td", {}, chip(color), ` ${name}`);
  const told = answer.path_difference_nm.flatMap((/** @type {number} */ nm, /** @type {number} */ k) => (k % every ? [] : [make("tr", {}, make("th", { scope: "row" }, `${Math.round(nm)} nm`),
    cell(answer.without_plate[k], answer.names[k]), answer.with_plate ? cell(answer.with_plate[k], answer.names_with_plate[k]) : make("td", {}, ""))]));
  byId("scale-table").replaceChildren(...told);
  probe.max = String(last);
  if (answer.marker_nm !== null && !probe.dataset.touched) probe.value = String(answer.marker_nm);
  showMarker();
}

/** The marker on the scale, at the path difference that the slider says. */
export function showMarker() {
  if (!scale) return;
  const probe = byId("probe");
  const nm = Number(probe.value);
  const { path_difference_nm: all } = scale;
  const at = Math.min(Math.round((nm / all[all.length - 1]) * (all.length - 1)), all.length - 1);
  byId("marker").style.left = `${(100 * nm) / all[all.length - 1]}%`;
  byId("scale-words").textContent = say("probeWords", { nm: Math.round(nm), color: scale.names[at] });
  byId("probe-chip").style.background = scale.without_plate[at];
  byId("probe-plate").hidden = !scale.with_plate;
  if (!scale.with_plate) return;
  byId("scale-words-plate").textContent = say("probePlate", { color: scale.names_with_plate[at] });
  byId("probe-chip-plate").style.background = scale.with_plate[at];
}

/** @param {App} app */
export function listenWhy(app) {
  byId("show").addEventListener("change", (/** @type {any} */ event) => app.set({ show: event.target.value }, false));
  byId("probe").addEventListener("input", () => {
    byId("probe").dataset.touched = "yes";
    showMarker();
  });
}
