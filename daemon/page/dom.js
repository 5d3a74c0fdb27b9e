// Elements without a framework. Text goes in as text: nothing of a kitchen is ever read as markup.

/** @param {string} tag @param {Record<string, any>} properties @param {(Node | string)[]} children @returns {any} */
export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name in element && name !== "list" && name !== "form") /** @type {any} */ (element)[name] = value;
    else element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

/** @param {string} tag @param {Record<string, string | number>} attributes @param {(Node | string)[]} children */
export function draw(tag, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/** @param {string} id @returns {any} */
export function byId(id) {
  return document.getElementById(id);
}

/** Only what changed is touched, so that a screen reader and the focus stay where they are. @param {Node} node @param {string} text */
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** @param {HTMLElement} element @param {string} name @param {boolean} on */
export function mark(element, name, on) {
  if (element.classList.contains(name) !== on) element.classList.toggle(name, on);
}

/** @param {HTMLElement} element @param {boolean} shown */
export function show(element, shown) {
  if (element.hidden === shown) element.hidden = !shown;
}

/**
 * Keeps one element for each item, in the items' order; what stays is updated, not made anew.
 * @template T @param {HTMLElement} parent @param {T[]} items @param {(item: T) => string} key
 * @param {(item: T) => {element: HTMLElement, update: (item: T) => void}} create
 */
export function keyed(parent, items, key, create) {
  const held = /** @type {any} */ (parent), kept = (held.kept ??= new Map());
  const wanted = new Set(items.map(key));
  for (const [name, part] of kept) {
    if (wanted.has(name)) continue;
    part.element.remove();
    kept.delete(name);
  }
  items.forEach((item, place) => {
    const name = key(item);
    if (!kept.has(name)) kept.set(name, create(item));
    const part = kept.get(name);
    if (parent.children[place] !== part.element) parent.insertBefore(part.element, parent.children[place] ?? null);
    part.update(item);
  });
}

/** @param {string} text @param {() => void} act @param {Record<string, any>} more */
export function button(text, act, more = {}) {
  return make("button", { type: "button", onclick: act, ...more }, text);
}
