// The map page: what is asked, the answer, and nothing that the service did not say.

import { kindsOf, showExcluded, showOthers, showRows, waysOf } from "./answers.js";
import { Breakdown } from "./breakdown.js";
import { by, make, replace } from "./elements.js";
import { FireInput } from "./fire_input.js";
import { KINDS, sign } from "./kinds.js";
import { WaterMap } from "./map.js";
import { Question } from "./question.js";
import { ask, Problem } from "./service.js";
import { dialogHead, switches } from "./switches.js";
import { SURROUNDING_WORDS, surroundingSign } from "./symbols.js";
import { figure, moment } from "./units.js";

const TOP = 10;
const REST_MS = 250; // a typed change is asked when nothing more is typed for so long
const AGAIN_MS = 4000;
const UNDER_WAY = ". First look with straight ways; the whole answer is under way.";
const HELD = ". Straight ways while the wind turns; colours of waters outside the list follow when you let go.";

class Page {
  constructor() {
    this.breakdown = new Breakdown();
    this.map = new WaterMap("map", { onWater: (id) => this.#openWater(id), onThing: (thing) => this.#say(`${thing.name}: ${thing.note}`) });
    this.question = new Question((kind) => this.#asked(kind));
    new FireInput(this.map, this.question, (words) => this.#say(words));
    this.names = new Map();
    this.fires = new Map();
    this.kinds = new Map();
    this.#switches();
  }

  async start() {
    try {
      this.region = await ask("region");
    } catch (problem) {
      this.#failed(problem, () => this.start());
      return;
    }
    by("problem").hidden = true;
    by("region-name").textContent = this.region.name;
    this.question.choices(this.region);
    this.question.show();
    await this.#ask();
    await this.#drawnOnce();
  }

  // The first rows come before the map: thousands of outlines must not stand in their way.
  #drawnOnce() {
    this.drawn ??= this.#drawn();
    return this.drawn;
  }

  async #drawn() {
    const quiet = (path) => ask(path).catch(() => null);
    const version = this.region.input_fingerprint.slice(0, 12);
    const [waters, fires, things] = await Promise.all(["basemap/waters", "fires", "basemap/surroundings"].map(quiet));
    this.#legend(things);
    for (const one of fires?.features ?? []) this.fires.set(one.properties.fire_id, one.geometry);
    if (waters) {
      this.names = new Map(waters.features.map((one) => [one.properties.body_id, one.properties.name]));
      this.map.showWaters(waters);
    } else this.#say("The outlines of the waters did not come. The list is whole; load the page again for the map.");
    if (things) this.map.showSurroundings(things);
    this.#showFire();
    this.map.see([this.#fire()], { withAll: true });
    const [relief, contours, background] = await Promise.all([quiet("basemap/relief"), quiet(`basemap/contours?version=${version}`), quiet("basemap/tiles")]);
    this.map.background(relief, contours);
    if (background?.address) this.map.tiles(background.address);
  }

  #fire() {
    return this.question.own?.geometry ?? this.fires.get(this.question.values.fire) ?? null;
  }

  #showFire() {
    this.map.showFire(this.#fire());
  }

  #asked(kind) {
    clearTimeout(this.waiting);
    this.#showFire();
    if (kind === "drag") {
      if (this.busy?.dragging) this.again = true;
      else this.#ask(true);
      return;
    }
    this.waiting = setTimeout(() => this.#ask(), kind === "submit" ? 0 : REST_MS);
  }

  // While the wind is dragged one question is under way at a time, and the newest wind is asked next. At rest the quick
  // answer comes first, then the whole one in its place.
  async #ask(dragging = false) {
    if (!this.question.ready) {
      replace(by("state"), "Give a fire: draw it, click a point, open a file or type a position.");
      return;
    }
    this.busy?.abort();
    const asking = Object.assign(new AbortController(), { dragging });
    this.busy = asking;
    this.again = false;
    by("answers").setAttribute("aria-busy", "true");
    const body = this.question.body(TOP);
    const posted = async (path, sent = body) => {
      const answer = await ask(path, { method: "POST", body: sent, signal: asking.signal });
      if (this.busy !== asking) throw new DOMException("another question was asked", "AbortError");
      return answer;
    };
    try {
      this.#show(await posted("answers"), dragging ? HELD : UNDER_WAY);
      if (!dragging) {
        await this.#drawnOnce();
        this.#show(await posted("rankings"));
        const { fire, target, top, ...day } = body;
        this.#show({ ...this.answer, today: (await posted("today", day)).waters });
      }
    } catch (problem) {
      if (problem.name !== "AbortError" && this.busy === asking) this.#failed(problem, () => this.#ask());
    } finally {
      if (this.busy === asking) {
        this.busy = null;
        by("answers").removeAttribute("aria-busy");
        if (this.again) this.#ask(true);
      }
    }
  }

  // first: words on what the quick answer leaves out; with them the colours of other waters stay as they were.
  #show(answer, first = "") {
    this.answer = answer;
    this.first = first;
    by("problem").hidden = true;
    this.kinds = first ? new Map([...this.kinds, ...kindsOf(answer)]) : kindsOf(answer);
    this.map.showAnswer(this.kinds, new Map(answer.sources.map((one) => [one.body_id, one.rank])));
    replace(by("state"), `${answer.fire_name}, ${answer.aircraft}: ${answer.sources.length ? `the first ${answer.sources.length} waters` : "no water can be used"}${first}`);
    showRows(answer, { onOpen: (source) => this.#openSource(source), onPoint: (source) => this.#point(source) });
    if (!first) {
      showExcluded(answer, (one) => this.#openExcluded(one));
      showOthers(answer, this.kinds, this.names, (id) => this.#openWater(id));
    }
    const pointed = answer.sources.find((one) => one.body_id === this.pointed) ?? answer.sources[0];
    if (pointed) this.#point(pointed);
    else this.map.showWays([], null);
    replace(
      by("kept"),
      answer.ranking_id
        ? make("p", { class: "hint" }, "Kept as ", make("a", { href: `rankings/${answer.ranking_id}`, text: answer.ranking_id }), answer.asked_at ? `, ${moment(answer.asked_at)}` : "", ". ", make("a", { href: `rankings/${answer.ranking_id}/sheet.pdf`, text: "Sheet (PDF)" }))
        : null,
    );
  }

  #point(source) {
    this.pointed = source.body_id;
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
    const over = this.answer?.unrefined?.find((one) => one.body_id === id);
    let passed = over ? `Not among the first ${TOP}: at best ${figure("volume", over.most_litres_per_hour)} an hour, so it was not worked out further.` : null;
    if (!over && !excluded && ["both", "ram", "hover"].includes(this.kinds.get(id))) passed = `It can be used, but it stands below the first ${TOP}.`;
    return this.breakdown.open({ id, name: this.names.get(id) ?? id, excluded, passed, windDeg: this.question.values.wind_from_deg });
  }

  #say(words) {
    const box = by("map-message");
    box.hidden = !words;
    replace(box, words ? [make("span", { text: words }), make("button", { type: "button", class: "close", "aria-label": "Close this message", text: "✕", onclick: () => this.#say("") })] : []);
  }

  #failed(problem, again) {
    const faults = problem instanceof Problem ? problem.errors : [];
    const box = by("problem");
    box.hidden = false;
    replace(box, make("strong", { text: problem.message }), make("p", { text: problem.detail ?? "" }), faults.length > 1 ? make("ul", {}, faults.map((one) => make("li", { text: `${one.field ? `${one.field}: ` : ""}${one.rule ?? ""} ${one.cure ?? ""}` }))) : null);
    if (problem.status === 0) {
      clearTimeout(this.waiting);
      this.waiting = setTimeout(again, AGAIN_MS);
    }
  }

  #switches() {
    switches({
      onUnits: (system) => {
        this.map.units(system);
        if (this.region) this.question.show();
        if (this.answer) this.#show(this.answer, this.first);
      },
      onClock: () => this.answer && this.#show(this.answer, this.first),
      onTheme: (dark) => this.map.theme(dark),
    });
    by("all-cautions").addEventListener("click", () => {
      const words = [...(this.answer?.cautions ?? []), ...(this.region?.cautions ?? [])];
      replace(by("cautions"), dialogHead(by("cautions"), "cautions-title", "Cautions"), make("ul", {}, words.map((text) => make("li", { text }))));
      by("cautions").showModal();
    });
    by("see-all").addEventListener("click", () => this.map.see([this.#fire()], { withAll: true }));
    document.addEventListener("click", (event) => {
      if (by("fire-menu").open && !by("fire-menu").contains(event.target)) by("fire-menu").open = false;
    });
    document.querySelector(".legend").open = !matchMedia("(max-width: 1000px), (max-height: 700px)").matches;
  }

  #legend(things) {
    const item = (drawing, words) => make("li", {}, make("span", { class: "sign", html: drawing }), words);
    const there = new Set((things?.features ?? []).map((one) => one.properties.what));
    const beside = ["no flying", "no filling", "wire", "obstacle", "site", "base"].filter((what) => there.has(what));
    replace(
      by("legend"),
      ["both", "ram", "hover", "survey", "no"].map((kind) => item(sign(kind, 20), KINDS[kind].word)),
      ["fire", "loaded leg", "empty leg", ...beside].map((what) => item(surroundingSign(what, 20, "open"), SURROUNDING_WORDS[what])),
      things && !things.obstacles_listed ? make("li", { class: "unlisted", text: "No file of wires and masts was given: they are unknown, not absent." }) : null,
      things?.obstacles_left_out ? make("li", { class: "unlisted", text: `${things.obstacles_left_out.toLocaleString("en")} more obstacles are not drawn; all are judged.` }) : null,
      things ? null : make("li", { class: "unlisted", text: "Wires, closures and sites could not be drawn now." }),
    );
  }
}

new Page().start();
