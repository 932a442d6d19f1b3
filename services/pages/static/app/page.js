// The map page: what is asked, the answer, and nothing that the service did not say.

import { kindsOf, showExcluded, showRows, waysOf } from "./answers.js";
import { Breakdown } from "./breakdown.js";
import { by, make, replace } from "./elements.js";
import { FireInput } from "./fire_input.js";
import { KINDS, sign } from "./kinds.js";
import { WaterMap } from "./map.js";
import { Question } from "./question.js";
import { ask, Problem } from "./service.js";
import { chooseClock, chooseUnits, clockIsUtc, moment, SYSTEMS, unitsChosen } from "./units.js";

const TOP = 10;
const REST_MS = 250; // a typed change is asked when nothing more is typed for so long
const AGAIN_MS = 4000;

class Page {
  constructor() {
    this.breakdown = new Breakdown();
    this.map = new WaterMap("map", { onWater: (id) => this.#openWater(id) });
    this.question = new Question((kind) => this.#asked(kind));
    new FireInput(this.map, this.question, (words) => this.#say(words));
    this.names = new Map();
    this.#switches();
    this.#legend();
  }

  async start() {
    try {
      this.region = await ask("region");
    } catch (problem) {
      this.#failed(problem);
      setTimeout(() => this.start(), AGAIN_MS);
      return;
    }
    by("region-name").textContent = this.region.name;
    this.question.choices(this.region);
    this.question.show();
    const quiet = (path) => ask(path).catch(() => null);
    const [waters, relief, contours, background] = await Promise.all([ask("water-bodies"), quiet("basemap/relief"), quiet("basemap/contours"), quiet("basemap/tiles")]);
    this.names = new Map(waters.features.map((one) => [one.properties.body_id, one.properties.name]));
    this.map.background(relief, contours);
    if (background?.address) this.map.tiles(background.address);
    this.map.showWaters(waters);
    await this.#ask();
  }

  #asked(kind) {
    clearTimeout(this.waiting);
    this.map.showFire(this.question.own?.geometry ?? null);
    if (kind === "drag") {
      if (!this.busy) this.#ask(true);
      else this.again = true;
      return;
    }
    this.waiting = setTimeout(() => this.#ask(), kind === "submit" ? 0 : REST_MS);
  }

  // While the wind is dragged one question is under way at a time, and the newest wind is asked next.
  async #ask(dragging = false) {
    if (!this.question.ready) {
      replace(by("state"), "Give a fire: draw it, click a point, open a file or type a position.");
      return;
    }
    this.busy?.abort();
    const asking = new AbortController();
    this.busy = asking;
    this.again = false;
    by("answers").setAttribute("aria-busy", "true");
    try {
      const answer = await ask(dragging ? "answers" : "rankings", { method: "POST", body: this.question.body(TOP), signal: asking.signal });
      if (this.busy === asking) this.#show(answer);
    } catch (problem) {
      if (problem.name !== "AbortError" && this.busy === asking) this.#failed(problem);
    } finally {
      if (this.busy === asking) {
        this.busy = null;
        by("answers").removeAttribute("aria-busy");
        if (this.again) this.#ask(true);
      }
    }
  }

  #show(answer) {
    this.answer = answer;
    by("problem").hidden = true;
    const kinds = kindsOf(answer);
    this.map.showAnswer(kinds, new Map(answer.sources.map((one) => [one.body_id, one.rank])));
    if (answer.fire) this.map.showFire(answer.fire);
    replace(by("state"), `${answer.fire_name}, ${answer.aircraft}: ${answer.sources.length ? `the first ${answer.sources.length} waters` : "no water can be used"}`);
    showRows(answer, kinds, { onOpen: (source) => this.#openSource(source), onPoint: (source) => this.#point(source) });
    showExcluded(answer, (one) => this.#openExcluded(one));
    if (answer.sources.length) this.#point(answer.sources[0]);
    else this.map.showWays([], null);
    replace(
      by("kept"),
      answer.ranking_id
        ? make("p", { class: "hint" }, "Kept as ", make("a", { href: `rankings/${answer.ranking_id}`, text: answer.ranking_id }), answer.asked_at ? `, ${moment(answer.asked_at)}` : "", ". ", make("a", { href: `rankings/${answer.ranking_id}/sheet.pdf`, text: "Sheet (PDF)" }))
        : null,
    );
  }

  #point(source) {
    const { legs, run } = waysOf(source);
    this.map.showWays(legs, run);
    for (const row of document.querySelectorAll(".row")) row.classList.toggle("pointed", row.dataset.body === source.body_id);
  }

  #openSource(source) {
    this.#point(source);
    const { sources, certainty } = this.answer;
    const above = sources.find((one) => one.rank === source.rank - 1);
    this.breakdown.open({ id: source.body_id, name: source.name, source, above, certainty, windDeg: this.question.values.wind_from_deg });
  }

  #openExcluded(excluded) {
    this.breakdown.open({ id: excluded.body_id, name: excluded.name, excluded, windDeg: this.question.values.wind_from_deg });
  }

  #openWater(id) {
    const source = this.answer?.sources.find((one) => one.body_id === id);
    if (source) return this.#openSource(source);
    const excluded = this.answer?.excluded.find((one) => one.body_id === id);
    return this.breakdown.open({ id, name: this.names.get(id) ?? id, excluded, windDeg: this.question.values.wind_from_deg });
  }

  #say(words) {
    by("map-message").textContent = words;
    by("map-message").hidden = !words;
  }

