// Drawing on the map with the keyboard alone: a cross that arrow keys move, corners that Enter sets.

import { make, put } from "./elements.js";
import { sketchStyle } from "./map_styles.js";
import { writtenPosition } from "./position.js";

const STEP_PX = 6;
const WIDE_PX = 48; // with Shift
const EDGE_PX = 40; // nearer to the edge the map moves along
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const CROSS = '<svg xmlns="http://www.w3.org/2000/svg" width="48" height="48" viewBox="0 0 48 48" aria-hidden="true"><path d="M24 2v17M24 29v17M2 24h17M29 24h17" stroke="#fff" stroke-width="6"/><path d="M24 2v17M24 29v17M2 24h17M29 24h17" stroke="#b2182b" stroke-width="2.6"/><circle cx="24" cy="24" r="1.8" fill="#b2182b" stroke="#fff"/></svg>';

export class Pen {
  // type: "Polygon" or "Point"; done(geometry in the map's plane); taken(): the keyboard draws now, the mouse no more.
  constructor(map, type, { done, taken }) {
    Object.assign(this, { map, type, done, taken, corners: [], at: null });
    this.element = map.getTargetElement();
    this.side = this.element.parentElement;
    this.label = make("span", { class: "pen-place" });
    this.cross = make("div", { class: "pen", hidden: true }, make("span", { html: CROSS }), this.label);
    this.told = make("div", { class: "unseen pen-told", role: "status", "aria-live": "polite" });
    this.sketch = new ol.layer.Vector({ source: new ol.source.Vector(), style: sketchStyle, zIndex: 20 });
    map.addLayer(this.sketch);
    this.side.append(this.cross, this.told);
    this.onKey = (event) => this.#key(event);
    this.onMove = () => this.at && this.#shown();
    // Caught before the map, whose own keys would move it.
    this.side.addEventListener("keydown", this.onKey, true);
    map.on("postrender", this.onMove);
    this.element.focus();
  }

  end() {
    this.side.removeEventListener("keydown", this.onKey, true);
    this.map.un("postrender", this.onMove);
    this.map.removeLayer(this.sketch);
    this.cross.remove();
    this.told.remove();
  }

  #key(event) {
    if (event.target !== this.element || event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    if (!arrow && event.key !== "Enter" && event.key !== "Backspace") return;
    event.preventDefault();
    event.stopPropagation();
    if (!this.at) {
      this.taken();
      this.at = this.map.getView().getCenter().slice();
      this.cross.hidden = false;
      if (!arrow) return this.#tell("The cross is in the middle of the map");
    }
    if (arrow) this.#move(arrow, event.shiftKey ? WIDE_PX : STEP_PX);
    else if (event.key === "Enter") this.#set();
    else this.#takeBack();
    return undefined;
  }

  #move([right, down], step) {
    const view = this.map.getView();
    const way = step * view.getResolution();
    this.at = [this.at[0] + right * way, this.at[1] - down * way];
    const [x, y] = this.#pixel();
    const [width, height] = this.map.getSize();
    if (x < EDGE_PX || y < EDGE_PX || x > width - EDGE_PX || y > height - EDGE_PX) {
      const middle = view.getCenter();
      view.setCenter([middle[0] + right * way, middle[1] - down * way]);
    }
    this.#tell();
  }

  #set() {
    if (this.type === "Point") {
      this.done(new ol.geom.Point(this.at));
      return;
    }
    const last = this.corners.at(-1);
    if (last && last[0] === this.at[0] && last[1] === this.at[1]) {
      if (this.corners.length > 2) this.done(new ol.geom.Polygon([[...this.corners, this.corners[0]]]));
      else this.#tell(`An edge needs three corners; ${this.corners.length} so far. Move the cross`);
      return;
    }
    this.corners.push(this.at.slice());
    this.#tell(`Corner ${this.corners.length} set${this.corners.length > 2 ? "; Enter again closes the edge" : ""}`);
  }

  #takeBack() {
    this.#tell(this.corners.pop() ? `Corner ${this.corners.length + 1} taken back; ${this.corners.length} left` : "No corner to take back");
  }

  #pixel() {
    const [west, , , north] = this.map.getView().calculateExtent(this.map.getSize());
    const resolution = this.map.getView().getResolution();
    return [(this.at[0] - west) / resolution, (north - this.at[1]) / resolution];
  }

  #tell(words = "") {
    const place = writtenPosition(ol.proj.toLonLat(this.at));
    put(this.label, place);
    put(this.told, words ? `${words}. ${place}` : place);
    const source = this.sketch.getSource();
    source.clear();
    const line = [...this.corners, this.at];
    if (line.length > 1) source.addFeature(new ol.Feature(new ol.geom.LineString(line)));
    source.addFeatures(this.corners.map((corner) => new ol.Feature(new ol.geom.Point(corner))));
    this.#shown();
  }

  #shown() {
    const [x, y] = this.#pixel();
    this.cross.style.transform = `translate(${Math.round(x) - 24}px, ${Math.round(y) - 24}px)`;
    this.cross.classList.toggle("left", x > this.map.getSize()[0] - 240);
  }
}
