// The map page: what is asked, the answer, and nothing that the service did not say.

import { kindsOf, showExcluded, showOthers, showRows, waysOf } from "./answers.js";
import { Breakdown } from "./breakdown.js";
import { by, make, put, replace } from "./elements.js";
import { FireInput } from "./fire_input.js";
import { FirstSurvey } from "./first_survey.js";
import { foldLegend, showLegend } from "./legend.js";
import { announce, breath, library } from "./library.js";
import { WaterMap } from "./map.js";
import { Question } from "./question.js";
import { ask, Problem } from "./service.js";
import { dialogHead, switches } from "./switches.js";
import { figure, moment, sentence, unitsChosen } from "./units.js";

const TOP = 10;
const REST_MS = 250; // a typed change is asked when nothing more is typed for so long
const AGAIN_MS = 4000;
const UNDER_WAY = ". First answer, with straight routes; the full answer follows.";
const HELD = ". Straight routes while you turn the wind; waters outside the list are recoloured when you let go.";

class Page {
  constructor() {
    this.breakdown = new Breakdown();
    this.map = null; // made after the first rows stand, for its library takes longer to read than an answer to come
    this.question = new Question((kind) => this.#asked(kind));
    this.fireInput = new FireInput(() => this.#drawnOnce(), this.question, (words) => this.#say(words));
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
    if (!this.offered) {
      this.offered = true; // once: what was chosen while the first survey ran stays
      this.question.choices(this.region);
      this.question.show();
    }
    if (this.region.survey_version === null) {
      await this.#surveyed();
      return;
    }
    await this.#ask();
    await this.#drawnOnce();
  }

  // A region that nobody surveyed: its waters are drawn, the survey is started here and followed to its end.
  async #surveyed() {
    this.#drawnOnce();
    try {
      await new FirstSurvey(this.region, (problem) => this.#failed(problem, () => {})).done();
    } catch (problem) {
      this.#failed(problem, () => this.start());
      return;
    }
    await this.start();
  }

  // Gives the map, drawn; null where its library did not come, and then the next answer tries again.
  async #drawnOnce() {
    if (!this.region) return null;
    this.drawing ??= this.#drawn();
    const map = await this.drawing;
    if (!map) this.drawing = null;
    return map;
  }

  async #drawn() {
    const quiet = (path) => ask(path).catch(() => null);
    const version = this.region.input_fingerprint.slice(0, 12);
    const coming = ["basemap/waters", "fires", "basemap/surroundings", "basemap/relief", `basemap/contours?version=${version}`, "basemap/tiles"].map(quiet);
    try {
      await library();
    } catch {
      this.#say("The map failed to load; the list is complete. The next answer tries the map again.");
      return null;
    }
    await breath();
    const map = new WaterMap("map", { onWater: (id) => this.#openWater(id), onThing: (thing) => this.#say(`${thing.name}: ${thing.note}`) });
    map.units(unitsChosen());
    map.theme(document.documentElement.dataset.theme === "dark");
    const [waters, fires, things, relief, contours, background] = await Promise.all(coming);
    showLegend(things);
    for (const one of fires?.features ?? []) this.fires.set(one.properties.fire_id, one.geometry);
    if (waters) {
      this.names = new Map(waters.features.map((one) => [one.properties.body_id, one.properties.name]));
      await map.showWaters(waters);
    } else this.#say("The outlines of the waters failed to load; the list is complete. Reload the page for the map.");
    if (things) map.showSurroundings(things);
    this.map = map;
    this.#showFire();
    if (this.answer) this.#draw();
    map.see([this.#fire()], { withAll: true });
    await breath();
    map.background(relief, contours);
    if (background?.address) map.tiles(background.address);
    return map;
  }

  #fire() {
    return this.question.own?.geometry ?? this.fires.get(this.question.values.fire) ?? null;
  }

  // Where another fire is asked about: each drawing of the map takes longer than moving the wind may.
  #showFire() {
    const fire = this.#fire();
    if (!this.map || fire === this.fireShown) return;
    this.fireShown = fire;
    this.map.showFire(fire);
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

  // While the wind is dragged one question is under way at a time, and the newest wind is asked before the last answer
  // is drawn. At rest the quick answer comes first, then the whole one in its place.
  async #ask(dragging = false) {
    if (!this.region?.survey_version) return;
    if (this.question.missing) {
      replace(by("state"), this.question.missing);
      return;
    }
    this.busy?.abort();
    const asking = Object.assign(new AbortController(), { dragging });
    this.busy = asking;
    this.again = false;
    this.#busy(true);
    const body = this.question.body(TOP);
    const posted = async (path, sent = body) => {
      const answer = await ask(path, { method: "POST", body: sent, signal: asking.signal });
      if (this.busy !== asking) throw new DOMException("another question was asked", "AbortError");
      return answer;
    };
    try {
      const quick = await posted("answers", { ...body, brief: true });
      if (dragging && this.again) {
        // The service works on the newest wind while the page draws the last answer.
        this.busy = null;
        this.#ask(true);
      }
      this.#show(quick, dragging ? HELD : UNDER_WAY);
      if (!dragging) {
        announce();
        const whole = posted("rankings");
        whole.catch(() => {}); // told below, or given up with the question
        await this.#drawnOnce();
        this.#show(await whole);
        const { fire, target, top, ...day } = body;
        this.#show({ ...this.answer, today: (await posted("today", day)).waters });
      }
    } catch (problem) {
      if (problem.name !== "AbortError" && this.busy === asking) this.#failed(problem, () => this.#ask());
    } finally {
      if (this.busy === asking) {
        this.busy = null;
        if (this.again) this.#ask(true);
        else this.#busy(false);
      }
    }
  }

  #busy(now) {
    if (now) by("answers").setAttribute("aria-busy", "true");
    else by("answers").removeAttribute("aria-busy");
  }

  // first: words on what the quick answer leaves out; with them the colours of other waters stay as they were.
  #show(answer, first = "") {
    performance.mark("answer shown"); // counted by tests/bench/bench_pages.py
    this.answer = answer;
    this.first = first;
    by("problem").hidden = true;
    this.kinds = first ? new Map([...this.kinds, ...kindsOf(answer)]) : kindsOf(answer);
    put(by("state"), `${answer.fire_name}, ${answer.aircraft}: ${answer.sources.length ? `the first ${answer.sources.length} waters` : "no water can be used"}${first}`);
    showRows(answer, { onOpen: (source) => this.#openSource(source), onPoint: (source) => this.#point(source) });
    if (!first) {
      showExcluded(answer, (one) => this.#openExcluded(one));
      showOthers(answer, this.kinds, this.names, (id) => this.#openWater(id));
    }
    this.#draw();
    if (!answer.brief && this.breakdown.waitsFor) this.#openWater(this.breakdown.waitsFor);
    if (by("kept").firstChild || !first) this.#kept(answer);
  }

  #kept(answer) {
    replace(
      by("kept"),
      answer.ranking_id === null ? make("p", { class: "hint", text: "This answer could not be kept; the first caution says why." }) : null,
      answer.ranking_id
        ? make("p", { class: "hint" }, "Kept as ", make("a", { href: `rankings/${answer.ranking_id}`, text: answer.ranking_id }), answer.asked_at ? `, ${moment(answer.asked_at)}` : "", ". ", make("a", { href: `rankings/${answer.ranking_id}/sheet.pdf?units=${unitsChosen()}`, target: "_blank", text: "Sheet to print (PDF)" }))
        : null,
    );
  }

  #draw() {
    const { sources } = this.answer;
    this.map?.showAnswer(this.kinds, new Map(sources.map((one) => [one.body_id, one.rank])));
    const pointed = sources.find((one) => one.body_id === this.pointed) ?? sources[0];
    if (pointed) this.#point(pointed);
    else this.map?.showWays({ legs: [] });
  }

  #point(source) {
    this.pointed = source.body_id;
    this.map?.showWays(waysOf(source));
    for (const row of document.querySelectorAll(".row")) row.classList.toggle("pointed", row.dataset.body === source.body_id);
  }

  #openSource(source) {
    this.#point(source);
    if (this.answer.brief) {
      this.breakdown.wait(source.body_id, source.name);
      return;
    }
    const { sources, certainty } = this.answer;
    const above = sources.find((one) => one.rank === source.rank - 1);
    this.#opened({ id: source.body_id, name: source.name, source, above, certainty });
  }

