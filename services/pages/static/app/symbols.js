// Signs of what stands beside the water: own drawings, each with its word in the legend.

const svg = (inner, size) => `<svg xmlns="http://www.w3.org/2000/svg" width="${size}" height="${size}" viewBox="0 0 24 24" aria-hidden="true">${inner}</svg>`;

const SITE_COLOURS = { open: "#00654a", closed: "#8c1515", seasonal: "#7a4b00", unknown: "#4a5a60" };
const SITE_MARKS = { open: "M8 12.5l3 3 5.5-6.5", closed: "M8.5 8.5l7 7M15.5 8.5l-7 7", seasonal: "M12 7.5V12l3 2.5", unknown: "M9.6 9.4a2.5 2.5 0 1 1 3.4 2.4c-.7.3-1 .7-1 1.5M12 16.4v.2" };

export function surroundingSign(what, size = 24, status = "unknown") {
  if (what === "wire") return svg(`<path d="M2 9q10 10 20 0" stroke="#fff" stroke-width="6" fill="none"/><path d="M2 9q10 10 20 0" stroke="#000" stroke-width="2.4" fill="none"/><path d="M4.5 4v10M19.5 4v10" stroke="#000" stroke-width="2.4"/>`, size);
  if (what === "obstacle") return svg(`<path d="M12 3l6 18H6z" fill="#fff" stroke="#fff" stroke-width="4"/><path d="M12 3l6 18M12 3L6 21M8.5 14h7" stroke="#000" stroke-width="2.4" fill="none"/>`, size);
  if (what === "fill station") return svg(`<circle cx="12" cy="12" r="9.5" fill="#5b2a4b" stroke="#fff" stroke-width="2"/><path d="M7.5 7v5a3 3 0 0 0 6 0v-1.5a2.5 2.5 0 0 1 4 0v5" stroke="#fff" stroke-width="2.2" fill="none" stroke-linecap="round"/>`, size);
  if (what === "base") return svg(`<rect x="3" y="3" width="18" height="18" rx="3" fill="#12353f" stroke="#fff" stroke-width="2"/><path d="M8.5 17.5V6.5h4a2.7 2.7 0 0 1 0 5.4h-4 4.6a2.8 2.8 0 0 1 0 5.6z" stroke="#fff" stroke-width="2" fill="none"/>`, size);
  if (what === "site") {
    const colour = SITE_COLOURS[status] ?? SITE_COLOURS.unknown;
    return svg(`<path d="M12 1.5L22.5 12 12 22.5 1.5 12z" fill="${colour}" stroke="#fff" stroke-width="2"/><path d="${SITE_MARKS[status] ?? SITE_MARKS.unknown}" stroke="#fff" stroke-width="2.2" fill="none" stroke-linecap="round"/>`, size);
  }
  if (what === "fire") return svg(`<rect x="3" y="5" width="18" height="14" fill="#fff"/><path d="M3 14l9-9M3 19L17 5M8 19L21 6M14 19l7-7" stroke="#b2182b" stroke-width="1.6"/><rect x="3" y="5" width="18" height="14" fill="none" stroke="#b2182b" stroke-width="2.4"/>`, size);
  if (what === "no flying") return svg(`<rect x="3" y="5" width="18" height="14" fill="#fff"/><path d="M3 12l7-7M3 19L17 5M10 19l11-11M3 12l7 7M3 5l14 14M10 5l11 11" stroke="#000" stroke-width="1.1"/><rect x="3" y="5" width="18" height="14" fill="none" stroke="#000" stroke-width="2" stroke-dasharray="5 2"/>`, size);
  if (what === "no filling") return svg(`<rect x="3" y="5" width="18" height="14" fill="#fff"/><path d="M3 9h18M3 14h18" stroke="#000" stroke-width="1.1"/><rect x="3" y="5" width="18" height="14" fill="none" stroke="#000" stroke-width="1.6" stroke-dasharray="3 2"/>`, size);
  if (what === "run") return svg(`<path d="M4 12h14" stroke="#fff" stroke-width="7"/><path d="M4 12h11M4 6v12" stroke="#0072B2" stroke-width="3"/><path d="M22 12l-8-5v10z" fill="#0072B2"/>`, size);
  if (what === "hover ways") return svg(`<circle cx="12" cy="12" r="3" fill="none" stroke="#00654a" stroke-width="2.2"/><path d="M17 8a6.4 6.4 0 0 1 0 8" stroke="#005f8a" stroke-width="2.2" fill="none"/><path d="M4.5 5a10.4 10.4 0 0 0 0 14" stroke="#00654a" stroke-width="2.2" fill="none"/>`, size);
  const dash = what === "empty leg" ? ' stroke-dasharray="5 3"' : "";
  return svg(`<path d="M2 12h20" stroke="#fff" stroke-width="7"/><path d="M2 12h20" stroke="#7a3b8f" stroke-width="3"${dash}/>`, size);
}

export const SURROUNDING_WORDS = {
  fire: "the fire", run: "run, from touch-down (bar) to lift-off (point)", "hover ways": "hover point; inner arcs: ways in, outer arcs: ways out", "loaded leg": "flown loaded", "empty leg": "flown empty", wire: "wire", obstacle: "mast or other obstacle",
  "no flying": "no-fly area", "no filling": "no-fill area", site: "annotated site", "fill station": "fill station", base: "base",
};
