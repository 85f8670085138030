// The stack as a column, from the lamp to the eye in the order of the light: a row for each part, which opens to its numbers.

import { choiceControl, dial } from "./controls.js";
import { byId, make } from "./dom.js";
import { asNumber, AZIMUTH, control } from "./fields.js";
import { specimenControls, specimenInWords } from "./specimen.js";
import { say } from "./words.js";

/** @typedef {import("./main.js").App} App */
/** @typedef {import("./fields.js").Field} Field */

/** @type {Field[]} */
const SHEET = [
  { key: "sheet", label: "sheet", names: "sheets" },
  AZIMUTH,
  { key: "cover_nm", label: "cover", unit: "nm", min: 0, max: 120, step: 1, always: true },
];
/** @type {Field[]} */
const LENS = [
  { key: "na", label: "na", min: 0.05, max: 1.4, step: 0.01 },
  { key: "surfaces", label: "surfaces", min: 0, max: 24, step: 1 },
  { key: "glass", label: "glass", names: "glasses" },
  { key: "coating", label: "coating", names: "coatings" },
  { key: "immersion", label: "immersion", names: "immersions" },
];
/** @type {Field[]} */
const RETARDER = [
  { key: "path_difference_nm", label: "pathDifference", unit: "nm", min: 0, max: 2000, step: 1 },
  AZIMUTH,
  { key: "material", label: "material", names: "crystals" },
];
/** @type {Record<string, Field[]>} */
const FIELDS = {
  polarizer: SHEET,
  analyzer: SHEET,
  condenser: LENS,
  objective: LENS,
  slide: [
    { key: "glass", label: "slideIndex", min: 1.3, max: 2, step: 0.001 },
    { key: "mount", label: "mountIndex", min: 1, max: 2, step: 0.001 },
  ],
  plate: RETARDER,
  retarder: RETARDER,
};
/** @type {Record<string, Field[]>} */
const STRAIN = {
  uniform: [{ key: "path_difference_nm", label: "strainAmount", unit: "nm", min: 0, max: 60, step: 0.5 }, AZIMUTH],
  radial: [{ key: "edge_nm", label: "strainEdge", unit: "nm", min: -120, max: 120, step: 1 }],
  clamp: [
    { key: "force_n", label: "clampForce", unit: "N", min: 0, max: 40, step: 0.5 },
    { key: "contacts", label: "clampContacts", min: 2, max: 6, step: 1 },
    AZIMUTH,
  ],
};

/** @param {App} app @param {any} part @param {Record<string, any>} table @param {boolean} locked */
function strainControls(app, part, table, locked) {
  if (part.kind !== "condenser" && part.kind !== "objective") return [];
  const profiles = table.strain ?? [];
  const rows = profiles.map((/** @type {Record<string, any>} */ profile, /** @type {number} */ place) => {
    const [kind] = Object.keys(profile);
    const way = ["part", part.index, "strain", place, kind];
    const controls = (STRAIN[kind] ?? []).map((field) => control(app, field, profile[kind], way, locked));
    const remove = make("button", {
      type: "button", disabled: locked, onclick: () => app.change([{ path: ["part", part.index, "strain", place], remove: true }], false, true),
    }, say("removeStrain"));
    return make("fieldset", {}, make("legend", {}, say(`strain.${kind}`)), ...controls, remove);
  });
  const add = (/** @type {string} */ kind, /** @type {Record<string, number>} */ profile) => make("button", {
    type: "button", disabled: locked,
    onclick: () => app.change([{ path: ["part", part.index, "strain"], value: [...profiles, { [kind]: profile }] }], false, true),
  }, say(`add.${kind}`));
  const has = (/** @type {string} */ kind) => profiles.some((/** @type {any} */ profile) => kind in profile);
  return [
    ...rows,
    make("p", { className: "buttons" },
      has("uniform") ? null : add("uniform", { path_difference_nm: 5, azimuth_deg: 45 }),
      has("radial") ? null : add("radial", { edge_nm: 20 })),
  ];
}

