// What the page costs, in a real browser on a machine that does nothing else meanwhile. The bounds are the middle of several moves: one of them may
// meet whatever else the machine does.
// Usage: node page/tests/times.mjs PAGE.html; needs what browser.mjs needs.
import { check, done, drag, open, rested } from "./browser.mjs";

/** @param {number[]} times */
const middle = (times) => times.toSorted((a, b) => a - b)[Math.floor(times.length / 2)];
const told = (times) => times.map((took) => took.toFixed(0)).join(", ");

const firsts = [];
const frames = [];
const shares = [];
for (let k = 0; k < 3; k += 1) {
  const tab = await open();
  firsts.push(Number(await tab.evaluate(() => document.body.dataset.first)));
  await rested(tab);
  // What opening took is not the drag's.
  await tab.evaluate(() => { for (const engine of [window.polstack.engine, window.polstack.slow]) engine.times.length = 0; });
  await drag(tab);
  const times = await tab.evaluate(() => [...window.polstack.engine.times, ...window.polstack.slow.times]);
  for (const { kind, took } of times) ({ frame: frames, predict: shares })[kind]?.push(took);
  await tab.context().close();
}
check(middle(firsts) < 1000, `first picture ${told(firsts)} ms after opening (1000 allowed)`);
check(frames.length > 60 && middle(frames) <= 16, `${frames.length} frames of three drags, ${middle(frames).toFixed(1)} ms in the middle (16 allowed)`);
check(shares.length >= 3 && middle(shares) <= 100, `shares after them: ${told(shares)} ms (100 allowed in the middle)`);
await done("the page is quick");
