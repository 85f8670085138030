// The specimen's row: a path difference, an object of the catalog, or a crystal and how it is cut. Where another kind is chosen, keys that it has nothing
// for leave the scenario and those that it needs come in; all others stay as they are written.

import { choiceControl } from "./controls.js";
import { make } from "./dom.js";
import { asNumber, AZIMUTH, control } from "./fields.js";
import { say } from "./words.js";

/** @typedef {import("./main.js").App} App */
/** @typedef {Record<string, any>} SpecimenTable a specimen as it is written */
/** @typedef {"stated" | "object" | "crystal" | "own"} SpecimenKind */

/** @type {SpecimenKind[]} */
const SPECIMEN_KINDS = ["stated", "object", "crystal", "own"];
const CUTS = ["along", "across", "askew"];
const UPRIGHT_AXES = ["x", "y", "z"];
/** What a key begins with where the scenario has not said it. @type {SpecimenTable} */
const BEGINNING = { path_difference_nm: 100, azimuth_deg: 45, material: "quartz", thickness_um: 30, indices: [1.52, 1.53, 1.55], normal: "z", axis_from_normal_deg: 30 };
/** A direction's components are written with so many digits. */
const COMPONENT_DIGITS = 4;

/** @param {SpecimenTable} own @returns {SpecimenKind} */
function specimenKind(own) {
  if (own.indices !== undefined) return "own";
  if (own.object !== undefined) return "object";
  return own.material !== undefined ? "crystal" : "stated";
}

/** The entry of the catalog that a name means: capitals and hyphens do not count. @param {App} app @param {string} list @param {unknown} name */
function entryOf(app, list, name) {
  const plainName = (/** @type {unknown} */ word) => String(word).toLowerCase().replaceAll("-", " ");
  return (app.catalog[list] ?? []).find((entry) => plainName(entry.name) === plainName(name));
}

/** Whether the crystal has two optic axes. @param {App} app @param {SpecimenTable} own */
function hasTwoAxes(app, own) {
  return own.indices !== undefined || entryOf(app, "biaxials", own.material) !== undefined;
}

/** How a crystal with one optic axis is cut. @param {SpecimenTable} own */
function cutOf(own) {
  return own.axis_from_normal_deg !== undefined ? "askew" : own.cut ?? "along";
}

/** The keys that a specimen takes, in the order in which they are written, and those of them that it cannot do without. @param {App} app @param {SpecimenTable} own */
function keysOf(app, own) {
  const kind = specimenKind(own);
  if (kind === "stated") return { may: ["path_difference_nm", "azimuth_deg"], must: ["path_difference_nm", "azimuth_deg"] };
  if (kind === "object") return { may: ["object", "azimuth_deg"], must: ["object", "azimuth_deg"] };
  const crystal = [kind === "own" ? "indices" : "material", "thickness_um"];
  if (hasTwoAxes(app, own)) {
    const must = [...crystal, "normal", "azimuth_deg"];
    return { may: kind === "own" ? must : [...must, "two_v_deg"], must };
  }
  const turns = entryOf(app, "active", own.material) ? ["rotation"] : [];
  if (cutOf(own) === "across") return { may: [...crystal, "cut", ...turns], must: [...crystal, "cut"] };
  if (cutOf(own) === "askew") {
    const must = [...crystal, "axis_from_normal_deg", "azimuth_deg"];
    return { may: [...must, ...turns], must };
  }
  return { may: [...crystal, "cut", "azimuth_deg"], must: [...crystal, "azimuth_deg"] };
}

/**
 * The changes that make one specimen of another.
 * @param {App} app @param {number} part @param {SpecimenTable} own as it is written @param {SpecimenTable} wanted keys that it is to have, `undefined` for those that it is not
 */
function specimenEdits(app, part, own, wanted) {
  const path = (/** @type {string} */ key) => ["part", part, "specimen", key];
  const table = Object.fromEntries(Object.entries({ ...own, ...wanted }).filter(([, value]) => value !== undefined));
  const { may, must } = keysOf(app, table);
  const first = (/** @type {string} */ key) => (key === "object" ? app.catalog.objects?.[0]?.name : BEGINNING[key]);
  // The angle comes in by its slider, without new rows: it may be written though `own` does not have it yet.
  const written = new Set([...Object.keys(own), ...("two_v_deg" in wanted || !may.includes("two_v_deg") ? ["two_v_deg"] : [])]);
  const gone = [...written].filter((key) => !may.includes(key) || table[key] === undefined);
  const come = may.filter((key) => table[key] !== undefined || must.includes(key));
  return [
    ...gone.map((key) => ({ path: path(key), remove: true })),
    ...come.map((key) => ({ path: path(key), value: table[key] ?? first(key) })).filter(({ path: [, , , key], value }) => own[key] !== value),
  ];
}

