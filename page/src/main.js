// The page: a change of the stack goes to the engine, its answers go to the panels.

import { ageFit, listenBench, showBench } from "./bench.js";
import { byId } from "./dom.js";
import { Engine } from "./engine.js";
import { listenFiles, shipped, showLesson, showTold } from "./files.js";
import { showRows, showSummaries } from "./rows.js";
import { listenSeen, showDoubt, showField, showFrame, showSeenControls } from "./seen.js";
import { emptyState, fromAddress, History, isChanged, toAddress } from "./state.js";
import { showTrouble } from "./trouble.js";
import { listenWhy, showPlane, showScale, showShares, showSpectra, showSure, sureSoon } from "./why.js";
import { fillWords, say } from "./words.js";

/** @typedef {import("./state.js").PageState} PageState */

/** After so many milliseconds without a move come the answers that take longer. */
const REST = 150;

/** And so many later comes how sure the shares are, which takes seconds. */
const LONG_REST = 600;

/** What a request tells about the stack. @param {PageState} state */
function stackOf({ text, files, out }) {
  return { text, files, out };
}

/** What all panels share. */
export class App {
  constructor() {
    this.engine = new Engine();
    /** What takes longer is asked here, so that the next move of a hand never waits for it. @type {Engine | null} */
    this.slow = null;
    this.engine.ondeath = (words) => {
      byId("trouble").textContent = words;
    };
    /** How sure the shares are is asked here: it is stopped as soon as something moves. @type {Engine | null} */
    this.patient = null;
    this.history = new History(emptyState());
    /** @type {any} */
    this.outline = null;
    /** @type {Record<string, { name: string, about: string }[]>} */
    this.catalog = {};
    /** Changes that the text does not have yet. @type {any[]} */
    this.edits = [];
    /** @type {string | null} what the last move changed, so that a move of the same control goes on */
    this.moving = null;
    /** What is to be sent next. @type {{ again: boolean, anew: boolean } | null} */
    this.pending = null;
    this.sending = false;
    this.rest = 0;
    this.longRest = 0;
    /** What the last move took back or did again, in a word of the table; null where it was a new one. @type {"undone" | "redone" | null} */
    this.repeated = null;
    /** The text that the outline is of. @type {string | null} */
    this.outlineText = null;
    /** Whether the rows are those of the text; not so while another scenario is being read, or where it cannot be. */
    this.rowsStand = false;
    /** Whether the stack as it is now cannot be worked out. */
    this.failed = false;
    /** The state at which the last sentence about a change was said. @type {PageState | null} */
    this.said = null;
    /** Frames shown so far, for tests. */
    this.frames = 0;
  }

  get state() {
    return this.history.state;
  }

  /** What every request about the stack tells. */
  get stack() {
    return stackOf(this.state);
  }

  /**
   * Changes the scenario's text; `anew` where rows come or go.
   * @param {any[]} edits @param {boolean} again @param {boolean} [anew] @param {string} [what]
   */
  change(edits, again, anew = false, what = JSON.stringify(edits[0].path ?? edits[0])) {
    for (const edit of edits) {
      const same = this.edits.findIndex((old) => edit.path && !edit.remove && JSON.stringify(old.path) === JSON.stringify(edit.path));
      if (same >= 0) this.edits[same] = edit;
      else this.edits.push(edit);
    }
    const goesOn = again && this.moving === what;
    this.moving = what;
    this.repeated = null;
    this.send(goesOn, anew);
  }

  /**
   * Changes how it is looked at, or what is out.
   * @param {Partial<PageState>} some @param {boolean} again @param {string} [what]
   */
  set(some, again, what = Object.keys(some).join()) {
    const goesOn = again && this.moving === what;
    this.moving = what;
    this.repeated = null;
    this.history.set({ ...this.state, ...some }, goesOn);
    if ("out" in some || "free" in some || "files" in some) this.readRows();
    else if ("stage" in some) this.showField();
    this.shown();
    if (!("stage" in some)) this.send(true, false);
  }

  /** Another scenario. @param {string} text @param {Record<string, string>} files @param {string} [opened] what it was when it was opened */
  load(text, files, opened = text) {
    this.edits = [];
    this.moving = null;
    this.repeated = null;
    this.history.set({ ...this.state, text, files, opened, out: [], free: this.state.free, stage: 0 }, false);
    this.said = null;
    byId("changed").textContent = "";
    this.reread();
  }

  /** The text is another: its rows and its answers. */
  reread() {
    this.rowsStand = false;
    this.readRows();
    this.send(true, false);
  }

