// The ranked list beside the map, and the waters that are not in it with their reasons.

import { by, make, replace } from "./elements.js";
import { kindOf, methodWord, sign } from "./kinds.js";
import { figure, minutes, percent } from "./units.js";

export function kindsOf(answer) {
  const kinds = new Map();
  for (const one of answer.sources) {
    const methods = [one.assessment, ...(one.other_methods ?? [])];
    kinds.set(one.body_id, kindOf(Object.fromEntries(methods.map((method) => [method.method, method.verdict]))));
  }
  for (const one of answer.excluded) kinds.set(one.body_id, one.verdict === "survey first" ? "survey" : "no");
  for (const [id, verdicts] of Object.entries(answer.today ?? {})) if (!kinds.has(id)) kinds.set(id, kindOf(verdicts));
  return kinds;
}

export function showRows(answer, { onOpen, onPoint }) {
  const sure = new Map((answer.certainty?.sources ?? []).map((one) => [one.body_id, one]));
  const rows = answer.sources.map((source) => {
    const { cycle } = source;
    const certain = sure.get(source.body_id);
    const label = `${source.rank}. ${source.name}`;
    return make(
      "li",
      { class: "row", "data-body": source.body_id },
      make(
        "button",
        { type: "button", class: "row-open", "aria-label": `${label}: open the whole breakdown`, onclick: () => onOpen(source), onfocus: () => onPoint(source), onmouseenter: () => onPoint(source) },
        make("span", { class: "rank", text: source.rank }),
        make("span", { class: "row-name" }, make("strong", { text: source.name }), make("span", { class: "method" }, make("span", { class: "sign", html: sign(cycle.method === "ram_intake" ? "ram" : "hover", 20) }), methodWord(cycle.method))),
        make("span", { class: "big", text: `${figure("volume", cycle.litres_per_hour)}/h` }),
        make("span", { class: "small", text: `${minutes(cycle.round_trip_s)} round trip, ${figure("volume", cycle.litres)} a load${source.assessment.litres_ruled_by === "tank" ? "" : ` (the ${source.assessment.litres_ruled_by} rules)`}` }),
        certain ? make("span", { class: "sure" }, make("span", { class: "meter", style: `--share:${certain.best}` }), make("span", { text: `best ${percent(certain.best)}, first three ${percent(certain.first_three)}` })) : null,
        source.cautions.length ? make("span", { class: "row-caution", text: `⚠ ${source.cautions[0]}${source.cautions.length > 1 ? ` (+${source.cautions.length - 1})` : ""}` }) : null,
      ),
    );
  });
  const held = document.activeElement?.closest?.(".row")?.dataset.body; // who tabs through the list is not thrown out of it
  replace(by("rows"), rows.length ? rows : make("li", { class: "none", text: "No water of the region can be used for this. The list below says why, water by water." }));
  if (held) by("rows").querySelector(`[data-body="${CSS.escape(held)}"] .row-open`)?.focus({ preventScroll: true });
}

export function showExcluded(answer, onOpen) {
  const box = by("excluded");
  box.hidden = answer.excluded.length === 0;
  const survey = answer.excluded.filter((one) => one.verdict === "survey first").length;
  box.querySelector("summary").textContent = `${answer.excluded.length} waters not in the list${survey ? `, ${survey} of them need a survey first` : ""}`;
  replace(
    box.querySelector("ul"),
    answer.excluded.map((one) => make("li", {}, make("button", { type: "button", class: "excluded-open", onclick: () => onOpen(one) }, make("span", { class: "sign", html: sign(one.verdict === "survey first" ? "survey" : "no", 18) }), make("strong", { text: one.name }), make("span", { class: "reason", text: one.reason })))),
  );
}

const MOST_OTHERS = 300;

// Waters that can be used but do not stand in the list, with the bound of those that were passed over.
export function showOthers(answer, kinds, names, onOpen) {
  const box = by("others");
  const listed = new Set([...answer.sources, ...answer.excluded].map((one) => one.body_id));
  const most = new Map((answer.unrefined ?? []).map((one) => [one.body_id, one.most_litres_per_hour]));
  const others = [...names].filter(([id]) => !listed.has(id) && ["both", "ram", "hover"].includes(kinds.get(id)));
  box.hidden = others.length === 0;
  box.querySelector("summary").textContent = `${others.length.toLocaleString("en")} more waters can be used, but deliver less`;
  const reason = (id) => (most.has(id) ? `at best ${figure("volume", most.get(id))} an hour; not worked out further` : "worked out; below the first of the list");
  replace(
    box.querySelector("ul"),
    others.slice(0, MOST_OTHERS).map(([id, name]) => make("li", {}, make("button", { type: "button", class: "excluded-open", onclick: () => onOpen(id) }, make("span", { class: "sign", html: sign(kinds.get(id), 18) }), make("strong", { text: name }), make("span", { class: "reason", text: reason(id) })))),
  );
}

export function waysOf(source) {
  const legs = [{ geometry: source.cycle.loaded_leg.route, empty: false }, { geometry: source.cycle.empty_leg.route, empty: true }];
  return { legs: legs.filter((leg) => leg.geometry), run: source.run_line };
}
