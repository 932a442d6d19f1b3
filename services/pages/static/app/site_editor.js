// One site as a form: typed text is kept until it is saved; an edit names the revision that it changes.

import { Drafts } from "./drafts.js";
import { by, make, replace } from "./elements.js";
import { position } from "./position.js";
import { ask } from "./service.js";
import { settle } from "./site_conflict.js";
import { changeList, photoPart } from "./site_beside.js";
import { differing, EMPTY, FIELDS, fieldsOf, typedOf } from "./site_fields.js";
import { moment } from "./units.js";

export const NEW = "new";
const AGAIN_MS = 4000;
const at = (id, rest = "") => `sites/${encodeURIComponent(id)}${rest}`;
const tag = (revision) => ({ "If-Match": `"${revision}"` });

export class SiteEditor {
  // onSaved(site), onTyped(): the table is drawn anew; pickPlace(): a click on the map as [longitude, latitude] or null.
  constructor(region, waters, { onSaved, onTyped, pickPlace }) {
    this.drafts = new Drafts(region);
    this.waters = waters;
    this.onSaved = onSaved;
    this.onTyped = onTyped;
    this.pickPlace = pickPlace;
    this.box = by("editor");
    document.addEventListener("keydown", (event) => {
      if ((event.ctrlKey || event.metaKey) && event.key === "s" && this.id) {
        event.preventDefault();
        this.save();
      }
    });
  }

  // site: null for a new one.
  open(site) {
    clearTimeout(this.waiting);
    this.site = site;
    this.id = site?.site_id ?? NEW;
    const draft = this.drafts.get(this.id);
    const read = site ? typedOf(site) : { ...typedOf({}), ...EMPTY };
    this.base = draft?.base ?? read;
    this.revision = draft?.revision ?? site?.revision ?? null;
    this.typed = { ...read, ...(draft?.fields ?? {}) };
    this.#draw();
    if (draft) {
      const old = site && draft.revision !== site.revision ? " Somebody else has saved it since; saving will show both versions." : "";
      this.say(`Not saved yet, kept in this browser since ${moment(draft.at)}.${old}`);
    }
  }

  say(words, look = "") {
    const box = this.box.querySelector(".told");
    box.className = `told ${look}`;
    box.textContent = words;
  }

