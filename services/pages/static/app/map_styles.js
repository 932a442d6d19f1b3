// How things are drawn on the map. Styles are made once and kept: a map of thousands of waters asks for them at every move.

import { hoverSign } from "./hover_ways.js";
import { KINDS, sign } from "./kinds.js";
import { surroundingSign } from "./symbols.js";

const kept = new Map();
const once = (key, make) => {
  if (!kept.has(key)) kept.set(key, make());
  return kept.get(key);
};

export const stroke = (color, width, lineDash) => new ol.style.Stroke({ color, width, lineDash, lineCap: "butt" });
export const cased = (color, width, lineDash) => [
  new ol.style.Style({ stroke: stroke("#fff", width + 3.5) }),
  new ol.style.Style({ stroke: stroke(color, width, lineDash) }),
];
const picture = (drawing, declutterMode) => new ol.style.Icon({ src: `data:image/svg+xml,${encodeURIComponent(drawing)}`, declutterMode });

function pattern(colour, crossed, flat) {
  const tile = Object.assign(document.createElement("canvas"), { width: 8, height: 8 });
  const pen = tile.getContext("2d");
  pen.strokeStyle = colour;
  pen.lineWidth = 1.3;
  pen.beginPath();
  if (flat) {
    pen.moveTo(0, 4);
    pen.lineTo(8, 4);
  } else {
    for (const shift of [-8, 0, 8]) {
      pen.moveTo(shift, 8);
      pen.lineTo(shift + 8, 0);
      if (crossed) {
        pen.moveTo(shift, 0);
        pen.lineTo(shift + 8, 8);
      }
    }
  }
  pen.stroke();
  return pen.createPattern(tile, "repeat");
}

export const fireStyle = () => once("fire", () => new ol.style.Style({
  fill: new ol.style.Fill({ color: pattern("rgba(178,24,43,.8)") }), stroke: stroke("#b2182b", 2.5),
  image: new ol.style.Circle({ radius: 9, stroke: stroke("#b2182b", 3), fill: new ol.style.Fill({ color: "#fff" }) }),
}));

export const sketchStyle = () => once("sketch", () => [
  ...cased("#b2182b", 2.5),
  new ol.style.Style({ image: new ol.style.Circle({ radius: 5, stroke: stroke("#b2182b", 2), fill: new ol.style.Fill({ color: "#fff" }) }) }),
]);

export const contourStyle = (dark) => once(`contour ${dark}`, () => new ol.style.Style({ stroke: stroke(dark ? "rgba(255,255,255,.16)" : "rgba(70,55,30,.22)", 1) }));

export function waterStyle(kind) {
  return once(`water ${kind}`, () => {
    const { colour } = KINDS[kind];
    const faint = kind === "no" || kind === "survey";
    return new ol.style.Style({
      fill: new ol.style.Fill({ color: `${colour}${faint ? "40" : "99"}` }),
      stroke: stroke(colour, 1.2, kind === "survey" ? [5, 4] : undefined),
    });
  });
}

// The heavier edge of a water of the list, drawn over its outline.
export const listedStyle = (kind) => once(`listed ${kind}`, () => new ol.style.Style({ stroke: stroke(KINDS[kind].colour, 2.5) }));

export const signStyle = (kind) => once(`sign ${kind}`, () => new ol.style.Style({ image: picture(sign(kind), "declutter"), zIndex: { both: 5, ram: 5, hover: 5, survey: 4, open: 3, no: 1 }[kind] }));

const label = (text, dark, offsetX) => new ol.style.Text({
  text, font: '600 13px system-ui, "DejaVu Sans", sans-serif', offsetX, textAlign: "left", declutterMode: "declutter",
  fill: new ol.style.Fill({ color: dark ? "#fff" : "#10262c" }), stroke: stroke(dark ? "#0b1a1f" : "#fff", 4),
});

