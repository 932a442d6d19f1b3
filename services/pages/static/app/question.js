// The question as it is typed: kept in SI, written back to the form in the units of the switch, remembered by the browser.

import { by, make, replace } from "./elements.js";
import { unit } from "./units.js";
import { WindDial } from "./wind_dial.js";

const KEPT = "fetchwater.question.2"; // the first form kept a station at 0 m that nobody had typed
const WRITTEN_MS = 90;
const USUAL = { fire: null, aircraft: null, wind_from_deg: 300, wind_ms: 5.14, gust_ms: null, oat_c: 30, station_m: null, qnh_hpa: 1013, target: "edge" };
const FIELDS = { "wind-speed": ["wind_ms", "speed"], "wind-gust": ["gust_ms", "speed"], oat: ["oat_c", "temperature"], station: ["station_m", "height"], qnh: ["qnh_hpa", "pressure"] };

const MAY_BE_EMPTY = ["station", "wind-gust"];

export class Question {
  // onAsk(kind): "drag" while the wind is held, "rest" when something was changed, "submit" by the button.
  constructor(onAsk) {
    this.onAsk = onAsk;
    this.values = { ...USUAL, ...this.#kept() };
    this.own = null; // a fire drawn, dropped or typed: { label, geometry }
    this.dial = new WindDial(by("wind-dial"), (from) => this.#wind(from, "drag"), (from) => this.#wind(from, "rest"));
    for (const [id, [name, kind]] of Object.entries(FIELDS)) {
      by(id).addEventListener("input", () => this.#typed(id, name, kind));
    }
    by("wind-from").addEventListener("input", () => {
      const value = by("wind-from").valueAsNumber;
      if (by("wind-from").checkValidity() && Number.isFinite(value)) this.#wind(value % 360, "rest");
    });
    for (const id of ["fire", "aircraft", "target"]) {
      by(id).addEventListener("change", () => {
        if (id === "fire" && by("fire").value !== "own") this.own = null;
        this.values[id] = by(id).value;
        this.#changed("rest");
      });
    }
    by("ask").addEventListener("submit", (event) => {
      event.preventDefault();
      this.#changed("submit");
    });
  }

  #kept() {
    try {
      return JSON.parse(localStorage.getItem(KEPT) ?? "{}");
    } catch {
      return {};
    }
  }

  #wind(from, kind) {
    this.values.wind_from_deg = Math.round(from);
    // A field that is written lays the form out anew: at every move of a hand that would take longer than the answer.
    const now = performance.now();
    if (kind !== "drag" || now - (this.writtenAt ?? 0) > WRITTEN_MS) {
      this.writtenAt = now;
      by("wind-from").value = this.values.wind_from_deg;
    }
    this.dial.show(from, this.values.wind_ms);
    this.#changed(kind);
  }

  #typed(id, name, kind) {
    const value = by(id).valueAsNumber;
    const emptied = MAY_BE_EMPTY.includes(id) && by(id).value === "" && by(id).checkValidity();
    if (!emptied && (!Number.isFinite(value) || !by(id).checkValidity())) return;
    this.values[name] = emptied ? null : unit(kind).back(value);
    if (id === "wind-speed") this.dial.show(this.values.wind_from_deg, this.values.wind_ms);
    this.#changed("rest");
  }

  #changed(kind) {
    if (kind !== "drag") localStorage.setItem(KEPT, JSON.stringify(this.values));
    this.onAsk(kind);
  }

  choices(region) {
    this.station = region.station;
    replace(by("fire"), region.fires.map((fire) => make("option", { value: fire.fire_id, text: fire.name })));
    replace(by("aircraft"), region.aircraft.map((name) => make("option", { value: name, text: name.replaceAll("_", " ") })));
    const known = (list, value) => (list.includes(value) ? value : list[0]);
    this.values.fire = known(region.fires.map((fire) => fire.fire_id), this.values.fire) ?? null;
    this.values.aircraft = known(region.aircraft, this.values.aircraft);
    by("fire").value = this.values.fire;
    by("aircraft").value = this.values.aircraft;
    by("target").value = this.values.target;
    if (this.values.fire === null) replace(by("fire"), make("option", { value: "", text: "none yet: give one" }));
  }

  useOwn(label, geometry) {
    this.own = { label, geometry };
    by("fire").querySelector("option[value=own]")?.remove();
    by("fire").append(make("option", { value: "own", text: label }));
    by("fire").value = "own";
    by("fire-menu").open = false;
    this.#changed("rest");
  }

  show() {
    for (const [id, [name, kind]] of Object.entries(FIELDS)) {
      const { of, digits } = unit(kind);
      by(id).value = this.values[name] === null ? "" : of(this.values[name]).toFixed(digits);
    }
    const { of, digits } = unit("height");
    // Left empty it is the region's station or base; where it has none the height must be typed, never taken as 0.
    by("station").placeholder = this.station ? of(this.station.elevation_m).toFixed(digits) : "";
    by("station").required = !this.station;
    by("station-place").textContent = this.station ? `empty: ${this.station.name}` : "needed: this region names no station";
    by("wind-from").value = this.values.wind_from_deg;
    this.dial.show(this.values.wind_from_deg, this.values.wind_ms);
    for (const label of document.querySelectorAll("[data-unit]")) label.textContent = unit(label.dataset.unit).name;
  }

  // What is still to be given before anything can be asked, in words; "" when nothing is.
  get missing() {
    if (this.own === null && !this.values.fire) return "Give a fire: draw it, click a point, open a file or type a position.";
    if (this.values.station_m === null && !this.station) return "Give the height at which the temperature was read.";
    return "";
  }

  // What the service is asked; quantities carry their unit, as on the command line.
  body(top) {
    const v = this.values;
    return {
      fire: this.own ? { type: "Feature", properties: { name: this.own.label }, geometry: this.own.geometry } : v.fire,
      aircraft: v.aircraft,
      wind: `${v.wind_from_deg}/${v.wind_ms.toFixed(4)}${v.gust_ms === null ? "" : `G${v.gust_ms.toFixed(4)}`}m/s`,
      oat: `${v.oat_c.toFixed(2)}C`,
      qnh: `${v.qnh_hpa.toFixed(2)}hPa`,
      ...(v.station_m === null ? {} : { station_elevation: `${v.station_m.toFixed(1)}m` }),
      target: v.target,
      top,
    };
  }
}
