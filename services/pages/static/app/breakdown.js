// One water opened: why it stands where it does, redone from the figures that the service printed.

import { by, make, replace } from "./elements.js";
import { depthAlong, rose, sideView, tripBar } from "./charts.js";
import { methodWord } from "./kinds.js";
import { ask } from "./service.js";
import { dialogHead } from "./switches.js";
import { bearing, figure, minutes, percent, sentence, sentencesSaid } from "./units.js";

const row = (name, value) => make("tr", {}, make("th", { scope: "row", text: name }), make("td", { text: value }));
const list = (items) => make("ul", {}, items.map((text) => make("li", { text: sentence(text) })));

function legTable(name, leg, variationDeg) {
  const rows = [
    row("time", `${minutes(leg.time_s)} over ${figure("distance", leg.distance_m, 2)}`),
    ...leg.segments.map((part, i) => row(`segment ${i + 1}`, `${figure("distance", part.distance_m, 2)} on ${bearing(part.track_true_deg, variationDeg)} at ${figure("speed", part.ground_speed_ms)} over the ground: ${minutes(part.time_s)}`)),
    row("climb and descent", `climb of ${figure("height", leg.climb_m)} takes ${minutes(leg.climb_extra_s)} extra; descent takes ${minutes(leg.descent_extra_s)} extra${leg.circling?.length ? "; it sets the time of this leg: another wind changes it little" : ""}`),
    ...(leg.turns_s > 0 ? [row("turns", `sharper than 60°: ${minutes(leg.turns_s)} extra`)] : []),
    row("minimum safe altitude", `${figure("height", leg.safe_altitude_m)}: ${sentence(leg.highest_what)}`),
  ];
  return [make("h4", { text: name }), make("table", { class: "figures" }, make("tbody", {}, rows)), leg.cautions.length ? list(leg.cautions) : null];
}

// withCautions: false where the cautions of this method stand below under their own heading
function criteria(assessment, withCautions) {
  const rows = assessment.criteria.map((one) => make("tr", { class: `state-${one.state.replace(" ", "-")}` }, make("th", { scope: "row", text: one.name }), make("td", { class: "state", text: one.state }), make("td", { text: sentence(one.reason) })));
  return [make("h4", { text: `${methodWord(assessment.method)}: ${assessment.verdict}` }), make("table", { class: "figures criteria" }, make("tbody", {}, rows)), withCautions && assessment.cautions.length ? make("div", { class: "caution-list" }, list(assessment.cautions)) : null];
}

// The loads of one tank of fuel: each grows as fuel burns, up to what the tank, the run or the structure takes.
function loadTable(fuel) {
  const head = ["load", "fuel at the fill", "water", "limited by", "in all", "dropped after"];
  const rows = fuel.table.map((one) => make("tr", {}, make("th", { scope: "row", text: String(one.number) }), ...[
    figure("volume", one.fuel_l), figure("volume", one.litres), one.ruled_by, one.gross_kg === null ? "not weighed" : `${Math.round(one.gross_kg).toLocaleString("en")} kg`, minutes(one.dropped_s),
  ].map((text) => make("td", { text }))));
  const titles = make("tr", {}, head.map((text) => make("th", { scope: "col", text })));
  return [make("h3", { text: "Loads of one tank of fuel" }), make("table", { class: "figures loads" }, make("thead", {}, titles), make("tbody", {}, rows))];
}

function sourceParts(source, certainty, above) {
  const { cycle, fuel, conditions } = source;
  const sure = certainty?.sources?.find((one) => one.body_id === source.body_id);
  return [
    make("p", { class: "why", text: above ? `Number ${source.rank}, after ${above.name}: ${sentence(source.reason)}.` : `Number ${source.rank}: ${sentence(source.reason)}. No other source delivers more over that time.` }),
    make("h3", { text: "Where the time goes" }),
    tripBar(cycle),
    make("table", { class: "figures" }, make("tbody", {}, [
      row("round trip", minutes(cycle.round_trip_s)),
      row("first load", `${figure("volume", cycle.litres)}, limited by the ${source.assessment.litres_ruled_by}`),
      row("such loads per hour", cycle.loads_per_hour.toFixed(1)),
      row("litres per hour by it", figure("volume", cycle.litres_per_hour)),
      ...(fuel ? [row("with refuelling", `${figure("volume", fuel.long_run_litres_per_hour)} per hour; ${fuel.loads} loads, ${figure("volume", fuel.litres)} per fuel cycle; ${sentence(fuel.note)}`)] : []),
      ...(sure ? [row("certainty", `best ${percent(sure.best)}, among the first three ${percent(sure.first_three)}, can be used ${percent(sure.available)}`)] : []),
      row("air at the water", sentence(conditions.reason)),
      ...(source.assessment.loads_available ? [row("water for", `${Math.floor(source.assessment.loads_available).toLocaleString("en")} loads`)] : []),
    ])),
    ...(fuel?.table?.length ? loadTable(fuel) : []),
    make("h3", { text: "Legs" }),
    ...legTable("Loaded, to the fire", cycle.loaded_leg, conditions.variation_deg),
    ...legTable("Empty, back to the water", cycle.empty_leg, conditions.variation_deg),
  ];
}

