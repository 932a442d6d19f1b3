// Drawings of one answer: where the time goes, the run in side view with its depth, the rose of runs.

import { draw, make } from "./elements.js";
import { figure, minutes, shown, unit } from "./units.js";

const W = matchMedia("(max-width: 700px)").matches ? 380 : 640; // so that letters stay legible where the page is narrow

const LETTER = 6.4; // a letter of the words below the bar

export function tripBar(cycle) {
  const parts = [
    ["fill", cycle.fill_s, "fill"], ["at the water", cycle.manoeuvre_source_s, "turn"], ["flown loaded", cycle.loaded_leg.time_s, "loaded"],
    ["drop", cycle.drop_s, "drop"], ["at the fire", cycle.manoeuvre_fire_s, "turn"], ["flown empty", cycle.empty_leg.time_s, "empty"],
  ];
  const svg = draw("svg", { class: "chart", role: "img", "aria-label": `Round trip ${minutes(cycle.round_trip_s)}: ${parts.map(([n, s]) => `${n} ${minutes(s)}`).join(", ")}` });
  let at = 0;
  const clear = []; // of each line of words below the bar, where the next word may begin
  for (const [name, seconds, look] of parts) {
    const width = (seconds / cycle.round_trip_s) * W;
    svg.append(draw("rect", { x: at, y: 4, width: Math.max(width - 2, 1), height: 26, rx: 3, class: `part ${look}` }));
    const words = `${name} ${minutes(seconds)}`;
    const long = LETTER * (words.length + 2);
    const from = Math.max(0, Math.min(at, W - long));
    let line = clear.findIndex((end) => from >= end);
    if (line < 0) line = clear.length;
    clear[line] = from + long;
    svg.append(draw("text", { x: from, y: 46 + 18 * line, class: "tick", text: words }));
    at += width;
  }
  svg.setAttribute("viewBox", `0 0 ${W} ${40 + 18 * clear.length}`);
  return svg;
}

const span = (values) => {
  const known = values.filter((value) => value !== null && value !== undefined);
  return [Math.min(...known), Math.max(...known)];
};

function steps(low, high, count) {
  const rough = (high - low) / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].find((m) => m * power >= rough) * power;
  const ticks = [];
  for (let at = Math.ceil(low / step) * step; at <= high + 1e-9; at += step) ticks.push(at);
  return ticks;
}

const pathOf = (points) => points.reduce((text, point, index) => (point === null ? text : `${text}${index === 0 || points[index - 1] === null ? "M" : "L"}${point[0].toFixed(1)} ${point[1].toFixed(1)}`), "");

