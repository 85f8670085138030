// The engine's own thread. It answers one request at a time, in the order in which they come; what is stale is dropped before it is sent here.

/** @type {WebAssembly.Exports & Record<string, any>} */
let engine;

/** @param {Record<string, any>} request */
function ask(request) {
  const bytes = new TextEncoder().encode(JSON.stringify(request));
  // Making room may move the memory: only then is it looked at.
  const room = engine.take(bytes.length);
  new Uint8Array(engine.memory.buffer, room, bytes.length).set(bytes);
  const told = BigInt.asUintN(64, engine.answer());
  const text = new Uint8Array(engine.memory.buffer, Number(told >> 32n), Number(told & 0xffffffffn));
  return JSON.parse(new TextDecoder().decode(text));
}

/**
 * Changes the text where there are changes, then answers about the new text.
 * @param {Record<string, any>} request
 */
function answered(request) {
  const { edits, ...rest } = request;
  if (!edits || edits.length === 0) return ask(rest);
  const changed = ask({ do: "edit", text: rest.text, edits });
  if (changed.error) return changed;
  return { ...ask({ ...rest, text: changed.text }), changed: changed.text };
}

/** @param {any} data */
async function heard(data) {
  if (data.module) {
    const progress = (/** @type {number} */ percent) => self.postMessage({ progress: percent });
    const instance = await WebAssembly.instantiate(/** @type {WebAssembly.Module} */ (data.module), { env: { progress } });
    engine = instance.exports;
    self.postMessage({ ready: true });
    return;
  }
  const started = performance.now();
  const answer = answered(data.request);
  self.postMessage({ answer, took: performance.now() - started });
}

// What goes wrong here would otherwise reach nobody: the page does not hear of a promise that is broken in a worker.
self.onmessage = ({ data }) => {
  heard(data).catch((error) => self.postMessage({ died: String(error) }));
};
