// Somebody else was faster: both versions side by side, and one is chosen field by field. Nothing is lost on either way.

import { by, make, replace } from "./elements.js";
import { differing, wordsOf } from "./site_fields.js";
import { dialogHead } from "./switches.js";
import { moment } from "./units.js";

// base, theirs, yours: typed texts; present: their record. Gives the chosen texts, or null to keep typing.
export function settle({ base, theirs, yours, present }) {
  const dialog = by("conflict");
  const names = differing(theirs, yours);
  const said = make("p", { class: "told bad", role: "alert" });
  const choice = (name, side, text, chosen) => make("label", { class: "pick" }, make("input", { type: "radio", name: `pick-${name}`, value: side, checked: chosen }), make("span", { text: text || "(empty)" }));
  const rows = names.map((name) => {
    const changedByThem = (base[name] ?? "") !== (theirs[name] ?? "");
    const changedByYou = (base[name] ?? "") !== (yours[name] ?? "");
    return make("tr", {},
      make("th", { scope: "row", text: wordsOf(name) }),
      make("td", { text: base[name] || "(empty)" }),
      make("td", {}, choice(name, "theirs", theirs[name], changedByThem && !changedByYou)),
      make("td", {}, choice(name, "yours", yours[name], changedByYou && !changedByThem)));
  });
  return new Promise((resolve) => {
    let answer = null;
    const chosen = (name) => dialog.querySelector(`input[name="pick-${name}"]:checked`)?.value;
    const save = () => {
      const open = names.filter((name) => !chosen(name));
      if (open.length) {
        said.textContent = `Both of you changed: ${open.map(wordsOf).join(", ")}. Choose one side for each.`;
        dialog.querySelector(`input[name="pick-${open[0]}"]`).focus();
        return;
      }
      answer = { ...theirs, ...Object.fromEntries(names.map((name) => [name, (chosen(name) === "yours" ? yours : theirs)[name]])) };
      dialog.close();
    };
    replace(
      dialog,
      dialogHead(dialog, "conflict-title", "Somebody else has changed this site"),
      make("p", { text: `${present.updated_by} saved revision ${present.revision} on ${moment(present.updated_at)}. Where only one of you changed a field, that side is chosen; check it.` }),
      said,
      make("table", { class: "sides" }, make("thead", {}, make("tr", {}, ["Field", "When you opened it", "Theirs, saved", "Yours, typed"].map((text) => make("th", { scope: "col", text })))), make("tbody", {}, rows)),
      make("div", { class: "buttons-row" },
        make("button", { type: "button", class: "main", id: "conflict-save", text: "Save the chosen values", onclick: save }),
        make("button", { type: "button", id: "conflict-later", text: "Keep editing, decide later", onclick: () => dialog.close() })),
    );
    dialog.addEventListener("close", () => resolve(answer), { once: true });
    dialog.showModal();
  });
}
