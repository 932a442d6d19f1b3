// The first survey of a region: started on the page, followed while a worker makes it, and ended by who started it.

import { by, make, put, replace } from "./elements.js";
import { ask } from "./service.js";

const LOOK_MS = 1000;
const ENDED = ["succeeded", "failed", "cancelled"];
const wait = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });

export class FirstSurvey {
  // failed(problem): says what went wrong where the page says it.
  constructor(region, failed) {
    this.region = region;
    this.failed = failed;
    this.box = by("kept");
  }

  // Comes back when the service answers from a survey.
  async done() {
    let job = await this.#running();
    for (;;) {
      job ??= await this.#started();
      const state = await this.#followed(job);
      if (state === "succeeded") break;
      job = null;
    }
    put(by("state"), "Surveyed. The first answer follows.");
    replace(this.box);
    while ((await ask("region")).survey_version === null) await wait(LOOK_MS);
  }

  async #running() {
    const { jobs } = await ask("jobs");
    return jobs.find((one) => !ENDED.includes(one.state) && !one.question.levels?.length) ?? null;
  }

  #started() {
    const waters = this.region.water_bodies;
    put(by("state"), "The waters of this region have not been surveyed yet.");
    return new Promise((resolve) => {
      const begin = make("button", { type: "button", class: "main", id: "survey-start", text: waters === 1 ? "Survey the one water" : `Survey the ${waters.toLocaleString("en")} waters` });
      begin.addEventListener("click", async () => {
        begin.disabled = true;
        try {
          resolve(await ask("surveys", { method: "POST", body: {} }));
        } catch (problem) {
          begin.disabled = false;
          this.failed(problem);
        }
      });
      replace(
        this.box,
        make("div", { class: "none" }, make("p", { text: "A survey finds, for every water, where a tank can be filled: runs, depths, hover points, what obstructs the approach. It needs neither a fire nor weather. It is made once and kept; a change in a file makes a new survey necessary." }), begin, this.problem ? make("p", { class: "failed", role: "alert", text: this.problem }) : null),
      );
    });
  }

  async #followed(job) {
    const bar = make("progress", { id: "survey-progress", "aria-label": "Waters surveyed" });
    const words = make("p", { class: "hint" });
    const stop = make("button", { type: "button", id: "survey-stop", class: "plain", text: "Stop the survey", onclick: () => ask(`jobs/${job.job_id}`, { method: "DELETE" }).catch(this.failed) });
    replace(this.box, make("div", { class: "none" }, bar, words, stop));
    put(by("state"), "The survey is running. Meanwhile, enter the fire, the aircraft and the weather.");
    let now = job;
    while (!ENDED.includes(now.state)) {
      const { progress } = now;
      if (progress) Object.assign(bar, { max: progress.total, value: progress.done });
      put(words, progress ? `${progress.done.toLocaleString("en")} of ${progress.total.toLocaleString("en")}: ${progress.what}` : "Starting …");
      await wait(LOOK_MS);
      now = await ask(`jobs/${job.job_id}`).catch((problem) => (problem.status === 0 ? now : Promise.reject(problem)));
    }
    this.problem = now.state === "failed" ? `${now.problem.title}. ${now.problem.detail}` : "";
    return now.state;
  }
}