export function sideView(view) {
  const H = 250;
  const box = { left: 52, right: W - 10, top: 14, bottom: H - 34 };
  const half = view.length_m;
  const from = Math.max(view.along_m[0], -Math.max(half, 600));
  const to = Math.min(view.along_m.at(-1), half + Math.max(half, 600));
  const inside = (x) => x >= from && x <= to;
  const surface = view.surface_m;
  const ground = view.highest_m.filter((_, i) => inside(view.along_m[i]));
  const bed = surface === null ? [] : view.depth_m.map((d, i) => (d === null || view.depth_sd_m[i] === null ? null : surface - d - 2 * view.depth_sd_m[i]));
  const tops = view.obstacles.filter((o) => inside(o.along_m)).map((o) => o.top_m);
  if (surface === null || span(ground)[0] === Infinity) {
    return draw("svg", { viewBox: `0 0 ${W} 40`, class: "chart" }, draw("text", { x: 0, y: 24, class: "tick", text: "No side view: the water's elevation or the ground around it is unknown." }));
  }
  const reach = (to - half) * view.slope;
  let [low, high] = span([...ground, ...bed, ...tops, surface, surface + reach]);
  const room = Math.max((high - low) * 0.08, 4);
  low -= room;
  high += room;
  const x = (v) => box.left + ((v - from) / (to - from)) * (box.right - box.left);
  const y = (v) => box.bottom - ((v - low) / (high - low)) * (box.bottom - box.top);
  const svg = draw("svg", { viewBox: `0 0 ${W} ${H}`, class: "chart", role: "img", "aria-label": "The run in side view: ground, water, the surfaces that must stay clear, and the bed" });
  const heights = unit("height");
  for (const tick of steps(heights.of(low), heights.of(high), 5)) {
    const at = y(heights.back(tick));
    svg.append(draw("path", { d: `M${box.left} ${at}H${box.right}`, class: "grid" }), draw("text", { x: box.left - 6, y: at + 4, "text-anchor": "end", class: "tick", text: Math.round(tick) }));
  }
  svg.append(draw("text", { x: 2, y: 10, class: "tick", text: heights.name }));
  for (const tick of steps(unit("length").of(from), unit("length").of(to), 6)) {
    const place = x(unit("length").back(tick));
    svg.append(draw("text", { x: place, y: H - 16, "text-anchor": place > box.right - 20 ? "end" : "middle", class: "tick", text: Math.round(tick).toLocaleString("en") }));
  }
  svg.append(draw("text", { x: box.right, y: H - 3, "text-anchor": "end", class: "tick", text: `along the run, ${unit("length").name}` }));
  const stations = view.along_m.map((a, i) => [a, i]).filter(([a]) => inside(a));
  const line = (heightsOf) => stations.map(([a, i]) => (heightsOf[i] === null ? null : [x(a), y(Math.max(heightsOf[i], low))]));
  const top = line(view.highest_m).filter(Boolean);
  svg.append(draw("path", { d: `${pathOf(top)}L${x(to)} ${box.bottom}L${x(from)} ${box.bottom}Z`, class: "ground" }));
  const water = `M${x(0)} ${y(surface)}H${x(half)}`;
  if (view.depth_along_m.length) {
    const places = view.depth_along_m.map((a, i) => (view.depth_m[i] === null || view.depth_sd_m[i] === null ? null : [a, surface - view.depth_m[i], view.depth_sd_m[i]])).filter(Boolean);
    const bedLine = places.map(([a, b]) => [x(a), y(b)]);
    const shallow = places.map(([a, b, s]) => [x(a), y(Math.min(b + 2 * s, surface))]);
    const deep = places.map(([a, b, s]) => [x(a), y(b - 2 * s)]).reverse();
    svg.append(draw("path", { d: `${pathOf(bedLine)}L${x(half)} ${y(surface)}L${x(0)} ${y(surface)}Z`, class: "water" }));
    svg.append(draw("path", { d: `${pathOf([...shallow, ...deep])}Z`, class: "unsure" }), draw("path", { d: pathOf(bedLine), class: "bed" }));
  }
  svg.append(draw("path", { d: water, class: "level" }));
  svg.append(draw("path", { d: `M${x(half)} ${y(surface)}L${x(to)} ${y(surface + (to - half) * view.slope)}`, class: "surface" }));
  svg.append(draw("path", { d: `M${x(0)} ${y(surface)}L${x(from)} ${y(surface - from * view.slope)}`, class: "surface" }));
  for (const one of view.obstacles.filter((o) => inside(o.along_m))) {
    const known = one.top_m !== null;
    svg.append(draw("path", { d: `M${x(one.along_m)} ${y(surface)}V${known ? y(one.top_m) : box.top}`, class: known ? "mast" : "mast unknown" }));
    svg.append(draw("text", { x: x(one.along_m) + 4, y: (known ? y(one.top_m) : box.top) + 10, class: "tick", text: known ? one.label : `${one.label}: height unknown` }));
  }
  svg.append(draw("text", { x: x(0) + 4, y: y(surface) - 6, class: "tick strong", text: "touch-down" }), draw("text", { x: x(half) - 4, y: y(surface) - 6, "text-anchor": "end", class: "tick strong", text: "lift-off" }));
  return svg;
}

