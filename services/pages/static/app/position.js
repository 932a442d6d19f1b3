// Positions as crews write them: decimal degrees, or degrees and decimal minutes with a hemisphere.

// Gives [longitude, latitude] or null when the text is no position on Earth.
export function position(text) {
  const clean = text.trim().replaceAll(",", " ").toUpperCase();
  const lettered = [...clean.matchAll(/(?:([NSEW])\s*)?(\d+(?:\.\d+)?)\s*°?\s*(?:(\d+(?:\.\d+)?)\s*['′]?)?\s*([NSEW])?/gu)];
  if (/[NSEW]/u.test(clean)) {
    const found = {};
    for (const [, before, degrees, minutes, after] of lettered) {
      const side = before ?? after;
      if (!side) return null;
      if (Number(minutes ?? 0) >= 60) return null;
      const value = Number(degrees) + Number(minutes ?? 0) / 60;
      found["NS".includes(side) ? "latitude" : "longitude"] = "SW".includes(side) ? -value : value;
    }
    return checked(found.longitude, found.latitude);
  }
  const numbers = clean.split(/\s+/u).map(Number);
  if (numbers.length !== 2 || numbers.some(Number.isNaN)) return null;
  return checked(numbers[1], numbers[0]);
}

// Degrees and minutes to a hundredth (about 18 m), as crews read them out.
export function writtenPosition([longitude, latitude]) {
  const one = (value, positive, negative, width) => {
    const hundredths = Math.round(Math.abs(value) * 6000);
    const minutes = ((hundredths % 6000) / 100).toFixed(2).padStart(5, "0");
    return `${String(Math.floor(hundredths / 6000)).padStart(width, "0")}° ${minutes}′ ${value < 0 ? negative : positive}`;
  };
  return `${one(latitude, "N", "S", 2)} ${one(longitude, "E", "W", 3)}`;
}

function checked(longitude, latitude) {
  const good = Math.abs(latitude) <= 90 && Math.abs(longitude) <= 180;
  return good ? [longitude, latitude] : null;
}
