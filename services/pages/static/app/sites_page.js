// The page of the annotated sites: table, map, what is due, and the editor beside them.

import { by, make, replace } from "./elements.js";
import { WaterMap } from "./map.js";
import { ask } from "./service.js";
import { NEW, SiteEditor } from "./site_editor.js";
import { switches } from "./switches.js";
import { surroundingSign } from "./symbols.js";

const AGAIN_MS = 4000;
const EFFECTS = { note: "warns only", confirm: "confirms", limit: "limits the load", veto: "excludes the water" };

class SitesPage {
  constructor() {
    this.sites = [];
    this.map = new WaterMap("map", { onThing: (thing) => this.#thing(thing) });
    switches({ onUnits: (system) => this.map.units(system), onClock: () => this.editor?.id && this.editor.open(this.editor.site), onTheme: (dark) => this.map.theme(dark) });
    by("find").addEventListener("input", () => this.#table());
    by("retired").addEventListener("change", () => this.#read());
    by("due-before").addEventListener("change", () => this.#due());
    by("add").addEventListener("click", () => this.#choose(null));
  }

  async start() {
    try {
      this.region = await ask("region");
    } catch (problem) {
      this.#failed(problem, () => this.start());
      return;
    }
    by("region-name").textContent = this.region.name;
    const quiet = (path) => ask(path).catch(() => null);
    const [waters, relief, contours] = await Promise.all([quiet("basemap/waters"), quiet("basemap/relief"), quiet(`basemap/contours?version=${this.region.input_fingerprint.slice(0, 12)}`)]);
    this.names = new Map((waters?.features ?? []).map((one) => [one.properties.body_id, one.properties.name]));
    this.map.background(relief, contours);
    if (waters) await this.map.showWaters(waters);
    this.editor = new SiteEditor(this.region.name, [...this.names], {
      onSaved: () => this.#read(),
      onTyped: () => this.#table(),
      pickPlace: () => this.#pick(),
    });
    by("add").disabled = false;
    await this.#read();
    const drafts = this.editor.drafts.ids();
    if (drafts.length) this.#choose(this.sites.find((one) => drafts.includes(one.site_id)) ?? null, false);
  }

  async #read() {
    try {
      const [sites, things] = await Promise.all([ask(`sites${by("retired").checked ? "?retired=true" : ""}`), ask("basemap/surroundings").catch(() => null)]);
      this.sites = sites;
      by("problem").hidden = true;
      const own = new Set(sites.map((one) => one.site_id));
      const others = (things?.features ?? []).filter((one) => !own.has(one.properties.site_id));
      this.map.showSurroundings({ type: "FeatureCollection", features: others });
      const fromFiles = others.filter((one) => one.properties.what === "site").length;
      by("from-files").textContent = fromFiles ? `${fromFiles} more sites come from the region's own files. They are on the map and count in every answer; edit them in those files.` : "";
    } catch (problem) {
      this.#failed(problem, () => this.#read());
      return;
    }
    this.#table();
    await this.#due();
  }

  #table() {
    if (!this.editor) return;
    const drafts = new Set(this.editor.drafts.ids());
    const wanted = by("find").value.trim().toLowerCase();
    const fits = (site) => !wanted || [site.name, this.names.get(site.body_id), site.note, site.hazards, site.wires, site.owner, site.place].some((text) => text?.toLowerCase().includes(wanted));
    const shown = this.sites.filter(fits);
    const unsaved = () => make("span", { class: "unsaved", text: "not saved" });
    const row = (site) => make("tr", { class: [site.site_id === this.editor.id ? "chosen" : "", site.retired ? "retired" : ""].join(" ").trim() || null, "data-site": site.site_id },
      make("th", { scope: "row" }, make("button", { type: "button", class: "site-open", onclick: () => this.#choose(site) }, make("span", { class: "sign", html: surroundingSign("site", 20, site.status) }), site.name), drafts.has(site.site_id) ? unsaved() : null),
      make("td", { text: site.retired ? "retired" : site.status }), make("td", { text: EFFECTS[site.effect] ?? site.effect }), make("td", { text: this.names.get(site.body_id) ?? site.body_id ?? "" }),
      make("td", { text: site.permission ?? "unknown" }), make("td", { text: site.inspected_on ?? "not recorded" }), make("td", { text: site.inspection_due ?? "" }));
    const held = document.activeElement?.closest?.("tr[data-site]")?.dataset.site;
    replace(by("rows"),
      drafts.has(NEW) ? make("tr", { class: this.editor.id === NEW ? "chosen" : null }, make("th", { scope: "row" }, make("button", { type: "button", class: "site-open", onclick: () => this.#choose(null), text: this.editor.drafts.get(NEW).fields.name || "new site" }), unsaved()), make("td", { colspan: 6, text: "new site" })) : null,
      shown.map(row));
    if (held) by("rows").querySelector(`[data-site="${CSS.escape(held)}"] button`)?.focus();
    by("state").textContent = this.sites.length ? `${shown.length} of ${this.sites.length} sites` : "There are no sites yet. Add the first one: it needs a name and a position.";
    this.map.showMarks(shown.map((one) => ({ ...one, what: "site", note: "" })));
  }

  async #due() {
    const box = by("due");
    const before = by("due-before").value;
    box.hidden = !before;
    if (!before) return;
    try {
      const found = await ask(`sites/due?before=${before}`);
      replace(box, make("h2", { class: "hint", text: found.length ? `${found.length} items expire before ${before}` : `Nothing expires before ${before}` }),
        found.length ? make("ul", { class: "due-list" }, found.map((one) => make("li", {}, make("button", { type: "button", class: "site-open", onclick: () => this.#choose(this.sites.find((site) => site.site_id === one.site_id)), text: one.name }), `${one.what}, ${one.on ?? "now"}${one.contact ? `, contact ${one.contact}` : ""}`))) : null);
    } catch (problem) {
      this.#failed(problem, () => this.#due());
    }
  }

  #choose(site, focus = true) {
    if (site === undefined) return;
    this.editor.open(site);
    this.#table();
    if (site) this.map.see([{ type: "Point", coordinates: [site.longitude_deg, site.latitude_deg] }]);
    if (focus) (by("f-name").matches(":disabled") ? by("editor") : by("f-name")).focus();
  }

  #thing(thing) {
    const site = this.sites.find((one) => one.site_id === thing.site_id);
    if (site) this.#choose(site);
    else this.#say(`${thing.name}: ${thing.note}${thing.what === "site" ? ". It comes from the region's own files." : ""}`);
  }

  async #pick() {
    this.#say("Click the place. By keyboard: arrow keys move a cross, with Shift farther; Enter sets it. Escape cancels.");
    const shape = await this.map.drawOne("Point");
    this.#say("");
    return shape ? shape.coordinates : null;
  }

  #say(words) {
    by("map-message").hidden = !words;
    replace(by("map-message"), words ? [make("span", { text: words }), make("button", { type: "button", class: "close", "aria-label": "Close this message", text: "✕", onclick: () => this.#say("") })] : []);
  }

  #failed(problem, again) {
    by("problem").hidden = false;
    replace(by("problem"), make("strong", { text: problem.message }), make("p", { text: problem.detail ?? "" }));
    if (problem.status === 0) setTimeout(again, AGAIN_MS);
  }
}

new SitesPage().start();
