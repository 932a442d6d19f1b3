// Ways to give a fire: draw it, click it, drop or open a file, type a position.

import { by } from "./elements.js";
import { position } from "./position.js";
import { ask } from "./service.js";

const MOST_BYTES = 20 * 1024 * 1024;

const KEYS = "By keyboard: arrow keys move a cross, with Shift farther; Enter sets it.";

// On which side of the line from a to b a corner c lies: 1, -1, or 0 on it.
const turn = (a, b, c) => Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));

// True where two edges of a closed ring that are not neighbours meet.
export function crosses(ring) {
  const edges = ring.slice(1).map((corner, i) => [ring[i], corner]);
  return edges.some(([a, b], i) => edges.some(([c, d], j) => j > i + 1 && !(i === 0 && j === edges.length - 1) && turn(a, b, c) !== turn(a, b, d) && turn(c, d, a) !== turn(c, d, b)));
}

export class FireInput {
  // drawn(): gives the map, when it is drawn, or null
  constructor(drawn, question, say) {
    this.drawn = drawn;
    this.question = question;
    this.say = say;
    by("draw-area").addEventListener("click", () => this.#draw("Polygon", `Click round the fire's edge; click the first corner again to close it. ${KEYS} Enter again on the last corner closes it, Backspace removes one. Escape cancels.`));
    by("draw-point").addEventListener("click", () => this.#draw("Point", `Click where it burns. ${KEYS} Escape cancels.`));
    by("pick-file").addEventListener("click", () => by("fire-file").click());
    by("fire-file").addEventListener("change", () => {
      if (by("fire-file").files.length) this.#read(by("fire-file").files[0]);
      by("fire-file").value = "";
    });
    by("use-position").addEventListener("click", () => this.#typed());
    by("fire-position").addEventListener("keydown", (event) => {
      if (event.key === "Enter") {
        event.preventDefault();
        this.#typed();
      }
    });
    const side = document.querySelector(".map-side");
    side.addEventListener("dragover", (event) => {
      event.preventDefault();
      side.classList.add("dropping");
    });
    side.addEventListener("dragleave", () => side.classList.remove("dropping"));
    side.addEventListener("drop", (event) => {
      event.preventDefault();
      side.classList.remove("dropping");
      if (event.dataTransfer.files.length) this.#read(event.dataTransfer.files[0]);
    });
  }

  async #draw(type, words) {
    by("fire-menu").open = false;
    const map = await this.drawn();
    if (!map) return;
    this.say(words);
    const shape = await map.drawOne(type);
    this.say("");
    if (shape?.type === "Polygon" && crosses(shape.coordinates[0])) this.say("The edge you drew crosses itself. Every part it encloses counts as fire; draw it again if you did not mean that.");
    if (shape) this.question.useOwn(type === "Point" ? "clicked point" : "drawn fire", shape);
  }

  #typed() {
    const place = position(by("fire-position").value);
    if (place === null) {
      this.say("This is not a position. Write latitude, then longitude: -46.99 -128.09, or 46 59.4 S 128 05.5 W.");
      return;
    }
    this.say("");
    this.question.useOwn("typed position", { type: "Point", coordinates: place });
  }

  async #read(file) {
    by("fire-menu").open = false;
    if (file.size > MOST_BYTES) {
      this.say(`${file.name} is larger than 20 MB. Export the fire's outline alone, or draw it on the map.`);
      return;
    }
    this.say(`Reading ${file.name} …`);
    try {
      const fire = await ask("fires/read", { method: "POST", file });
      this.say(fire.note ?? "");
      this.question.useOwn(fire.name, fire.geometry);
    } catch (problem) {
      const faults = problem.errors?.map((one) => `${one.rule}. ${one.cure ? `Fix: ${one.cure}.` : ""}`).join(" ");
      this.say(`${file.name} cannot be used as a fire. ${faults || problem.detail || problem.message} You can also draw it on the map.`);
    }
  }
}
