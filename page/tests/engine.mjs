// The engine of the page without the page: for tests in node.
import { readFileSync } from "node:fs";

/** Starts the engine; gives back a function that asks it. */
export async function engine(wasm) {
  const { instance } = await WebAssembly.instantiate(readFileSync(wasm), { env: { progress: () => {} } });
  const { memory, take, answer } = instance.exports;
  return (request) => {
    const bytes = new TextEncoder().encode(typeof request === "string" ? request : JSON.stringify(request));
    // Making room may move the memory: only then is it looked at.
    const room = take(bytes.length);
    new Uint8Array(memory.buffer, room, bytes.length).set(bytes);
    const told = BigInt.asUintN(64, answer());
    const text = new Uint8Array(memory.buffer, Number(told >> 32n), Number(told & 0xffffffffn));
    return JSON.parse(new TextDecoder().decode(text));
  };
}
