// The map's drawing library, fetched when it is first needed: the answers in words do not wait for it.

let coming = null;

function element(tag, properties) {
  return new Promise((resolve, reject) => {
    const made = Object.assign(document.createElement(tag), properties, { onload: resolve });
    made.onerror = () => {
      made.remove();
      reject(new Error("the map's drawing library failed to load"));
    };
    // Before the page's own styles, which have the last word.
    if (tag === "link") document.head.prepend(made);
    else document.head.append(made);
  });
}

// Begins to fetch it and runs nothing of it yet.
export function announce() {
  if (!window.ol && !coming) document.head.append(Object.assign(document.createElement("link"), { rel: "preload", as: "script", href: "static/vendor/ol.js" }));
}

// Rejects where it does not come; the next call tries again.
export function library() {
  if (window.ol) return Promise.resolve();
  coming ??= Promise.all([element("script", { src: "static/vendor/ol.js" }), element("link", { rel: "stylesheet", href: "static/vendor/ol.css" })]).catch((problem) => {
    coming = null;
    throw problem;
  });
  return coming;
}

// Lets the browser draw and answer the user between two pieces of work.
export const breath = () => new Promise((resolve) => { setTimeout(resolve, 0); });
