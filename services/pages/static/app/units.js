// Quantities for people: every figure travels in SI and is shown, or typed, in the system chosen at the switch.

const KNOT_MS = 1852 / 3600;
const FOOT_M = 0.3048;
const US_GALLON_L = 3.785411784; // exact by definition: 231 cubic inches
const INHG_HPA = 33.8638866667;

const KNOTS = { name: "kt", of: (v) => v / KNOT_MS, back: (v) => v * KNOT_MS, digits: 0 };
const FEET = { name: "ft", of: (v) => v / FOOT_M, back: (v) => v * FOOT_M, digits: 0 };
const METRES = { name: "m", of: (v) => v, back: (v) => v, digits: 0 };
const DEPTH_M = { ...METRES, digits: 1 };
const DEPTH_FT = { ...FEET, digits: 0 };
const LITRES = { name: "L", of: (v) => v, back: (v) => v, digits: 0 };
const GALLONS = { name: "US gal", of: (v) => v / US_GALLON_L, back: (v) => v * US_GALLON_L, digits: 0 };
const NAUTICAL = { name: "NM", of: (v) => v / 1852, back: (v) => v * 1852, digits: 1 };
const KILOMETRES = { name: "km", of: (v) => v / 1000, back: (v) => v * 1000, digits: 1 };
const CELSIUS = { name: "°C", of: (v) => v, back: (v) => v, digits: 0 };
const FAHRENHEIT = { name: "°F", of: (v) => v * 1.8 + 32, back: (v) => (v - 32) / 1.8, digits: 0 };
const HPA = { name: "hPa", of: (v) => v, back: (v) => v, digits: 0 };
const INHG = { name: "inHg", of: (v) => v / INHG_HPA, back: (v) => v * INHG_HPA, digits: 2 };

export const SYSTEMS = {
  trade: {
    label: "kt, NM, ft, L",
    speed: KNOTS, height: FEET, length: METRES, depth: DEPTH_M, distance: NAUTICAL,
    volume: LITRES, temperature: CELSIUS, pressure: HPA,
  },
  si: {
    label: "km/h, km, m, L",
    speed: { name: "km/h", of: (v) => v * 3.6, back: (v) => v / 3.6, digits: 0 },
    height: METRES, length: METRES, depth: DEPTH_M, distance: KILOMETRES,
    volume: LITRES, temperature: CELSIUS, pressure: HPA,
  },
  us: {
    label: "kt, NM, ft, US gal",
    speed: KNOTS, height: FEET, length: FEET, depth: DEPTH_FT, distance: NAUTICAL,
    volume: GALLONS, temperature: FAHRENHEIT, pressure: INHG,
  },
};

let chosen = SYSTEMS[localStorage.getItem("fetchwater.units")] ? localStorage.getItem("fetchwater.units") : "trade";
let utc = localStorage.getItem("fetchwater.clock") === "utc";

// A bearing in three figures, true and, where the variation is known, magnetic; north is 360.
export function bearing(trueDeg, variationDeg) {
  const figures = (deg) => String((((Math.round(deg) - 1) % 360) + 360) % 360 + 1).padStart(3, "0");
  return variationDeg === null || variationDeg === undefined ? `${figures(trueDeg)}°T` : `${figures(trueDeg)}°T ${figures(trueDeg - variationDeg)}°M`;
}

export const unitsChosen = () => chosen;
export function chooseUnits(name) {
  chosen = name;
  localStorage.setItem("fetchwater.units", name);
}
export const clockIsUtc = () => utc;
export function chooseClock(name) {
  utc = name === "utc";
  localStorage.setItem("fetchwater.clock", name);
}

export const unit = (kind) => SYSTEMS[chosen][kind];

export function shown(kind, value, digits) {
  const { of, digits: usual } = unit(kind);
  const places = digits ?? usual;
  return of(value).toLocaleString("en", { minimumFractionDigits: places, maximumFractionDigits: places });
}

// A figure with its unit; unknown is said, never drawn as 0.
export function figure(kind, value, digits) {
  if (value === null || value === undefined) return "unknown";
  return `${shown(kind, value, digits)} ${unit(kind).name}`;
}

export function minutes(seconds) {
  if (seconds === null || seconds === undefined) return "unknown";
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

export const percent = (share) => (share === null || share === undefined ? "unknown" : share > 0 && share < 0.005 ? "<1 %" : `${Math.round(share * 100)} %`);

export function moment(iso) {
  const at = new Date(iso);
  if (Number.isNaN(at.valueOf())) return String(iso);
  const options = { dateStyle: "medium", timeStyle: "short", ...(utc ? { timeZone: "UTC" } : {}) };
  return `${at.toLocaleString("en-GB", options)}${utc ? " UTC" : ""}`;
}

// Sentences come in metres and litres. Their words and figures stay as the service wrote them; where another unit was
// chosen the figure in it is added, marked as rounded. A figure in another writing (1 200 m, 1,5 m) is left alone.
const IN_SENTENCES = { trade: {}, si: {}, us: { m: FEET, L: GALLONS } };
const WRITTEN = /(?<![\w.,]|\d\s|\d-)([+-]?)(\d{1,3}(?:,\d{3})+|\d+)(\.\d+)?[ \u00a0](m|L)(?![\w/²³^]|[ \u00a0](?:an?|per)[ \u00a0](?:second|minute|hour))/gu;
// After the name of somebody's site stand his own words, whose figures nobody here can vouch for.
const OTHERS_WORDS = / noted at |^site |^says |: open, |revision \d/u;

export function sentence(text) {
  const units = IN_SENTENCES[chosen];
  if (!text || !Object.keys(units).length || OTHERS_WORDS.test(text)) return text;
  return text.replace(WRITTEN, (written, sign, whole, part, symbol) => {
    const { name, of } = units[symbol];
    const value = of(Number(`${sign}${whole.replaceAll(",", "")}${part ?? ""}`));
    const places = symbol === "m" && (part || Math.abs(value) < 100) ? 1 : 0;
    return `${written} (≈${value.toLocaleString("en", { minimumFractionDigits: places, maximumFractionDigits: places })} ${name})`;
  });
}

// What is said of the sentences of the program; null where the chosen system is theirs.
export const SENTENCES = { trade: "Figures in sentences are in metres.", si: null, us: "Sentences keep their metres and litres; the rounded figure in brackets is added." };
export const sentencesSaid = () => SENTENCES[chosen];