  #opened(what) {
    const station = this.names.size > 0 && !this.names.has(what.id);
    const sheet = station ? null : `water-bodies/${encodeURIComponent(what.id)}/sheet.pdf?units=${unitsChosen()}`;
    return this.breakdown.open({ ...what, station, sheet, windDeg: this.question.values.wind_from_deg });
  }

  #openExcluded(excluded) {
    this.#opened({ id: excluded.body_id, name: excluded.name, excluded });
  }

  #openWater(id) {
    const source = this.answer?.sources.find((one) => one.body_id === id);
    if (source) return this.#openSource(source);
    const excluded = this.answer?.excluded.find((one) => one.body_id === id);
    const over = this.answer?.unrefined?.find((one) => one.body_id === id);
    let passed = over ? `Not among the first ${TOP}: at best ${figure("volume", over.most_litres_per_hour)} per hour, so it was not worked out further.` : null;
    if (!over && !excluded && ["both", "ram", "hover"].includes(this.kinds.get(id))) passed = `It can be used, but ranks below the first ${TOP}.`;
    return this.#opened({ id, name: this.names.get(id) ?? id, excluded, passed });
  }

  #say(words) {
    const box = by("map-message");
    box.hidden = !words;
    replace(box, words ? [make("span", { text: words }), make("button", { type: "button", class: "close", "aria-label": "Close this message", text: "✕", onclick: () => this.#say("") })] : []);
  }

  #failed(problem, again) {
    const faults = problem instanceof Problem ? problem.errors : [];
    if (this.breakdown.waitsFor) this.breakdown.dialog.close();
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
        this.map?.units(system);
        if (this.region) this.question.show();
        if (this.answer) this.#show(this.answer, this.first);
      },
      onClock: () => this.answer && this.#show(this.answer, this.first),
      onTheme: (dark) => this.map?.theme(dark),
    });
    by("all-cautions").addEventListener("click", () => {
      const words = [...(this.answer?.cautions ?? []), ...(this.region?.cautions ?? [])];
      replace(by("cautions"), dialogHead(by("cautions"), "cautions-title", "Cautions"), make("ul", {}, words.map((text) => make("li", { text: sentence(text) }))));
      by("cautions").showModal();
    });
    by("see-all").addEventListener("click", () => this.map?.see([this.#fire()], { withAll: true }));
    document.addEventListener("click", (event) => {
      if (by("fire-menu").open && !by("fire-menu").contains(event.target)) by("fire-menu").open = false;
    });
    foldLegend();
  }
}

new Page().start();