  /** Sends what has changed, as soon as the last is answered. @param {boolean} again @param {boolean} anew */
  async send(again, anew) {
    this.pending = { again: this.pending ? this.pending.again && again : again, anew: this.pending?.anew || anew };
    clearTimeout(this.rest);
    clearTimeout(this.longRest);
    if (this.patient?.running) this.patient.stop();
    if (this.sending) return;
    this.sending = true;
    while (this.pending) {
      const { again: goesOn, anew: rows } = /** @type {{ again: boolean, anew: boolean }} */ (this.pending);
      this.pending = null;
      const edits = this.edits;
      this.edits = [];
      const { text, plate, show } = this.state;
      const view = { size: 128, plate: plate && this.hasPlate, show, coarse: edits.length > 0 };
      const answer = await this.engine.ask("frame", { ...this.stack, edits, ...view });
      // Undone, or another scenario meanwhile: the answer is about a text that is gone.
      if (this.state.text !== text) continue;
      if (!answer) {
        // Not worked out: the changes go with the next request.
        this.edits = [...edits, ...this.edits];
        this.pending ??= { again: goesOn, anew: rows };
        continue;
      }
      if (answer.changed) this.history.set({ ...this.state, text: answer.changed }, goesOn);
      if (answer.error) {
        // A number that the scenario cannot take: the text stays, the rows show what it says.
        if (edits.length > 0 && !answer.changed) await this.readRows();
        this.refuse(answer.error, edits[0]?.path);
      } else {
        this.failed = false;
        document.body.classList.remove("stale");
        byId("stale").hidden = true;
        showTrouble(null);
        showFrame(this, answer);
        showPlane(this, answer);
        showSpectra(answer.spectrum);
        this.frames += 1;
        if (this.frames === 1) document.body.dataset.first = performance.now().toFixed(0);
        document.body.dataset.frames = String(this.frames);
      }
      if (rows) this.readRows();
      this.shown();
    }
    this.sending = false;
    this.rest = window.setTimeout(() => this.rested(), REST);
  }

  /** Says what is wrong, and that the pictures are older. @param {any} error @param {(string | number)[]} [path] what was moved last */
  refuse(error, path) {
    this.failed = true;
    byId("changed").textContent = "";
    document.body.classList.add("stale");
    byId("stale").hidden = this.frames === 0;
    showTrouble(error, this.rowsStand, path);
  }

  get hasPlate() {
    return (this.outline?.parts ?? []).some((/** @type {any} */ part) => part.kind === "plate" && !this.state.out.includes(part.name));
  }

  /** The rows, from the scenario as it is now. */
  async readRows() {
    const { text, files } = this.state;
    const outline = await this.engine.ask("outline", { text, files });
    if (!outline) return;
    if (outline.error) {
      this.refuse(outline.error);
      byId("files").open = true;
      return;
    }
    this.outline = outline;
    this.outlineText = text;
    this.rowsStand = true;
    byId("caution").textContent = outline.caution;
    byId("notes").replaceChildren(...outline.notes.map((/** @type {string} */ note) => {
      const item = document.createElement("li");
      item.textContent = note;
      return item;
    }));
    byId("locked-note").hidden = this.state.free === null;
    showRows(this);
    showBench(this);
    showLesson(this);
    showTold(this);
    this.shown();
  }

  /** What takes longer, once the hand rests. */
  async rested() {
    const { state } = this;
    const fresh = () => !this.sending && ["text", "files", "out", "plate", "show"].every((key) => /** @type {any} */ (this.state)[key] === /** @type {any} */ (state)[key]);
    if (this.failed) return;
    this.slow ??= new Engine();
    if (this.outlineText !== state.text) await this.renewOutline();
    if (!fresh()) return;
    const full = { size: 128, plate: state.plate && this.hasPlate, show: state.show, coarse: false };
    const before = this.said && stackOf(this.said);
    // From one scenario to another there is no move to tell of.
    const same = !before || this.said?.opened !== state.opened || JSON.stringify(before) === JSON.stringify(this.stack);
    // The shares come first, then how far the ratio can be trusted, then what the move did.
    const prediction = this.slow.ask("predict", { ...this.stack, exact: true, shares: true });
    const trusted = this.slow.ask("doubt", this.stack);
    const compare = same ? null : this.slow.ask("compare", { before, after: this.stack });
    const fine = this.engine.ask("frame", { ...this.stack, edits: [], ...full });
    const told = await prediction;
    if (!fresh() || !told) return;
    if (told.error) {
      byId("shares-words").textContent = told.error.message;
      return;
    }
    showShares(told);
    this.showField();
    const scale = this.engine.ask("scale", { ...this.stack, to_nm: 1800 });
    const frame = await fine;
    if (fresh() && frame && !frame.error) showPlane(this, frame);
    const colors = await scale;
    if (fresh() && colors && !colors.error) showScale(colors);
    Object.assign(told, await trusted);
    if (!fresh()) return;
    showDoubt(told);
    const words = await compare;
    if (!fresh()) return;
    // Before the first answer stands what was wrong with a link, if anything was.
    if (this.said) byId("changed").textContent = this.inWords(words?.words ?? "", told.median_leads === true);
    this.said = state;
    document.body.dataset.rested = String(this.frames);
    sureSoon(told.doubt !== undefined && told.doubt !== null);
    if (told.doubt) this.longRest = window.setTimeout(() => this.askSure(told), LONG_REST);
  }