function levels(survey) {
  const change = survey.level_change_m?.value;
  return [
    row("kind", survey.kind),
    row("water level", `${figure("height", survey.surface_elevation_m.value)} (${survey.surface_elevation_m.origin})`),
    ...(change ? [row("change from full level", `${figure("depth", change, 1)}`)] : []),
    row("salinity", sentence(survey.salinity_reason)),
    ...(survey.mean_depth_m.value !== null ? [row("mean depth", `${figure("depth", survey.mean_depth_m.value)} (${survey.mean_depth_m.origin})`)] : []),
    ...survey.level_outlooks.map((one) => row("depth by level", sentence(one.sentence))),
    ...(survey.next_sounding ? [row("next sounding", sentence(survey.next_sounding.sentence))] : []),
    ...(survey.greatest_depth ? [row("unsounded part", sentence(survey.greatest_depth))] : []),
  ];
}

export class Breakdown {
  constructor() {
    this.dialog = by("breakdown");
    this.dialog.addEventListener("click", (event) => {
      if (event.target === this.dialog) this.dialog.close();
    });
    this.dialog.addEventListener("close", () => { this.waitsFor = null; });
    this.waitsFor = null; // the water that was opened before the whole answer stood
  }

  wait(id, name) {
    this.current = id;
    this.waitsFor = id;
    replace(this.dialog, dialogHead(this.dialog, "breakdown-title", name), make("p", { class: "busy", role: "status", text: "The full answer is on its way; this opens when it arrives." }));
    if (!this.dialog.open) this.dialog.showModal();
  }

  // A fill station has no survey. what: { id, name, station?, source?, excluded?, passed?, above?, certainty?, windDeg, sheet? }; sheet: address of its PDF
  async open(what) {
    const { id, name, station, source, excluded, passed, above, certainty, windDeg, sheet } = what;
    this.current = id;
    this.waitsFor = null;
    const survey = make("div", { class: "survey" }, make("p", { class: "busy", text: "Reading the survey of this water …" }));
    const assessments = source ? [source.assessment, ...(source.other_methods ?? [])] : (excluded?.assessments ?? []);
    replace(
      this.dialog,
      dialogHead(this.dialog, "breakdown-title", name),
      source ? sourceParts(source, certainty, above) : make("p", { class: "why", text: excluded ? `Not in the list: ${sentence(excluded.reason)}` : passed ?? "No question has been asked of this water yet." }),
      assessments.length ? make("h3", { text: "Checks" }) : null,
      assessments.flatMap((one) => criteria(one, one !== source?.assessment)),
      source?.cautions?.length ? make("div", { class: "caution-list" }, make("h3", { text: "Cautions here" }), list(source.cautions)) : null,
      sheet ? make("p", {}, make("a", { class: "sheet-link", href: sheet, target: "_blank", text: "Sheet of this water to print (PDF)" })) : null,
      station ? null : survey,
      sentencesSaid() ? make("p", { class: "hint", text: sentencesSaid() }) : null,
    );
    if (!this.dialog.open) this.dialog.showModal();
    this.dialog.scrollTop = 0;
    if (station) return;
    try {
      const found = await ask(`water-bodies/${encodeURIComponent(id)}`);
      if (this.current !== id) return;
      const chosen = source?.assessment?.run_heading_true_deg ?? null;
      const line = source?.run_line ?? assessments.find((one) => one.run_line)?.run_line ?? found.usable_runs?.[0]?.line ?? found.longest_run?.line;
      const roseRuns = found.heading_runs ?? [];
      replace(
        survey,
        line ? make("h3", { text: "The run in side view" }) : null,
        line ? make("figure", { class: "side" }, make("p", { class: "busy", text: "Drawing …" })) : null,
        roseRuns.length ? make("h3", { text: "Longest run by heading" }) : null,
        roseRuns.length ? rose(roseRuns, chosen, windDeg ?? null) : null,
        make("h3", { text: "The water" }),
        make("table", { class: "figures" }, make("tbody", {}, levels(found))),
        found.remarks.length ? list(found.remarks) : null,
      );
      if (line) await this.#side(survey.querySelector("figure"), id, line);
    } catch (problem) {
      if (this.current === id) replace(survey, make("p", { class: "failed", text: `${problem.message} ${problem.detail ?? ""}` }));
    }
  }

  async #side(figureElement, id, line) {
    const places = line.coordinates.map((place) => place.slice(0, 2).join(" ")).join(",");
    const view = await ask(`water-bodies/${encodeURIComponent(id)}/side-view?line=${encodeURIComponent(places)}`);
    if (this.current !== id) return;
    replace(
      figureElement,
      sideView(view),
      make("figcaption", { text: `Slanting lines: the surfaces that must be clear, rising ${(view.slope * 100).toFixed(1)} %. Grey: highest ground across their width. ${view.note[0].toUpperCase()}${view.note.slice(1)}.` }),
      make("h4", { text: "Depth along the run" }),
      depthAlong(view),
      make("figcaption", { text: view.depth_along_m.length ? `Line: the expected bed; band: two standard deviations to either side (${view.depth_origin}).` : `${view.depth_origin}.` }),
    );
  }
}
