// Places for the numbers of the ranked waters, so that none covers another: moved aside on a short line where they would.

const APART_PX = 27;
const RINGS = [0, 1, 1.7, 2.5, 3.4];
const TURNS = 12;

// anchors: [{ id, rank, at: [x, y] }] in map units; fixed: places of signs that must stay seen. Gives id -> the place of its number.
export function spread(anchors, resolution, fixed = []) {
  const taken = [...fixed];
  const places = new Map();
  for (const { id, at } of [...anchors].sort((a, b) => a.rank - b.rank)) {
    const place = free(at, taken, APART_PX * resolution);
    taken.push(place);
    places.set(id, place);
  }
  return places;
}

function free(at, taken, apart) {
  for (const ring of RINGS) {
    for (let turn = 0; turn < (ring ? TURNS : 1); turn += 1) {
      const angle = (turn / TURNS) * 2 * Math.PI;
      const place = [at[0] + ring * apart * Math.sin(angle), at[1] + ring * apart * Math.cos(angle)];
      if (taken.every((other) => Math.hypot(place[0] - other[0], place[1] - other[1]) >= apart)) return place;
    }
  }
  return at;
}