/** Where the lower polar may stand. @param {App} app @param {any} part @param {boolean} locked */
function placeControls(app, part, locked) {
  if (part.gaps.length === 0) return [];
  const here = part.gaps.findIndex((/** @type {any} */ gap) => gap.here);
  const move = (/** @type {any} */ gap) => app.change([{ part: part.index, move_to: gap.move_to }], false, true);
  const button = (/** @type {string} */ word, /** @type {any} */ gap) => make("button", {
    type: "button", disabled: locked || !gap?.allowed, title: reason(gap?.why_not ?? ""), onclick: () => move(gap),
  }, say(word));
  const options = part.gaps.map((/** @type {any} */ gap, /** @type {number} */ place) => make("option", {
    value: String(place), selected: gap.here, disabled: !gap.allowed, title: reason(gap.why_not ?? ""),
  }, gap.words));
  const id = `place-${part.index}`;
  const select = make("select", { id, disabled: locked }, ...options);
  select.addEventListener("change", () => move(part.gaps[Number(select.value)]));
  return [
    make("div", { className: "control" }, make("label", { for: id }, say("place")), select),
    make("p", { className: "buttons" }, button("towardLamp", part.gaps[here - 1]), button("towardEye", part.gaps[here + 1])),
    ...forbiddenGaps(part),
  ];
}

/** Why some gaps may not be taken, the gaps of one reason in one sentence. @param {any} part */
function forbiddenGaps(part) {
  /** @type {Map<string, string[]>} */
  const places = new Map();
  for (const { allowed, words, why_not: why } of part.gaps) {
    if (!allowed) places.set(reason(why), [...(places.get(reason(why)) ?? []), words]);
  }
  return [...places].map(([why, gaps]) => make("p", { className: "why-not" }, say("notThere", { places: gaps.join(", "), why })));
}

/** A reason without what to write in a scenario's text. @param {string} words */
function reason(words) {
  return words.split(";")[0].replace(/\bpolarizer\b/g, "lower polar");
}

/** The state of a part in a few words, beside its name. @param {any} part @param {Record<string, any>} table */
function summary(part, table) {
  const own = table[part.kind] ?? {};
  const words = [];
  if (own.na !== undefined) words.push(`NA ${own.na}`);
  if (typeof own.sheet === "string") words.push(own.sheet);
  if (part.kind === "specimen") words.push(...specimenInWords(own));
  if (own.path_difference_nm !== undefined) words.push(`${own.path_difference_nm} nm`);
  if (own.azimuth_deg !== undefined) words.push(`${own.azimuth_deg}°`);
  for (const profile of table.strain ?? []) {
    const [kind] = Object.keys(profile);
    const { path_difference_nm: uniform, edge_nm: edge, force_n: force } = profile[kind];
    if (uniform !== undefined || edge !== undefined) words.push(say("strainOf", { nm: uniform ?? edge }));
    if (force !== undefined) words.push(say("clampOf", { force }));
  }
  return words.join(", ");
}

/** Turning: by the dial, from how the part stands now. @param {App} app @param {any} part @param {Record<string, any>} own @param {boolean} locked */
function turning(app, part, own, locked) {
  if (!part.can_turn.allowed) return make("p", { className: "why-not" }, reason(part.can_turn.why_not));
  const turned = (/** @type {number} */ degrees, /** @type {boolean} */ again) =>
    app.change([{ part: part.index, turn_deg: degrees }], again, false, `turn-${part.index}`);
  const label = say("turn", { part: part.name });
  return make("div", { className: "control turning" }, make("span", {}, say("turnWord")), dial({ label, degrees: own.azimuth_deg ?? 0, locked, turned }),
    make("span", { className: "hint" }, say("turnHint")));
}

/** One row. @param {App} app @param {any} part @param {Set<string>} open */
function partRow(app, part, open) {
  const { state } = app;
  const table = app.outline.document.part[part.index];
  const own = typeof table[part.kind] === "object" ? table[part.kind] : {};
  const out = state.out.includes(part.name);
  const locked = state.free !== null && !state.free.includes(part.name);
  const fields = part.kind === "specimen" ? specimenControls(app, part, own, locked)
    : (FIELDS[part.kind] ?? []).map((field) => control(app, field, own, ["part", part.index, part.kind], locked));
  const leave = make("input", { type: "checkbox", checked: !out, disabled: locked || (!part.can_leave.allowed && !out) });
  leave.addEventListener("change", () => {
    const others = state.out.filter((name) => name !== part.name);
    app.set({ out: leave.checked ? others : [...others, part.name] }, false);
  });
  const stays = part.can_leave.allowed ? null : make("p", { className: "why-not" }, say("stays", { why: reason(part.can_leave.why_not) }));
  const row = make("details", { open: open.has(part.name), className: `part ${part.kind}${out ? " out" : ""}` },
    make("summary", {}, make("span", { className: "name" }, part.name), " ",
      make("span", { className: "told" }, out ? say("isOut") : summary(part, table))),
    make("div", { className: "body" },
      locked ? make("p", { className: "why-not" }, say("locked")) : null,
      make("label", { className: "tick" }, leave, say(part.kind === "plate" ? "plateInStack" : "inTheStack")), stays,
      ...placeControls(app, part, locked), ...fields, ...strainControls(app, part, table, locked), turning(app, part, own, locked),
      make("p", { className: "trouble", role: "alert" })));
  row.dataset.part = String(part.index);
  row.dataset.name = part.name;
  return row;
}

