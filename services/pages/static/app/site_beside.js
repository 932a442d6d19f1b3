// What stands beside the form of a site: its photos and its history.

import { make, replace } from "./elements.js";
import { ask } from "./service.js";
import { differing, typedOf, wordsOf } from "./site_fields.js";
import { moment } from "./units.js";

const at = (id, rest) => `sites/${encodeURIComponent(id)}/${rest}`;

export function photoPart(site, say, onChanged) {
  const list = make("ul", { class: "photos" });
  const caption = make("input", { type: "text", id: "photo-caption", maxlength: 500 });
  const taken = make("input", { type: "date", id: "photo-taken" });
  const file = make("input", { type: "file", id: "photo-file", accept: "image/jpeg,image/png,image/webp" });
  const fail = (problem) => say(problem.status === 0 ? "The service does not answer; the photo was not sent. Try again." : `${problem.message}. ${problem.detail}`, "bad");
  const show = async () => {
    const photos = await ask(at(site.site_id, "photos"));
    replace(list, photos.map((one) => make("li", {},
      make("a", { href: `photos/${one.photo_id}` }, make("img", { src: `photos/${one.photo_id}`, alt: one.caption || `photo of ${site.name}`, loading: "lazy" })),
      make("span", { class: "hint", text: [one.caption, one.taken_on].filter(Boolean).join(", ") }),
      make("button", { type: "button", class: "plain", "aria-label": `Remove the photo ${one.caption || ""}`, text: "Remove", onclick: () => ask(`photos/${one.photo_id}`, { method: "DELETE" }).then(show).then(onChanged).catch(fail) }))));
  };
  const add = async () => {
    if (!file.files.length) {
      say("Choose a picture first: JPEG, PNG or WebP.", "bad");
      file.focus();
      return;
    }
    const query = new URLSearchParams();
    if (caption.value.trim()) query.set("caption", caption.value.trim());
    if (taken.value) query.set("taken_on", taken.value);
    try {
      await ask(at(site.site_id, `photos${query.size ? `?${query}` : ""}`), { method: "POST", file: file.files[0] });
      file.value = caption.value = taken.value = "";
      await show();
      say("The photo is saved.", "good");
      onChanged();
    } catch (problem) {
      fail(problem);
    }
  };
  show().catch(fail);
  return make("section", { "aria-label": "Photos" }, make("h3", { text: "Photos" }), list,
    make("fieldset", {}, make("legend", { text: "Add a photo" }), make("label", { class: "wide" }, "Picture", file), make("label", {}, "Caption", caption), make("label", {}, "Taken on", taken),
      make("button", { type: "button", class: "plain", id: "photo-add", text: "Upload the picture", onclick: add })));
}

export function changeList(site, bringBack) {
  const list = make("ol", { class: "changes" });
  const line = (one) => {
    const names = one.before ? differing(typedOf(one.before), typedOf(one.after)) : [];
    const what = names.map((name) => `${wordsOf(name)}: ${typedOf(one.before)[name] || "(empty)"} → ${typedOf(one.after)[name] || "(empty)"}`).join("; ");
    return make("li", {}, make("strong", { text: `Revision ${one.revision}, ${one.action}` }), ` by ${one.changed_by}, ${moment(one.changed_at)}`, what ? make("div", { class: "hint", text: what }) : null,
      one.revision < site.revision && !site.retired ? make("button", { type: "button", class: "plain", text: `Restore revision ${one.revision}`, onclick: () => bringBack(one.revision) }) : null);
  };
  ask(at(site.site_id, "history")).then((changes) => replace(list, changes.map(line)), () => replace(list, make("li", { text: "The history failed to load; select the site again." })));
  return make("section", { "aria-label": "History" }, make("h3", { text: "History" }), list);
}
