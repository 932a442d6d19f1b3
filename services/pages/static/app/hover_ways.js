// A hover point with the ways that serve it today: arcs on the inside with arrows to the middle, where to come from; arcs on the
// outside with arrows away from it, where to leave. North is up on the map, so a true bearing is an angle of the drawing.

const IN = { radius: 26, colour: "#005f8a" };
const OUT = { radius: 36, colour: "#00654a" };
const SIZE = 100;
const HALF_ARROW = 260; // degrees times the radius: half the width of an arrow

// Bearings next to one another, joined: [{ from, to }] in degrees clockwise, `to` beyond 360 where north lies between.
export function arcsOf(bearingsDeg) {
  const sorted = [...bearingsDeg].sort((a, b) => a - b);
  if (!sorted.length) return [];
  const apart = (i) => (sorted[(i + 1) % sorted.length] - sorted[i] + 360) % 360 || 360;
  // The survey looks in steps of the same width; one lone direction is drawn as wide as the usual step.
  const step = Math.min(...sorted.map((_, i) => apart(i)), 10);
  const breaks = sorted.map((_, i) => i).filter((i) => apart(i) > step * 1.5);
  if (!breaks.length) return [{ from: 0, to: 360 }];
  return breaks.map((last, k) => {
    const first = (breaks.at(k - 1) + 1) % sorted.length;
    const span = (sorted[last] - sorted[first] + 360) % 360;
    return { from: sorted[first] - step / 2, to: sorted[first] + span + step / 2 };
  });
}

const at = (deg, radius) => {
  const angle = (deg * Math.PI) / 180;
  return `${(radius * Math.sin(angle)).toFixed(1)} ${(-radius * Math.cos(angle)).toFixed(1)}`;
};

function line({ from, to }, radius) {
  if (to - from >= 360) return `M${at(0, radius)}A${radius} ${radius} 0 1 1 ${at(180, radius)}A${radius} ${radius} 0 1 1 ${at(0, radius)}`;
  return `M${at(from, radius)}A${radius} ${radius} 0 ${to - from > 180 ? 1 : 0} 1 ${at(to, radius)}`;
}

function arrow(deg, radius, outward) {
  const [foot, tip] = outward ? [radius, radius + 12] : [radius, radius - 12];
  return `M${at(deg - HALF_ARROW / radius, foot)}L${at(deg, tip)}L${at(deg + HALF_ARROW / radius, foot)}z`;
}

function band(bearingsDeg, { radius, colour }, outward) {
  return arcsOf(bearingsDeg).map((arc) => {
    const arcs = line(arc, radius);
    const places = arc.to - arc.from >= 360 ? [0, 90, 180, 270] : [(arc.from + arc.to) / 2];
    const arrows = places.map((deg) => arrow(deg, radius, outward)).join("");
    return `<path d="${arcs}" stroke="#fff" stroke-width="6" fill="none"/><path d="${arrows}" stroke="#fff" stroke-width="3" fill="#fff"/><path d="${arcs}" stroke="${colour}" stroke-width="3" fill="none"/><path d="${arrows}" fill="${colour}"/>`;
  }).join("");
}

// ways: { in_from_true_deg, out_to_true_deg }, null where it is not known which serve: the ring alone then.
export function hoverSign(ways, size = SIZE) {
  const ring = '<circle r="7" fill="none" stroke="#fff" stroke-width="7"/><circle r="7" fill="none" stroke="#00654a" stroke-width="3.5"/>';
  const bands = ways ? band(ways.out_to_true_deg, OUT, true) + band(ways.in_from_true_deg, IN, false) : "";
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${size}" height="${size}" viewBox="-50 -50 100 100" aria-hidden="true">${bands}${ring}</svg>`;
}