  /** What the last move did. @param {string} words @param {boolean} median whether the ratio shown is another than that of parts as written */
  inWords(words, median) {
    const stem = this.repeated ? say(this.repeated) : "";
    if (words === "") return stem && `${stem}.`;
    return [stem ? `${stem}: ${words}` : words, median ? say("exactlyAsWritten") : ""].join(" ").trim();
  }

  /** How sure the shares of a prediction are. @param {any} prediction */
  async askSure(prediction) {
    this.patient ??= new Engine();
    const answer = await this.patient.ask("sure", this.stack);
    // Stopped: a newer answer is on its way.
    if (answer) showSure(prediction, answer.shares ?? []);
  }

  /** The numbers beside the names, without new rows: a hand may be on one of them. */
  async renewOutline() {
    const { text, files } = this.state;
    const outline = await this.engine.ask("outline", { text, files });
    if (!outline || outline.error) return;
    this.outline = outline;
    this.outlineText = text;
    showSummaries(this);
  }

  async showField() {
    const { plate, stage, exposure } = this.state;
    const answer = await this.engine.ask("field", { ...this.stack, size: 256, plate: plate && this.hasPlate, stage_deg: stage, exposure });
    if (answer?.error) byId("field-words").textContent = answer.error.message;
    else if (answer) showField(answer);
  }

  /** Buttons, text and address as the state has them. */
  shown() {
    showSeenControls(this);
    ageFit(this);
    this.showTitle();
    byId("undo").disabled = !this.history.canUndo;
    byId("redo").disabled = !this.history.canRedo;
    byId("show").value = this.state.show;
    const text = byId("text");
    if (document.activeElement !== text) text.value = this.state.text;
    clearTimeout(this.addressing);
    this.addressing = window.setTimeout(async () => {
      window.history.replaceState(null, "", `#${await toAddress(this.state)}`);
    }, 300);
  }

  /** The scenario's title, and whether the stack is still that scenario's. */
  showTitle() {
    if (!this.outline) return;
    const { title } = this.outline;
    const words = isChanged(this.state) ? say("changedTitle", { title }) : title;
    if (byId("title").textContent !== words) byId("title").textContent = words;
    byId("fit-for").textContent = say("fitFor", { title: words });
    document.title = `${words} - polstack`;
  }

  /** @param {"undo" | "redo"} way */
  step(way) {
    const before = this.state;
    this.edits = [];
    this.moving = null;
    this.history[way]();
    this.repeated = this.state === before ? this.repeated : way === "undo" ? "undone" : "redone";
    this.reread();
  }
}

async function begin() {
  fillWords();
  const app = new App();
  /** @type {any} */ (window).polstack = app;
  listenSeen(app);
  listenWhy(app);
  listenBench(app);
  listenFiles(app);
  byId("undo").addEventListener("click", () => app.step("undo"));
  byId("redo").addEventListener("click", () => app.step("redo"));
  document.addEventListener("keydown", (event) => {
    const typing = event.target instanceof HTMLInputElement || event.target instanceof HTMLTextAreaElement;
    if (!(event.ctrlKey || event.metaKey) || (typing && /** @type {HTMLInputElement} */ (event.target).type !== "range")) return;
    const key = event.key.toLowerCase();
    if (key === "z") app.step(event.shiftKey ? "redo" : "undo");
    else if (key === "y") app.step("redo");
    else return;
    event.preventDefault();
  });
  window.addEventListener("hashchange", async () => {
    const state = await fromAddress(location.hash);
    if (!state) {
      if (location.hash.startsWith("#s=")) byId("changed").textContent = say("badLink");
      return;
    }
    app.edits = [];
    app.repeated = null;
    app.history.set(state, false);
    app.reread();
  });
  const told = await fromAddress(location.hash);
  if (location.hash.startsWith("#s=") && !told) byId("changed").textContent = say("badLink");
  const [first] = shipped();
  app.history = new History(told ?? { ...emptyState(), text: first?.text ?? "", opened: first?.text ?? "", files: first?.files ?? {} });
  app.send(true, false);
  const catalog = await app.engine.ask("catalog", {});
  if (catalog) app.catalog = catalog;
  await app.readRows();
}

begin();
