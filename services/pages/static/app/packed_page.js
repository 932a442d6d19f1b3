// The page of a field package: one kept answer to be read from disk. It asks nobody and computes nothing.

import { kindsOf, showExcluded, showRows, waysOf } from "./answers.js";
import { Breakdown } from "./breakdown.js";
import { by, make, replace } from "./elements.js";
import { foldLegend, showLegend } from "./legend.js";
import { WaterMap } from "./map.js";
import { dialogHead, switches } from "./switches.js";
import { figure, moment, sentence } from "./units.js";

const data = window.FETCHWATER_DATA;
const { answer, question } = data;
const names = new Map(data.waters.features.map((one) => [one.properties.body_id, one.properties.name]));
const breakdown = new Breakdown();
const map = new WaterMap("map", { onWater: openWater, onThing: (thing) => say(`${thing.name}: ${thing.note}`) });
const windDeg = answer.weather.wind_from_true_deg;
let pointed = null;

function say(words) {
  const box = by("map-message");
  box.hidden = !words;
  replace(box, words ? [make("span", { text: words }), make("button", { type: "button", class: "close", "aria-label": "Close this message", text: "✕", onclick: () => say("") })] : []);
}

function point(source) {
  pointed = source;
  map.showWays(waysOf(source));
  for (const row of document.querySelectorAll(".row")) row.classList.toggle("pointed", row.dataset.body === source.body_id);
}

function openSource(source) {
  point(source);
  const above = answer.sources.find((one) => one.rank === source.rank - 1);
  breakdown.open({ id: source.body_id, name: source.name, station: !names.has(source.body_id), source, above, certainty: answer.certainty, windDeg });
}

const openExcluded = (excluded) => breakdown.open({ id: excluded.body_id, name: excluded.name, station: !names.has(excluded.body_id), excluded, windDeg });

function openWater(id) {
  const source = answer.sources.find((one) => one.body_id === id);
  if (source) return openSource(source);
  const excluded = answer.excluded.find((one) => one.body_id === id);
  return excluded ? openExcluded(excluded) : say(`${names.get(id) ?? id}: this answer says nothing about this water.`);
}

function asked() {
  const { weather } = answer;
  const wind = weather.wind_ms > 0 ? `wind from ${Math.round(windDeg)}° true at ${figure("speed", weather.wind_ms)}` : "calm";
  const read = `${figure("temperature", weather.oat_c)} at ${figure("height", weather.station_elevation_m)}, QNH ${figure("pressure", weather.qnh_hpa)}`;
  const day = weather.day ? `closures in force on ${weather.day}` : "no date given: all closures apply";
  replace(by("asked"), make("strong", { text: `${answer.fire_name}, ${answer.aircraft}: ` }), make("span", { text: `${wind}; ${read}; ${day}` }));
  replace(by("kept"), make("p", { class: "hint", text: `Answer ${data.ranking_id}, kept ${moment(data.asked_at)}; survey ${data.survey_key}. This copy does not change; levels, closures and fires do.` }), make("p", { class: "hint" }, make("a", { href: "README.html", text: "What is in this package" })));
}

function show() {
  const kinds = kindsOf(answer);
  map.showAnswer(kinds, new Map(answer.sources.map((one) => [one.body_id, one.rank])));
  asked();
  replace(by("state"), answer.sources.length ? `${answer.sources.length} waters, the best first` : "no water can be used");
  showRows(answer, { onOpen: openSource, onPoint: point });
  showExcluded(answer, openExcluded);
  const first = pointed ?? answer.sources[0];
  if (first) point(first);
}

async function drawWaters() {
  await map.showWaters(data.waters);
  map.see([question.fire.area], { withAll: true });
  document.documentElement.dataset.ready = "yes";
}

by("region-name").textContent = answer.region_name;
map.showSurroundings(data.surroundings);
map.background(data.relief, data.contours);
map.showFire(question.fire.area);
drawWaters();
showLegend(data.surroundings);
foldLegend();
switches({ onUnits: (system) => { map.units(system); show(); }, onClock: show, onTheme: (dark) => map.theme(dark) });
by("see-all").addEventListener("click", () => map.see([question.fire.area], { withAll: true }));
by("all-cautions").addEventListener("click", () => {
  replace(by("cautions"), dialogHead(by("cautions"), "cautions-title", "Cautions"), make("ul", {}, [...answer.cautions, ...data.cautions].map((text) => make("li", { text: sentence(text) }))));
  by("cautions").showModal();
});
