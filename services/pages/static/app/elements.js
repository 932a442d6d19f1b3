// Building the page from values: text is always set as text, so that no name of a water can become markup.

export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "text") element.textContent = value;
    else if (name === "html") element.innerHTML = value; // own drawings only, never a value from outside
    else if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "class") element.className = value;
    else if (value === true) element.setAttribute(name, "");
    else element.setAttribute(name, value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

const SVG = "http://www.w3.org/2000/svg";

export function draw(tag, properties = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined) continue;
    if (name === "text") element.textContent = value;
    else element.setAttribute(name, value);
  }
  element.append(...children.flat().filter(Boolean));
  return element;
}

export const by = (id) => document.getElementById(id);

export function replace(parent, ...children) {
  parent.replaceChildren(...children.flat().filter(Boolean));
}

// Sets a text where it is another one: what stands already costs no drawing and is not read out again.
export function put(element, text) {
  const wanted = String(text);
  if (element.textContent !== wanted) element.textContent = wanted;
}