  #failed(problem) {
    const faults = problem instanceof Problem ? problem.errors : [];
    const box = by("problem");
    box.hidden = false;
    replace(box, make("strong", { text: problem.message }), make("p", { text: problem.detail ?? "" }), faults.length > 1 ? make("ul", {}, faults.map((one) => make("li", { text: `${one.field ? `${one.field}: ` : ""}${one.rule ?? ""} ${one.cure ?? ""}` }))) : null);
    if (problem.status === 0) {
      clearTimeout(this.waiting);
      this.waiting = setTimeout(() => this.#ask(), AGAIN_MS);
    }
  }

  #switches() {
    replace(by("units"), Object.entries(SYSTEMS).map(([name, system]) => make("option", { value: name, text: system.label })));
    by("units").value = unitsChosen();
    this.map.units(unitsChosen());
    by("units").addEventListener("change", () => {
      chooseUnits(by("units").value);
      this.map.units(unitsChosen());
      this.question.show();
      if (this.answer) this.#show(this.answer);
    });
    by("clock").value = clockIsUtc() ? "utc" : "local";
    by("clock").addEventListener("change", () => {
      chooseClock(by("clock").value);
      if (this.answer) this.#show(this.answer);
    });
    const wanted = localStorage.getItem("fetchwater.theme") ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light");
    const theme = (dark) => {
      document.documentElement.dataset.theme = dark ? "dark" : "light";
      by("theme").setAttribute("aria-pressed", String(dark));
      this.map.theme(dark);
    };
    theme(wanted === "dark");
    by("theme").addEventListener("click", () => {
      const dark = document.documentElement.dataset.theme !== "dark";
      localStorage.setItem("fetchwater.theme", dark ? "dark" : "light");
      theme(dark);
    });
    by("all-cautions").addEventListener("click", () => {
      const words = [...(this.answer?.cautions ?? []), ...(this.region?.cautions ?? [])];
      replace(by("cautions"), make("div", { class: "dialog-head" }, make("h2", { id: "cautions-title", text: "Cautions" }), make("button", { type: "button", class: "close", "aria-label": "Close", text: "✕", onclick: () => by("cautions").close() })), make("ul", {}, words.map((text) => make("li", { text }))));
      by("cautions").showModal();
    });
    document.addEventListener("click", (event) => {
      if (by("fire-menu").open && !by("fire-menu").contains(event.target)) by("fire-menu").open = false;
    });
    if (matchMedia("(max-width: 700px)").matches) document.querySelector(".legend").open = false;
  }

  #legend() {
    const shown = ["both", "ram", "hover", "survey", "no"];
    replace(by("legend"), shown.map((kind) => make("li", {}, make("span", { class: "sign", html: sign(kind, 20) }), KINDS[kind].word)));
  }
}

new Page().start();
