// What can be done at a water now: word, sign and colour together, so that colour is never alone.
// Colours: the colour-blind-safe set of Okabe and Ito (2008), open for any use.

export const KINDS = {
  both: { word: "ram intake or hover pump", colour: "#0072B2", sign: "both" },
  ram: { word: "ram intake", colour: "#0072B2", sign: "ram" },
  hover: { word: "hover pump", colour: "#009E73", sign: "hover" },
  hose: { word: "ground hose", colour: "#CC79A7", sign: "hose" },
  survey: { word: "survey first: something is unknown", colour: "#E69F00", sign: "survey" },
  no: { word: "not usable today", colour: "#6b6b6b", sign: "no" },
  open: { word: "surveyed; no question asked yet", colour: "#56B4E9", sign: "open" },
};

export const methodWord = (method) => method.replaceAll("_", " ");

export function kindOf(verdicts) {
  const usable = Object.entries(verdicts).filter(([, verdict]) => verdict === "usable").map(([method]) => method);
  const ram = usable.includes("ram_intake");
  const other = usable.some((method) => method !== "ram_intake" && method !== "ground_hose");
  if (ram && other) return "both";
  if (ram) return "ram";
  if (other) return "hover";
  if (usable.length) return "hose";
  return Object.values(verdicts).includes("survey first") ? "survey" : "no";
}

// One sign as an SVG, 24 by 24: a bar with a point for a run, a ring for a hover, a question mark, a cross.
export function sign(kind, size = 24) {
  const { colour, sign: shape } = KINDS[kind];
  const casing = `stroke="#fff" stroke-width="5.5" stroke-linecap="round" fill="none"`;
  const ink = `stroke="${colour}" stroke-width="3" stroke-linecap="round" fill="none"`;
  const bar = "M3 12h15m-5-5 6 5-6 5";
  const ring = "M12 5.5a6.5 6.5 0 1 1-.01 0z";
  const paths = {
    hose: ["M5 5v8a4 4 0 0 0 8 0v-3a4 4 0 0 1 6 0v9"], ram: [bar], hover: [ring], both: [ring, "M2 12h20"], no: ["M6 6l12 12M18 6 6 18"], open: ["M12 10.5v3"],
    survey: ["M8 9a4 4 0 1 1 5.5 3.7c-1 .5-1.5 1-1.5 2.3M12 19v.2"],
  }[shape];
  const lines = paths.map((d) => `<path d="${d}" ${casing}/>`).concat(paths.map((d) => `<path d="${d}" ${ink}/>`));
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${size}" height="${size}" viewBox="0 0 24 24" aria-hidden="true">${lines.join("")}</svg>`;
}