  #draw() {
    const groups = new Map();
    for (const field of FIELDS) groups.set(field.group, [...(groups.get(field.group) ?? []), this.#control(field)]);
    const retired = this.site?.retired ?? false;
    replace(
      this.box,
      make("h2", { id: "editor-title", text: this.site ? this.site.name : "A new site" }),
      this.site ? make("p", { class: "hint", text: `Revision ${this.site.revision}, saved by ${this.site.updated_by} on ${moment(this.site.updated_at)}${retired ? "; retired: it has no effect" : ""}.` }) : null,
      make("form", { id: "site-form", autocomplete: "off", novalidate: true, "aria-labelledby": "editor-title", onsubmit: (event) => { event.preventDefault(); this.save(); } },
        [...groups].map(([name, controls]) => make("fieldset", { disabled: retired }, make("legend", { text: name }), controls)),
        make("div", { class: "sticky" },
          make("p", { class: "told", role: "status", "aria-live": "polite" }),
          make("div", { class: "buttons-row" },
            retired ? make("button", { type: "button", id: "restore", text: "Restore", onclick: () => this.#step("restore") }) : make("button", { type: "submit", class: "main", id: "save", text: "Save" }),
            make("button", { type: "button", id: "discard", text: "Discard my changes", onclick: () => this.discard() }),
            this.site && !retired ? make("button", { type: "button", id: "undo", disabled: this.site.revision < 2, text: "Undo the last change", onclick: () => this.#step("undo") }) : null,
            this.site && !retired ? make("button", { type: "button", id: "retire", text: "Retire", onclick: () => this.#step("retire") }) : null))),
      this.site ? photoPart(this.site, (words, look) => this.say(words, look), () => this.#refresh()) : null,
      this.site ? changeList(this.site, (revision) => this.#step("undo", `?revision=${revision}`)) : null,
    );
    this.#shown();
  }

  #control(field) {
    const id = `f-${field.name}`;
    const said = make("span", { class: "field-fault", id: `${id}-fault` });
    const common = { id, name: field.name, "aria-describedby": `${id}-fault`, oninput: (event) => this.#type(field, event.target.value) };
    let input;
    if (field.choices) {
      const choices = field.choices === "waters" ? [["", "the water it lies on"], ...this.waters] : field.choices;
      input = make("select", common, choices.map(([value, words]) => make("option", { value, text: words ?? value })));
    } else if (field.long) input = make("textarea", { ...common, maxlength: 4000 });
    else input = make("input", { ...common, type: field.kind ?? "text", inputmode: field.kind === "number" ? "decimal" : null, placeholder: field.hint, maxlength: field.most ?? 4000, required: field.needed });
    input.value = this.typed[field.name] ?? "";
    const click = field.name === "position" ? make("button", { type: "button", class: "plain", id: "pick-place", text: "Click on the map", onclick: () => this.#pick(input) }) : null;
    return make("label", { class: field.wide || field.long ? "wide" : null, "data-field": field.name }, field.label, input, click, said);
  }

  async #pick(input) {
    const place = await this.pickPlace();
    if (place) {
      input.value = `${place[1].toFixed(6)} ${place[0].toFixed(6)}`;
      this.#type(FIELDS.find((one) => one.name === "position"), input.value);
    }
    input.focus();
  }

  #type(field, text) {
    this.typed[field.name] = text;
    this.#fault(field.name, "");
    this.#shown();
    if (differing(this.base, this.typed).length === 0) this.drafts.drop(this.id);
    else if (!this.drafts.put(this.id, { base: this.base, revision: this.revision, fields: this.typed })) this.say("This browser cannot keep unsaved text; save soon.", "bad");
    else this.say("Not saved yet; kept in this browser.");
    this.onTyped();
  }

  #shown() {
    for (const field of FIELDS.filter((one) => one.when)) {
      this.box.querySelector(`[data-field="${field.name}"]`).hidden = !field.when(this.typed);
    }
  }

  #fault(name, words) {
    const input = by(`f-${name}`);
    if (!input) return false;
    input.setAttribute("aria-invalid", String(Boolean(words)));
    by(`f-${name}-fault`).textContent = words;
    return true;
  }

  discard() {
    this.drafts.drop(this.id);
    clearTimeout(this.waiting);
    this.open(this.site);
    this.say("Changes discarded; this is the saved version.");
    this.onTyped();
  }

  async save() {
    clearTimeout(this.waiting);
    const place = position(this.typed.position ?? "");
    if (place === null) {
      this.#fault("position", "Write latitude, then longitude: -46.99 -128.09, or 46 59.4 S 128 05.5 W; or click on the map.");
      by("f-position").focus();
      return;
    }
    await this.#sent(fieldsOf(this.typed, place));
  }

  async #sent(fields) {
    const id = this.id;
    this.say("Saving …");
    try {
      const site = this.site
        ? await ask(at(id), { method: "PUT", body: fields, headers: tag(this.revision) })
        : (await this.#madeBefore(fields)) ?? (await ask("sites", { method: "POST", body: fields }));
      this.#saved(id, site, "Saved; it takes effect in the next answer.");
    } catch (problem) {
      if (this.id === id) await this.#refused(problem, () => this.save());
    }
  }

  // After a lost answer nobody knows whether the new site was kept: the same one is not made twice.
  async #madeBefore(fields) {
    if (!this.lostOnce) return null;
    const sites = await ask("sites");
    return sites.find((one) => Object.entries(fields).every(([name, value]) => one[name] === value)) ?? null;
  }

  #saved(id, site, words) {
    this.lostOnce = false;
    this.drafts.drop(id);
    if (this.id === id) {
      this.open(site);
      this.say(words, "good");
      (by("save") ?? by("restore")).focus({ preventScroll: true });
    }
    this.onSaved(site);
  }

  async #refused(problem, again) {
    if (problem.status === 0) {
      this.lostOnce = true;
      this.say("The service does not answer. What you typed is kept in this browser; the page will try again.", "bad");
      this.waiting = setTimeout(again, AGAIN_MS);
      return;
    }
    const present = problem.body?.present;
    if (problem.status === 412 && present) {
      await this.#conflict(present);
      return;
    }
    const shown = (problem.errors ?? []).map((one) => this.#fault((one.field ?? "").split(".").at(-1), one.rule)).filter(Boolean);
    this.say(`Not saved. ${shown.length ? "Check the marked fields." : problem.detail || problem.message}`, "bad");
    this.box.querySelector('[aria-invalid="true"]')?.focus();
  }

  // A photo is a revision of its own: where the fields are those that were read, the edit goes on from the newest one.
  async #refresh() {
    const site = await ask(at(this.id));
    if (site.site_id !== this.id || differing(this.base, typedOf(site)).length) return;
    this.#stands(site);
    this.onSaved(site);
  }

  #stands(site) {
    this.site = site;
    this.revision = site.revision;
    if (this.drafts.get(this.id)) this.drafts.put(this.id, { base: this.base, revision: site.revision, fields: this.typed });
  }

  async #conflict(present) {
    const theirs = typedOf(present);
    if (differing(theirs, this.base).length === 0) {
      this.#stands(present);
      await this.save();
      return;
    }
    if (differing(theirs, this.typed).length === 0) {
      this.#saved(this.id, present, "Saved; it takes effect in the next answer.");
      return;
    }
    const chosen = await settle({ base: this.base, theirs, yours: this.typed, present });
    if (chosen === null) {
      this.say("Not saved: somebody else has changed this site. What you typed is kept; save again to see both versions.", "bad");
      return;
    }
    this.site = present;
    this.base = theirs;
    this.revision = present.revision;
    this.typed = chosen;
    this.drafts.put(this.id, { base: theirs, revision: present.revision, fields: chosen });
    this.#draw();
    await this.save();
  }

  async #step(step, query = "") {
    const { site } = this;
    if (differing(this.base, this.typed).length) {
      this.say("Save or discard your changes first.", "bad");
      return;
    }
    const [method, rest, words] = { undo: ["POST", `/undo${query}`, "Restored; the undone change stays in the history."], retire: ["DELETE", "", "Retired: it no longer has any effect. Its history stays, and it can be restored."], restore: ["POST", "/restore", "Restored: it takes effect again."] }[step];
    try {
      this.#saved(site.site_id, await ask(at(site.site_id, rest), { method, headers: tag(site.revision) }), words);
    } catch (problem) {
      if (problem.status === 412 && problem.body?.present) {
        this.open(problem.body.present);
        this.onSaved(problem.body.present);
        this.say("Somebody else has changed this site; this is the current version. Check it, then try again if you still want the change.", "bad");
      } else this.say(problem.status === 0 ? "The service does not answer. Nothing was changed; try again." : `${problem.message}. ${problem.detail}`, "bad");
    }
  }
}
