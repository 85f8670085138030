// What the page shows: the scenario, what is taken out, and how it is looked at. The state lives in the address, and can be undone.

/**
 * @typedef {object} PageState
 * @property {string} text the scenario
 * @property {Record<string, string>} files what it names besides
 * @property {string[]} out names of parts that are taken out
 * @property {boolean} plate whether the plate is in
 * @property {number} stage by how many degrees the stage is turned
 * @property {"own" | "parallel"} exposure how bright fields are shown
 * @property {"luminance" | "color"} show how the back focal plane is shown
 * @property {string} opened the scenario as it was opened
 * @property {string[] | null} free names of what a class may change; null where all may be
 */

/** @returns {PageState} */
export function emptyState() {
  return { text: "", files: {}, out: [], plate: false, stage: 0, exposure: "own", show: "luminance", opened: "", free: null };
}

/** A scenario's text without what says nothing: how numbers are written, and spaces. @param {string} text */
function plain(text) {
  return text.replace(/\d+(\.\d+)?(e[+-]?\d+)?/gi, (digits) => String(Number(digits))).replace(/\s+/g, " ").trim();
}

/** Whether the stack is another than the one that was opened. @param {PageState} state */
export function isChanged({ text, opened, out }) {
  return out.length > 0 || (text !== opened && plain(text) !== plain(opened));
}

/** States that can be gone back to. */
const MOST = 200;

/** The history of the page's states. */
export class History {
  /** @param {PageState} state */
  constructor(state) {
    this.states = [state];
    this.at = 0;
  }

  get state() {
    return this.states[this.at];
  }

  /**
   * A new state; `again` where it continues the last change, so that a drag is one step.
   * @param {PageState} state
   * @param {boolean} again
   */
  set(state, again) {
    const keep = again && this.at > 0 ? this.at : this.at + 1;
    this.states = [...this.states.slice(0, keep), state].slice(-MOST);
    this.at = this.states.length - 1;
  }

  get canUndo() {
    return this.at > 0;
  }

  get canRedo() {
    return this.at + 1 < this.states.length;
  }

  undo() {
    if (this.canUndo) this.at -= 1;
  }

  redo() {
    if (this.canRedo) this.at += 1;
  }
}

/** @param {Uint8Array} bytes */
function toText(bytes) {
  let letters = "";
  for (const byte of bytes) letters += String.fromCharCode(byte);
  return btoa(letters).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}

/** @param {string} text */
function toBytes(text) {
  const letters = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(letters, (letter) => letter.charCodeAt(0));
}

/**
 * The state as the part of an address after #.
 * @param {PageState} state
 */
export async function toAddress(state) {
  const bytes = new TextEncoder().encode(JSON.stringify(state));
  const packed = new Blob([bytes]).stream().pipeThrough(new CompressionStream("deflate-raw"));
  return `s=${toText(new Uint8Array(await new Response(packed).arrayBuffer()))}`;
}

/** Largest state that is taken from an address, bytes. */
const MOST_BYTES = 4_000_000;

/**
 * The state of an address; null where there is none, or none that can be read.
 * @param {string} hash
 * @returns {Promise<PageState | null>}
 */
export async function fromAddress(hash) {
  const found = /^#?s=([\w-]+)$/.exec(hash);
  if (!found) return null;
  try {
    const packed = new Blob([toBytes(found[1])]).stream();
    const bytes = await new Response(packed.pipeThrough(new DecompressionStream("deflate-raw"))).arrayBuffer();
    if (bytes.byteLength > MOST_BYTES) return null;
    return cleaned(JSON.parse(new TextDecoder().decode(bytes)));
  } catch {
    return null;
  }
}

/**
 * A state that somebody else wrote: only what it may hold.
 * @param {any} told
 * @returns {PageState | null}
 */
function cleaned(told) {
  if (typeof told?.text !== "string") return null;
  const words = (/** @type {any} */ list) => (Array.isArray(list) ? list.filter((word) => typeof word === "string") : []);
  const files = Object.entries(told.files ?? {}).filter(([, text]) => typeof text === "string");
  return {
    text: told.text,
    files: /** @type {Record<string, string>} */ (Object.fromEntries(files)),
    out: words(told.out),
    plate: told.plate === true,
    stage: Number.isFinite(told.stage) ? told.stage : 0,
    exposure: told.exposure === "parallel" ? "parallel" : "own",
    show: told.show === "color" ? "color" : "luminance",
    opened: typeof told.opened === "string" ? told.opened : told.text,
    free: told.free === null || told.free === undefined ? null : words(told.free),
  };
}
