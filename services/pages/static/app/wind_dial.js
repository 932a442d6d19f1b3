// The wind as an arrow on a dial: drag its tail to where the wind blows from; arrow keys turn it by 5 degrees.

import { draw } from "./elements.js";

const SIZE = 64;
const STEP_DEG = 5;
const FASTEST_MS = 25;

export class WindDial {
  constructor(parent, onMove, onRest) {
    this.onMove = onMove;
    this.onRest = onRest;
    this.from = 0;
    this.speed = null;
    const middle = SIZE / 2;
    this.arrow = draw("path", { class: "dial-arrow" });
    this.grip = draw("circle", { class: "dial-grip", cx: middle, r: 7 });
    this.needle = draw("g", {}, this.arrow, this.grip);
    this.svg = draw(
      "svg",
      { viewBox: `0 0 ${SIZE} ${SIZE}`, class: "dial", tabindex: 0, role: "slider", "aria-label": "Wind from, degrees true",
        "aria-valuemin": 0, "aria-valuemax": 359 },
      draw("circle", { class: "dial-face", cx: middle, cy: middle, r: middle - 2 }),
      ...[90, 180, 270].map((turn) => draw("path", { class: "dial-mark", d: `M${middle} 4v5`, transform: `rotate(${turn} ${middle} ${middle})` })),
      draw("text", { class: "dial-north", x: middle, y: 13, "text-anchor": "middle", text: "N" }),
      this.needle,
    );
    parent.append(this.svg);
    this.svg.addEventListener("pointerdown", (event) => this.#hold(event));
    this.svg.addEventListener("keydown", (event) => this.#key(event));
  }

  show(from, speed) {
    this.from = ((from % 360) + 360) % 360;
    const middle = SIZE / 2;
    if (speed !== this.speed) {
      this.speed = speed;
      const reach = 12 + 12 * Math.min(speed / FASTEST_MS, 1);
      const [tail, head] = [middle - reach, middle + reach];
      this.arrow.setAttribute("d", `M${middle} ${tail}V${head}M${middle - 5} ${head - 7}l5 7 5-7`);
      this.grip.setAttribute("cy", tail);
    }
    this.needle.setAttribute("transform", `rotate(${this.from} ${middle} ${middle})`);
    this.svg.setAttribute("aria-valuenow", Math.round(this.from));
    this.svg.setAttribute("aria-valuetext", `from ${Math.round(this.from)} degrees true`);
  }

  #turn(from, resting) {
    this.show(from, this.speed);
    (resting ? this.onRest : this.onMove)(this.from);
  }

  #hold(event) {
    event.preventDefault();
    this.svg.focus();
    this.svg.setPointerCapture(event.pointerId);
    const place = (at) => {
      const box = this.svg.getBoundingClientRect();
      const east = at.clientX - box.left - box.width / 2;
      const south = at.clientY - box.top - box.height / 2;
      return Math.round((Math.atan2(east, -south) * 180) / Math.PI);
    };
    const move = (at) => this.#turn(place(at), false);
    const rest = (at) => {
      this.svg.removeEventListener("pointermove", move);
      this.#turn(at.type === "pointercancel" ? this.from : place(at), true);
    };
    this.svg.addEventListener("pointermove", move);
    this.svg.addEventListener("pointerup", rest, { once: true });
    this.svg.addEventListener("pointercancel", rest, { once: true });
    move(event);
  }

  #key(event) {
    const by = { ArrowLeft: -STEP_DEG, ArrowDown: -STEP_DEG, ArrowRight: STEP_DEG, ArrowUp: STEP_DEG }[event.key];
    if (!by) return;
    event.preventDefault();
    this.#turn(this.from + by, true);
  }
}
