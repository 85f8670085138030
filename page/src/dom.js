// Small helpers to make elements.

/**
 * An element with properties, attributes (names with a dash, or role) and children.
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, any>} [properties]
 * @param {...(Node | string | null | undefined)} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.includes("-") || name === "role" || name === "for") element.setAttribute(name, String(value));
    else if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else /** @type {any} */ (element)[name] = value;
  }
  for (const child of children) if (child !== null && child !== undefined) element.append(child);
  return element;
}

/**
 * The element of an id, which the page has.
 * @param {string} id
 * @returns {any}
 */
export function byId(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`the page lacks ${id}`);
  return element;
}

/**
 * An element of SVG.
 * @param {string} tag
 * @param {Record<string, string | number>} attributes
 * @param {...(Node | string)} children
 */
export function draw(tag, attributes, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/** A small patch of a colour. @param {string} color */
export function chip(color) {
  const element = make("span", { className: "chip", "aria-hidden": "true" });
  element.style.background = color;
  return element;
}

let counted = 0;

/** An id that no other element has. */
export function freshId() {
  counted += 1;
  return `own-${counted}`;
}

/**
 * Pixels that the engine made (base64, red, green, blue, opacity) onto a canvas of their size.
 * @param {HTMLCanvasElement} canvas
 * @param {number} size
 * @param {string} pixels
 */
export function paint(canvas, size, pixels) {
  const bytes = Uint8ClampedArray.from(atob(pixels), (letter) => letter.charCodeAt(0));
  if (canvas.width !== size) {
    canvas.width = size;
    canvas.height = size;
  }
  canvas.getContext("2d")?.putImageData(new ImageData(bytes, size, size), 0, 0);
}

/**
 * Offers a file to save.
 * @param {string} name
 * @param {Blob} blob
 */
export function save(name, blob) {
  const link = make("a", { href: URL.createObjectURL(blob), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}
