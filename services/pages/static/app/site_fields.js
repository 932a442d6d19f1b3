// The fields of a site as a form: their words, their kinds, and which belong together.

export const FIELDS = [
  { group: "What", name: "name", label: "Name", needed: true, most: 200 },
  { group: "What", name: "position", label: "Position: latitude, then longitude", needed: true },
  { group: "What", name: "body_id", label: "Water it applies to", choices: "waters" },
  { group: "What", name: "method", label: "Fill method it applies to", choices: [["", "every method"], ["ram intake"], ["hover pump"], ["bucket dip"]] },
  { group: "What", name: "place", label: "Where it is, in words", wide: true },
  { group: "Effect", name: "status", label: "Status", choices: [["open"], ["closed"], ["seasonal"], ["unknown"]] },
  { group: "Effect", name: "effect", label: "Effect on the answers", choices: [["note", "warns only"], ["confirm", "confirms the survey"], ["limit", "limits the load"], ["veto", "excludes the water"]] },
  { group: "Effect", name: "most_litres", label: "Largest load, litres", kind: "number", when: (typed) => typed.effect === "limit" },
  { group: "Effect", name: "valid_from", label: "Status valid from", kind: "date" },
  { group: "Effect", name: "valid_to", label: "Status valid until", kind: "date" },
  { group: "Effect", name: "season_from", label: "Open each year from (MM-DD)", hint: "11-01", when: (typed) => typed.status === "seasonal" },
  { group: "Effect", name: "season_to", label: "Open each year until (MM-DD)", hint: "04-30", when: (typed) => typed.status === "seasonal" },
  { group: "Hazards and access", name: "hazards", label: "Hazards", long: true },
  { group: "Hazards and access", name: "wires", label: "Wires", long: true },
  { group: "Hazards and access", name: "access", label: "Access", long: true },
  { group: "Permission", name: "owner", label: "Owner" },
  { group: "Permission", name: "contact", label: "Contact" },
  { group: "Permission", name: "permission", label: "Permission", choices: [["", "unknown"], ["granted"], ["not needed"], ["refused"]] },
  { group: "Permission", name: "permission_to", label: "Permission granted until", kind: "date", when: (typed) => typed.permission === "granted" },
  { group: "Evidence", name: "inspected_on", label: "Inspected on", kind: "date" },
  { group: "Evidence", name: "inspected_by", label: "Inspected by" },
  { group: "Evidence", name: "inspection_due", label: "Inspect again by", kind: "date" },
  { group: "Evidence", name: "depth_evidence_to", label: "Trust its depths until", kind: "date" },
  { group: "Note", name: "note", label: "Note", long: true, wide: true },
];

export const EMPTY = { status: "unknown", effect: "note" };

// Typed texts of a site as the service gives it.
export function typedOf(site) {
  const typed = Object.fromEntries(FIELDS.filter((one) => one.name !== "position").map((one) => [one.name, site[one.name] === null || site[one.name] === undefined ? "" : String(site[one.name])]));
  typed.position = site.latitude_deg === undefined ? "" : `${site.latitude_deg.toFixed(6)} ${site.longitude_deg.toFixed(6)}`;
  return typed;
}

// What the service is sent; place: [longitude, latitude] read from the position. Fields that do not belong are left out.
export function fieldsOf(typed, place) {
  const sent = { longitude_deg: place[0], latitude_deg: place[1] };
  for (const one of FIELDS) {
    const text = (typed[one.name] ?? "").trim();
    if (one.name === "position" || !text || (one.when && !one.when(typed))) continue;
    sent[one.name] = one.kind === "number" ? Number(text) : text;
  }
  return sent;
}

export const wordsOf = (name) => FIELDS.find((one) => one.name === name)?.label ?? name.replaceAll("_", " ");

// Names of fields in which two versions differ; a position counts as one field.
export const differing = (one, other) => FIELDS.map((field) => field.name).filter((name) => (one[name] ?? "") !== (other[name] ?? ""));
