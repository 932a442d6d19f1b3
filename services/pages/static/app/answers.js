// The ranked list beside the map, and the waters that are not in it with their reasons.

import { by, make, put, replace } from "./elements.js";
import { kindOf, methodWord, sign } from "./kinds.js";
import { figure, minutes, percent, sentence } from "./units.js";

const counted = (count, more = "") => `${count.toLocaleString("en")} ${more}${count === 1 ? "water" : "waters"}`;

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

// One water of the list. It is made once; after that only what another answer says otherwise is written anew, so that
// ten answers a second cost little and who tabs through the list is not thrown out of it.
class Row {
  constructor(id) {
    this.name = make("strong");
    this.sign = make("span", { class: "sign" });
    this.method = make("span");
    this.rank = make("span", { class: "rank" });
    this.rate = make("span", { class: "big" });
    this.trip = make("span", { class: "small" });
    this.meter = make("span", { class: "meter" });
    this.chance = make("span");
    this.sure = make("span", { class: "sure" }, this.meter, this.chance);
    this.caution = make("span", { class: "row-caution" });
    this.button = make(
      "button",
      { type: "button", class: "row-open", onclick: () => this.onOpen(this.source), onfocus: () => this.onPoint(this.source), onmouseenter: () => this.onPoint(this.source) },
      this.rank, make("span", { class: "row-name" }, this.name, make("span", { class: "method" }, this.sign, this.method)), this.rate, this.trip, this.sure, this.caution,
    );
    this.element = make("li", { class: "row", "data-body": id }, this.button);
  }

  show(source, certain, { onOpen, onPoint }) {
    Object.assign(this, { source, onOpen, onPoint });
    const { cycle, assessment, cautions } = source;
    const label = `${source.rank}. ${source.name}: open the full breakdown`;
    if (this.label !== label) {
      this.label = label;
      this.button.setAttribute("aria-label", label);
    }
    if (this.shownMethod !== cycle.method) {
      this.shownMethod = cycle.method;
      this.sign.innerHTML = sign({ ram_intake: "ram", ground_hose: "hose" }[cycle.method] ?? "hover", 20);
    }
    put(this.rank, source.rank);
    put(this.name, source.name);
    put(this.method, `${methodWord(cycle.method)}${(assessment.agent ?? "water") === "water" ? "" : `, ${assessment.agent}`}`);
    put(this.rate, `${figure("volume", source.fuel.sustained_litres_per_hour)}/h`);
    put(this.trip, `${minutes(cycle.round_trip_s)} round trip, first load ${figure("volume", cycle.litres)}${assessment.litres_ruled_by === "tank" ? "" : ` (limited by the ${assessment.litres_ruled_by})`}, ${source.fuel.loads} load${source.fuel.loads === 1 ? "" : "s"} per fuel cycle`);
    this.sure.hidden = !certain;
    if (certain) {
      this.meter.style.setProperty("--share", certain.best);
      put(this.chance, `best ${percent(certain.best)}, first three ${percent(certain.first_three)}`);
    }
    this.caution.hidden = !cautions.length;
    put(this.caution, cautions.length ? `⚠ ${sentence(cautions[0])}${cautions.length > 1 ? ` (+${cautions.length - 1})` : ""}` : "");
  }
}

const rows = new Map();

export function showRows(answer, handlers) {
  const sure = new Map((answer.certainty?.sources ?? []).map((one) => [one.body_id, one]));
  const wanted = answer.sources.map((source) => {
    const { body_id: id } = source;
    if (!rows.has(id)) rows.set(id, new Row(id));
    rows.get(id).show(source, sure.get(id), handlers);
    return rows.get(id).element;
  });
  if (!wanted.length) wanted.push(make("li", { class: "none", text: "No water in the region can be used for this fire. The list below gives the reason for each one." }));
  const list = by("rows");
  const listed = new Set(answer.sources.map((one) => one.body_id));
  for (const id of rows.keys()) if (!listed.has(id)) rows.delete(id);
  if (wanted.length === list.children.length && wanted.every((one, i) => one === list.children[i])) return;
  const held = list.contains(document.activeElement) ? document.activeElement : null;
  replace(list, wanted);
  if (held?.isConnected) held.focus({ preventScroll: true });
}
export function showExcluded(answer, onOpen) {
  const box = by("excluded");
  box.hidden = answer.excluded.length === 0;
  const survey = answer.excluded.filter((one) => one.verdict === "survey first").length;
  box.querySelector("summary").textContent = `${counted(answer.excluded.length)} not in the list${survey ? `, ${survey} of them need a survey first` : ""}`;
  replace(
    box.querySelector("ul"),
    answer.excluded.map((one) => make("li", {}, make("button", { type: "button", class: "excluded-open", onclick: () => onOpen(one) }, make("span", { class: "sign", html: sign(one.verdict === "survey first" ? "survey" : "no", 18) }), make("strong", { text: one.name }), make("span", { class: "reason", text: sentence(one.reason) })))),
  );
}

const MOST_OTHERS = 300;

// Waters that can be used but are not in the list, with the bound of those that were not worked out.
export function showOthers(answer, kinds, names, onOpen) {
  const box = by("others");
  const listed = new Set([...answer.sources, ...answer.excluded].map((one) => one.body_id));
  const most = new Map((answer.unrefined ?? []).map((one) => [one.body_id, one.most_litres_per_hour]));
  const others = [...names].filter(([id]) => !listed.has(id) && ["both", "ram", "hover"].includes(kinds.get(id)));
  box.hidden = others.length === 0;
  box.querySelector("summary").textContent = `${counted(others.length, "more ")} can be used, but deliver${others.length === 1 ? "s" : ""} less`;
  const reason = (id) => (most.has(id) ? `at best ${figure("volume", most.get(id))} per hour; not worked out further` : "evaluated; ranks below the list");
  replace(
    box.querySelector("ul"),
    others.slice(0, MOST_OTHERS).map(([id, name]) => make("li", {}, make("button", { type: "button", class: "excluded-open", onclick: () => onOpen(id) }, make("span", { class: "sign", html: sign(kinds.get(id), 18) }), make("strong", { text: name }), make("span", { class: "reason", text: reason(id) })))),
  );
}

export function waysOf(source) {
  const legs = [{ geometry: source.cycle.loaded_leg.route, empty: false }, { geometry: source.cycle.empty_leg.route, empty: true }];
  const { fill_point: point, ways } = source.assessment;
  const hover = point && !["ram_intake", "ground_hose"].includes(source.cycle.method) ? { point, ways: ways ?? null } : null;
  return { legs: legs.filter((leg) => leg.geometry), run: source.run_line, hover };
}
