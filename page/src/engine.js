// Asks the engine in its worker. Of each kind of request only the newest waits: an answer that nobody needs any more is never worked out.

import { say } from "./words.js";

/** Kinds of request, most urgent first. */
const ORDER = ["frame", "outline", "field", "scale", "predict", "doubt", "compare", "csv", "sure", "fit", "catalog"];

/** @type {Promise<WebAssembly.Module> | undefined} */
let compiled;

/** The engine's code, unpacked and compiled once for all workers. */
function code() {
  compiled ??= (async () => {
    const packed = document.getElementById("engine")?.textContent?.trim() ?? "";
    const bytes = Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));
    const unpacked = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return WebAssembly.compile(await new Response(unpacked).arrayBuffer());
  })();
  return compiled;
}

/** What is told in place of an answer where the engine has stopped; it is no mistake of the scenario. @param {string} message */
function stopped(message) {
  return { message, remedy: null, part: null, line: null, key: null, stopped: true };
}

/** Address of the worker's script, the same for all workers. @type {string | undefined} */
let script;

/** A worker that stops so many times before it was ready is not started again. */
const MOST_DEATHS = 3;

/** One worker with the engine in it. */
export class Engine {
  constructor() {
    /** @type {Map<string, { request: Record<string, any>, done: (answer: any) => void }>} */
    this.waiting = new Map();
    /** @type {{ kind: string, done: (answer: any) => void } | null} */
    this.running = null;
    /** Milliseconds of the last answers, for who measures. @type {{ kind: string, took: number }[]} */
    this.times = [];
    /** @type {(percent: number) => void} */
    this.onprogress = () => {};
    /** @type {(words: string) => void} */
    this.ondeath = () => {};
    this.ready = false;
    this.deaths = 0;
    this.gone = false;
    this.start();
  }

  start() {
    const source = document.getElementById("worker")?.textContent ?? "";
    script ??= URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
    const worker = new Worker(script);
    this.worker = worker;
    worker.onmessage = ({ data }) => this.heard(data);
    worker.onerror = (event) => {
      event.preventDefault();
      this.died();
    };
    code().then((module) => worker.postMessage({ module }), () => this.cannotRun());
  }

  /** The worker has stopped: whoever waits for its answer hears it, and a new one begins. */
  died() {
    this.worker?.terminate();
    this.ready = false;
    this.deaths += 1;
    if (this.deaths >= MOST_DEATHS) {
      this.cannotRun();
      return;
    }
    const running = this.running;
    this.running = null;
    this.ondeath(say("engineStopped"));
    running?.done({ error: stopped(say("engineStopped")) });
    this.start();
  }

  /** The engine cannot be had here at all: all who wait hear it, and nothing is tried again until the page is loaded anew. */
  cannotRun() {
    this.worker?.terminate();
    this.ready = false;
    this.gone = true;
    const asked = [this.running, ...this.waiting.values()];
    this.running = null;
    this.waiting.clear();
    this.ondeath(say("engineCannotRun"));
    for (const one of asked) one?.done({ error: stopped(say("engineCannotRun")) });
  }

  /** Ends what is being worked out. */
  stop() {
    this.worker?.terminate();
    this.ready = false;
    this.running?.done(null);
    this.running = null;
    this.waiting.clear();
    this.start();
  }

  /**
   * Asks; gives null where a newer request of the kind took its place.
   * @param {string} kind
   * @param {Record<string, any>} request
   * @returns {Promise<any>}
   */
  ask(kind, request) {
    if (this.gone) return Promise.resolve({ error: stopped(say("engineCannotRun")) });
    this.waiting.get(kind)?.done(null);
    return new Promise((done) => {
      this.waiting.set(kind, { request: { do: kind, ...request }, done });
      this.next();
    });
  }

  next() {
    if (!this.ready || this.running) return;
    const kind = ORDER.find((kind) => this.waiting.has(kind));
    if (!kind) return;
    const { request, done } = /** @type {any} */ (this.waiting.get(kind));
    this.waiting.delete(kind);
    this.running = { kind, done };
    this.worker?.postMessage({ request });
  }

  /** @param {any} data */
  heard(data) {
    if (data.died !== undefined) {
      this.died();
      return;
    }
    if (data.ready) {
      this.ready = true;
      this.deaths = 0;
    } else if (data.progress !== undefined) {
      this.onprogress(data.progress);
      return;
    } else {
      const running = this.running;
      this.running = null;
      if (running) {
        this.times.push({ kind: running.kind, took: data.took });
        if (this.times.length > 2000) this.times.shift();
        running.done(data.answer);
      }
    }
    this.next();
  }
}