// Depth below the water of today against the way along the run, with two standard deviations to either side.
export function depthAlong(view) {
  const H = 190;
  const box = { left: 52, right: W - 10, top: 18, bottom: H - 34 };
  const known = view.depth_along_m.map((a, i) => (view.depth_m[i] === null || view.depth_sd_m[i] === null ? null : [a, view.depth_m[i], 2 * view.depth_sd_m[i]])).filter(Boolean);
  if (!known.length) return draw("svg", { viewBox: `0 0 ${W} 40`, class: "chart", role: "img", "aria-label": "The depth along the run is unknown" }, draw("text", { x: 0, y: 24, class: "tick strong", text: "The depth along this run is unknown." }));
  const deepest = Math.max(...known.map(([, depth, two]) => depth + two)) * 1.06;
  const least = known.reduce((a, b) => (b[1] - b[2] < a[1] - a[2] ? b : a));
  const x = (v) => box.left + (v / view.length_m) * (box.right - box.left);
  const y = (v) => box.top + (Math.max(v, 0) / deepest) * (box.bottom - box.top);
  const words = `${figure("length", least[0])} from the touch-down: ${figure("depth", least[1])} expected, ${figure("depth", Math.max(least[1] - least[2], 0))} at two standard deviations less`;
  const svg = draw("svg", { viewBox: `0 0 ${W} ${H}`, class: "chart", role: "img", "aria-label": `Depth along the run; shallowest ${words}` });
  const depths = unit("depth");
  const axis = (kind, low, high, count) => steps(unit(kind).of(low), unit(kind).of(high), count).map((tick) => [unit(kind).back(tick), tick]);
  const ticks = axis("depth", 0, deepest, 4);
  const digits = ticks.length > 1 && ticks[1][1] - ticks[0][1] < 1 ? 1 : 0;
  for (const [at, tick] of ticks) {
    svg.append(draw("path", { d: `M${box.left} ${y(at)}H${box.right}`, class: "grid" }), draw("text", { x: box.left - 6, y: y(at) + 4, "text-anchor": "end", class: "tick", text: tick.toFixed(digits) }));
  }
  for (const [at, tick] of axis("length", 0, view.length_m, 6)) svg.append(draw("text", { x: x(at), y: H - 16, "text-anchor": x(at) > box.right - 20 ? "end" : "middle", class: "tick", text: Math.round(tick).toLocaleString("en") }));
  svg.append(draw("text", { x: 2, y: 12, class: "tick", text: `${depths.name} down` }), draw("text", { x: box.right, y: H - 3, "text-anchor": "end", class: "tick", text: `along the run, ${unit("length").name}` }));
  const line = (of) => known.map(([a, depth, two]) => [x(a), y(of(depth, two))]);
  svg.append(
    draw("path", { d: `${pathOf(line((d) => d))}L${x(known.at(-1)[0])} ${y(0)}L${x(known[0][0])} ${y(0)}Z`, class: "water" }),
    draw("path", { d: `${pathOf([...line((d, t) => d - t), ...line((d, t) => d + t).reverse()])}Z`, class: "unsure" }),
    draw("path", { d: pathOf(line((d) => d)), class: "bed" }),
    draw("path", { d: `M${x(0)} ${y(0)}H${x(view.length_m)}`, class: "level" }),
    draw("circle", { cx: x(least[0]), cy: y(least[1] - least[2]), r: 4, class: "least" }),
  );
  return [svg, make("p", { class: "hint", text: `Shallowest ${words}.` })];
}

export function rose(runs, chosenDeg, windDeg) {
  const R = 92;
  const middle = 110;
  const longest = Math.max(...runs.map((run) => run.length_m), 1);
  const svg = draw("svg", { viewBox: "0 0 220 220", class: "chart rose", role: "img", "aria-label": `Longest run by heading; ${runs.length} headings, at most ${figure("length", longest)}` });
  for (const part of [0.5, 1]) svg.append(draw("circle", { cx: middle, cy: middle, r: R * part, class: "grid" }));
  svg.append(draw("text", { x: middle, y: 12, "text-anchor": "middle", class: "tick", text: "N" }));
  for (const run of runs) {
    const angle = (run.heading_true_deg * Math.PI) / 180;
    const r = (run.length_m / longest) * R;
    const [dx, dy] = [r * Math.sin(angle), -r * Math.cos(angle)];
    const away = chosenDeg === null ? 90 : Math.abs(((run.heading_true_deg - chosenDeg + 270) % 180) - 90);
    svg.append(draw("path", { d: `M${middle - dx} ${middle - dy}L${middle + dx} ${middle + dy}`, class: away < 5.01 ? "spoke chosen" : "spoke" }));
  }
  if (windDeg !== null) {
    svg.append(draw("path", { d: `M${middle} 4V30M${middle - 5} 23l5 7 5-7`, class: "wind", transform: `rotate(${windDeg} ${middle} ${middle})` }));
  }
  svg.append(draw("text", { x: middle, y: 216, "text-anchor": "middle", class: "tick", text: `outer ring ${shown("length", longest)} ${unit("length").name}; arrow: the wind` }));
  return svg;
}
