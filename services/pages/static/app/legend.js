// The legend under the map: what can be done at a water, and of what stands beside it only what the region has.

import { by, make, replace } from "./elements.js";
import { KINDS, sign } from "./kinds.js";
import { SURROUNDING_WORDS, surroundingSign } from "./symbols.js";

const ALWAYS = ["fire", "run", "hover ways", "loaded leg", "empty leg"];
const item = (drawing, words) => make("li", {}, make("span", { class: "sign", html: drawing }), words);
const warning = (text) => make("li", { class: "unlisted", text });

// things: the collection of what stands beside the water; null where it did not come.
export function showLegend(things) {
  const there = new Set((things?.features ?? []).map((one) => one.properties.what));
  const beside = Object.keys(SURROUNDING_WORDS).filter((what) => ALWAYS.includes(what) || there.has(what));
  replace(
    by("legend"),
    ["both", "ram", "hover", "survey", "no"].map((kind) => item(sign(kind, 20), KINDS[kind].word)),
    beside.map((what) => item(surroundingSign(what, 20, "open"), SURROUNDING_WORDS[what])),
    things && !things.obstacles_listed ? warning("No file of wires and masts was given: they may be there, unknown.") : null,
    things?.obstacles_left_out ? warning(`${things.obstacles_left_out.toLocaleString("en")} more obstacles are not drawn; all are judged.`) : null,
    things ? null : warning("Wires, closures and sites failed to load."),
  );
}

// Folded where the screen has no room for it.
export const foldLegend = () => { document.querySelector(".legend").open = !matchMedia("(max-width: 1000px), (max-height: 700px)").matches; };
