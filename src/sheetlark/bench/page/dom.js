// Small makers of elements. h() makes HTML, s() makes SVG; children may be text, nodes or lists of them.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (key === "style") for (const [k, v] of Object.entries(value)) node.style.setProperty(k, v);
    else if (key === "data") for (const [k, v] of Object.entries(value)) node.dataset[k] = v;
    else if (key === "value") node.value = value;
    else if (key === "checked" || key === "disabled" || key === "open" || key === "selected") node[key] = Boolean(value);
    else node.setAttribute(key, value === true ? "" : value);
  }
  add(node, children);
  return node;
}

function add(node, children) {
  for (const child of children.flat(Infinity)) {
    if (child === null || child === undefined || child === false) continue;
    node.append(child instanceof Node ? child : String(child));
  }
}

export function h(tag, attributes, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function s(tag, attributes, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

export function put(node, ...children) {
  node.replaceChildren();
  add(node, children);
  return node;
}

export function say(words) {
  const spoken = document.getElementById("spoken");
  if (spoken) spoken.textContent = words;
}

export const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

export const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

export function held(object, where) {
  let here = object;
  for (const part of where) {
    if (here === null || here === undefined) return undefined;
    here = here[part];
  }
  return here;
}