/** The axis of the indicatrix that halves the acute angle, upright: so both optic axes are seen. @param {App} app @param {string} material */
function acuteNormal(app, material) {
  return /** @type {any} */ (entryOf(app, "biaxials", material))?.acute ?? BEGINNING.normal;
}

/** Another kind of specimen. @param {App} app @param {SpecimenTable} own @param {string} kind @returns {SpecimenTable} */
function ofKind(app, own, kind) {
  const none = { path_difference_nm: undefined, object: undefined, material: undefined, indices: undefined, normal: own.normal };
  if (kind === "stated") return { ...none, path_difference_nm: BEGINNING.path_difference_nm };
  if (kind === "object") return { ...none, object: app.catalog.objects?.[0]?.name };
  if (kind === "own") return { ...none, indices: BEGINNING.indices };
  return { ...none, material: BEGINNING.material };
}

/** Another crystal: the angle between the axes was that of the piece before. @param {App} app @param {SpecimenTable} own @param {string} material */
function ofMaterial(app, own, material) {
  return { material, two_v_deg: undefined, normal: hasTwoAxes(app, own) ? own.normal : acuteNormal(app, material) };
}

/** Another cut of a crystal with one axis. @param {string} cut @returns {SpecimenTable} */
function ofCut(cut) {
  if (cut === "askew") return { cut: undefined, axis_from_normal_deg: BEGINNING.axis_from_normal_deg };
  return { cut: cut === "across" ? cut : undefined, axis_from_normal_deg: undefined };
}

/** The names of a choice with their words. @param {string} word @param {string[]} names */
function choices(word, names) {
  return names.map((name) => ({ name, words: say(`${word}.${name}`) }));
}

/** How a crystal with one optic axis is cut, and which way it turns light. @param {App} app @param {any} part @param {SpecimenTable} own @param {boolean} locked @param {(wanted: SpecimenTable) => void} change */
function oneAxisControls(app, part, own, locked, change) {
  const way = ["part", part.index, "specimen"];
  const key = (/** @type {string} */ name) => [...way, name].join(".");
  const cut = cutOf(own);
  const cutControl = choiceControl({ label: say("cut"), key: key("cut"), value: cut, names: choices("cut", CUTS), locked, changed: (name) => change(ofCut(name)) });
  const azimuth = { ...AZIMUTH, label: cut === "askew" ? "azimuthUpperEnd" : "azimuthAxis", max: cut === "askew" ? 360 : 180 };
  const rotation = keysOf(app, own).may.includes("rotation") ? choiceControl({
    label: say("rotation"), key: key("rotation"), value: own.rotation ?? "right", names: choices("rotation", ["right", "left", "none"]), locked,
    changed: (name) => change({ rotation: name }),
  }) : null;
  return [
    cutControl,
    control(app, { key: "axis_from_normal_deg", label: "axisFromNormal", unit: "°", min: 0, max: 90, step: 0.5 }, own, way, locked),
    control(app, azimuth, own, way, locked),
    rotation,
  ];
}