// The number of a ranked water at its place, with a short line to the water where it was moved aside, and its name where room is.
export function badgeStyles({ rank, kind, name, at, place, dark }) {
  const { colour } = KINDS[kind];
  const geometry = new ol.geom.Point(place);
  const styles = [
    new ol.style.Style({
      geometry, zIndex: 2000 - rank,
      image: once(`badge ${kind}`, () => new ol.style.Circle({ radius: 12, fill: new ol.style.Fill({ color: colour }), stroke: stroke("#fff", 2.5), declutterMode: "obstacle" })),
      text: new ol.style.Text({ text: String(rank), font: 'bold 13px system-ui, "DejaVu Sans", sans-serif', fill: new ol.style.Fill({ color: "#fff" }), offsetY: 1, declutterMode: "none" }),
    }),
    new ol.style.Style({ geometry, zIndex: 1000 - rank, text: label(name, dark, 18) }),
  ];
  if (place !== at) styles.push(new ol.style.Style({ geometry: new ol.geom.LineString([at, place]), stroke: stroke(colour, 2), zIndex: 0 }));
  return styles;
}

// The run as it is flown: a bar across it where the aircraft touches down, a point where it lifts off.
export function runStyles(feature) {
  const corners = feature.getGeometry().getCoordinates();
  const turn = ([x1, y1], [x2, y2]) => Math.atan2(x2 - x1, y2 - y1);
  const end = (mark, place, rotation) => new ol.style.Style({ geometry: new ol.geom.Point(place), image: once(`run ${mark} ${rotation}`, () => runEnd(mark, rotation)) });
  return [
    ...once("run", () => cased(KINDS.ram.colour, 4)),
    end("M-8 0H8", corners[0], turn(corners[0], corners[1])),
    end("M0 -9L7 4H-7z", corners.at(-1), turn(corners.at(-2), corners.at(-1))),
  ];
}

function runEnd(mark, rotation) {
  const drawing = `<svg xmlns="http://www.w3.org/2000/svg" width="26" height="26" viewBox="-13 -13 26 26"><path d="${mark}" stroke="#fff" stroke-width="8"/><path d="${mark}" stroke="${KINDS.ram.colour}" stroke-width="4" fill="${KINDS.ram.colour}"/></svg>`;
  return new ol.style.Icon({ src: `data:image/svg+xml,${encodeURIComponent(drawing)}`, rotation });
}

export const hoverStyle = (feature) => new ol.style.Style({ image: picture(hoverSign(feature.get("ways")), "none") });

export function surroundingStyle(feature) {
  const what = feature.get("what");
  if (what === "no flying" || what === "no filling") {
    // The hatch lies on a pale ground, so that it is seen on dark pages too.
    return once(what, () => [
      new ol.style.Style({ fill: new ol.style.Fill({ color: "rgba(255,255,255,.32)" }), stroke: stroke("#fff", 4) }),
      new ol.style.Style({
        fill: new ol.style.Fill({ color: pattern("rgba(0,0,0,.6)", what === "no flying", what === "no filling") }),
        stroke: stroke("#000", what === "no flying" ? 2.2 : 1.6, [8, 4]),
      }),
    ]);
  }
  if (what === "wire") return once("wire", () => [...cased("#000", 2), new ol.style.Style({ image: picture(surroundingSign("wire", 20), "obstacle"), geometry: middle, zIndex: 60 })]);
  const status = feature.get("status") ?? "";
  const rises = { obstacle: 50, base: 40, "fill station": 30, site: 10 }[what] ?? 0;
  return once(`${what} ${status}`, () => new ol.style.Style({ image: picture(surroundingSign(what, what === "site" ? 18 : 22, status), what === "obstacle" ? "obstacle" : "declutter"), geometry: middle, zIndex: rises }));
}

function middle(feature) {
  const shape = feature.getGeometry();
  if (shape.getType() === "LineString") return new ol.geom.Point(shape.getCoordinateAt(0.5));
  if (shape.getType() === "MultiLineString") return new ol.geom.Point(shape.getLineString(0).getCoordinateAt(0.5));
  if (shape.getType() === "Polygon") return shape.getInteriorPoint();
  return shape;
}
