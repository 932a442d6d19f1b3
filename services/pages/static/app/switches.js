// The switches of every page: units, time, light or dark; kept in this browser.

import { by, make, replace } from "./elements.js";
import { chooseClock, chooseUnits, clockIsUtc, SYSTEMS, unitsChosen } from "./units.js";

// onUnits(system), onClock(), onTheme(dark) are called at the start and after each change, onClock after changes only.
export function switches({ onUnits = () => {}, onClock = () => {}, onTheme = () => {} }) {
  replace(by("units"), Object.entries(SYSTEMS).map(([name, system]) => make("option", { value: name, text: system.label })));
  by("units").value = unitsChosen();
  onUnits(unitsChosen());
  by("units").addEventListener("change", () => {
    chooseUnits(by("units").value);
    onUnits(unitsChosen());
  });
  by("clock").value = clockIsUtc() ? "utc" : "local";
  by("clock").addEventListener("change", () => {
    chooseClock(by("clock").value);
    onClock();
  });
  const theme = (dark) => {
    document.documentElement.dataset.theme = dark ? "dark" : "light";
    by("theme").setAttribute("aria-pressed", String(dark));
    onTheme(dark);
  };
  theme((localStorage.getItem("fetchwater.theme") ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light")) === "dark");
  by("theme").addEventListener("click", () => {
    const dark = document.documentElement.dataset.theme !== "dark";
    localStorage.setItem("fetchwater.theme", dark ? "dark" : "light");
    theme(dark);
  });
}

export function dialogHead(dialog, id, title) {
  return make("div", { class: "dialog-head" }, make("h2", { id, text: title }), make("button", { type: "button", class: "close", onclick: () => dialog.close(), "aria-label": "Close", text: "✕" }));
}