/** How a crystal with two optic axes is cut, and the angle between these. @param {App} app @param {any} part @param {SpecimenTable} own @param {boolean} locked @param {(wanted: SpecimenTable) => void} change */
function twoAxesControls(app, part, own, locked, change) {
  const way = ["part", part.index, "specimen"];
  const { normal } = own;
  const components = Array.isArray(normal) ? normal : null;
  const normalControl = choiceControl({
    label: say("normal"), key: components ? undefined : [...way, "normal"].join("."), value: components ? "any" : String(normal), names: choices("normal", [...UPRIGHT_AXES, "any"]), locked,
    changed: (name) => change({ normal: name === "any" ? UPRIGHT_AXES.map((axis) => (axis === normal ? 1 : 0)) : name }),
  });
  const numbers = (components ?? []).map((component, place) => asNumber(app, {
    key: String(place), label: `along.${UPRIGHT_AXES[place]}`, min: -1, max: 1, step: 0.01,
  }, Number(Number(component).toFixed(COMPONENT_DIGITS)), [...way, "normal", place], locked));
  const direction = components ? make("fieldset", {}, make("legend", {}, say("normalIs")), ...numbers) : null;
  const azimuth = { ...AZIMUTH, label: normal === "z" ? "azimuthOfY" : "azimuthOfZ", max: components ? 360 : 180 };
  const angle = own.indices === undefined ? control(app, { key: "two_v_deg", label: "twoV", unit: "°", min: 1, max: 90, step: 0.5, always: true }, own, way, locked) : null;
  const usual = angle ? make("p", { className: "buttons" }, make("button", { type: "button", disabled: locked, onclick: () => change({ two_v_deg: undefined }) }, say("usualTwoV"))) : null;
  return [normalControl, direction, control(app, azimuth, own, way, locked), angle, usual, make("p", { className: "hint" }, say("indicatrix"))];
}

/** The three indices of a crystal of one's own. @param {App} app @param {any} part @param {SpecimenTable} own @param {boolean} locked */
function indexControls(app, part, own, locked) {
  const numbers = own.indices.map((/** @type {number} */ index, /** @type {number} */ place) => asNumber(app, {
    key: String(place), label: `index.${UPRIGHT_AXES[place] ?? "z"}`, min: 1.3, max: 2.2, step: 0.001,
  }, index, ["part", part.index, "specimen", "indices", place], locked));
  return make("fieldset", {}, make("legend", {}, say("ownIndices")), ...numbers);
}

/** What a specimen's row has. @param {App} app @param {any} part @param {SpecimenTable} own @param {boolean} locked */
export function specimenControls(app, part, own, locked) {
  const way = ["part", part.index, "specimen"];
  const kind = specimenKind(own);
  const change = (/** @type {SpecimenTable} */ wanted) => {
    // As it is written now: numbers have changed since these rows were made.
    const edits = specimenEdits(app, part.index, app.outline.document.part[part.index]?.specimen ?? own, wanted);
    if (edits.length > 0) app.change(edits, false, true);
  };
  const what = choiceControl({
    label: say("specimenKind"), value: kind, names: choices("specimenKind", SPECIMEN_KINDS), locked, changed: (name) => change(ofKind(app, own, name)),
  });
  const named = (/** @type {"object" | "material"} */ key, /** @type {string[]} */ lists) => {
    const names = lists.flatMap((list) => app.catalog[list] ?? []);
    const value = lists.map((list) => entryOf(app, list, own[key])?.name).find((name) => name !== undefined) ?? String(own[key]);
    const changed = (/** @type {string} */ name) => change(key === "object" ? { object: name } : ofMaterial(app, own, name));
    return choiceControl({ label: say(key), key: [...way, key].join("."), value, names, locked, changed });
  };
  const thickness = () => control(app, { key: "thickness_um", label: "thickness", unit: "µm", min: 1, max: 1000, step: 1 }, own, way, locked);
  if (kind === "stated") {
    const path = control(app, { key: "path_difference_nm", label: "pathDifference", unit: "nm", min: -500, max: 2000, step: 1 }, own, way, locked);
    return [what, path, control(app, { ...AZIMUTH, label: "azimuthSlow" }, own, way, locked)];
  }
  if (kind === "object") return [what, named("object", ["objects"]), control(app, { ...AZIMUTH, label: "azimuthLength" }, own, way, locked)];
  const crystal = kind === "own" ? indexControls(app, part, own, locked) : named("material", ["crystals", "biaxials"]);
  const cut = hasTwoAxes(app, own) ? twoAxesControls : oneAxisControls;
  return [what, crystal, thickness(), ...cut(app, part, own, locked, change)];
}

/** A specimen in a few words, without its path difference and azimuth. @param {SpecimenTable} own */
export function specimenInWords(own) {
  const name = own.object ?? own.material ?? (own.indices ? say("ownCrystal") : null);
  const cut = own.axis_from_normal_deg !== undefined ? say("leansBy", { degrees: own.axis_from_normal_deg }) : null;
  return [name, own.thickness_um === undefined ? null : `${own.thickness_um} µm`, cut].filter((words) => words !== null);
}