/** Lamp, iris and stray light. @param {App} app @param {Set<string>} open */
function lampRow(app, open) {
  const { document: told } = app.outline;
  const locked = app.state.free !== null && !app.state.free.includes("lamp");
  const source = told.light?.source;
  const controls = [];
  if (typeof source === "string") {
    const changed = (/** @type {string} */ name) => app.change([{ path: ["light", "source"], value: name }], false);
    controls.push(choiceControl({ label: say("source"), key: "light.source", value: source, names: app.catalog.sources ?? [], locked, changed }));
  } else if (source?.line_nm !== undefined) {
    controls.push(asNumber(app, { key: "line_nm", label: "line", unit: "nm", min: 400, max: 700, step: 1 }, source.line_nm, ["light", "source", "line_nm"], locked));
  } else if (source?.blackbody_k !== undefined) {
    controls.push(asNumber(app, { key: "blackbody_k", label: "temperature", unit: "K", min: 2000, max: 10000, step: 50 }, source.blackbody_k, ["light", "source", "blackbody_k"], locked));
  }
  const na = told.aperture?.na;
  if (na !== undefined) controls.push(asNumber(app, { key: "na", label: "iris", min: 0.02, max: 1.3, step: 0.01 }, na, ["aperture", "na"], locked));
  controls.push(asNumber(app, { key: "fraction", label: "stray", plain: true }, told.stray?.fraction ?? 0, ["stray", "fraction"], locked));
  const words = [typeof source === "string" ? source : "", na === undefined ? "" : `NA ${na}`].filter(Boolean).join(", ");
  const row = make("details", { open: open.has("lamp"), className: "part lamp" },
    make("summary", {}, make("span", { className: "name" }, say("lampRow")), " ", make("span", { className: "told" }, words)),
    make("div", { className: "body" }, locked ? make("p", { className: "why-not" }, say("locked")) : null, ...controls,
      make("p", { className: "trouble", role: "alert" })));
  row.dataset.part = "lamp";
  row.dataset.name = "lamp";
  return row;
}

/** Builds all rows anew; those that were open stay open, and the control that had the focus keeps it. @param {App} app */
export function showRows(app) {
  const column = byId("rows");
  const open = new Set([...column.querySelectorAll("details[open]")].map((row) => /** @type {HTMLElement} */ (row).dataset.name ?? ""));
  const focused = document.activeElement;
  const all = [...column.querySelectorAll("input, select, button, summary, [tabindex]")];
  const at = focused ? all.indexOf(focused) : -1;
  column.replaceChildren(lampRow(app, open), ...app.outline.parts.map((/** @type {any} */ part) => partRow(app, part, open)));
  const anew = column.querySelectorAll("input, select, button, summary, [tabindex]");
  if (at >= 0 && at < anew.length) anew[at].focus({ preventScroll: true });
}

/** Renews the few words beside the names, and the numbers that no hand is on: a part that was turned has others. @param {App} app */
export function showSummaries(app) {
  for (const control of byId("rows").querySelectorAll(".control[data-key]")) {
    if (control.contains(document.activeElement)) continue;
    const way = /** @type {HTMLElement} */ (control).dataset.key ?? "";
    const value = way.split(".").reduce((/** @type {any} */ table, key) => table?.[key], app.outline.document);
    if (typeof value === "number") for (const input of control.querySelectorAll("input")) input.value = String(value);
  }
  for (const part of app.outline.parts) {
    const row = byId("rows").querySelector(`[data-part="${part.index}"] .told`);
    const out = app.state.out.includes(part.name);
    if (row) row.textContent = out ? say("isOut") : summary(part, app.outline.document.part[part.index]);
  }
}

