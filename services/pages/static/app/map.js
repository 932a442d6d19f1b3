// The map: the region's own relief and contours, every water with what can be done there, what stands beside it, runs, legs, fire.

import { spread } from "./badges.js";
import { breath } from "./library.js";
import { badgeStyles, cased, contourStyle, fireStyle, hoverStyle, listedStyle, runStyles, signStyle, surroundingStyle, waterStyle } from "./map_styles.js";
import { Pen } from "./pen.js";

const LONLAT = "EPSG:4326";
const MAP = "EPSG:3857";
const SIGNS_BELOW = 60; // metres a pixel at which waters show their sign
const MOST_AVOIDED = 1000; // numbers keep off so many signs; more would make moving the map slow
const ROOM = [60, 60, 60, 60];
const OF_DEGREES = { dataProjection: LONLAT, featureProjection: MAP };

const read = (geometry) => new ol.format.GeoJSON().readGeometry(geometry, OF_DEGREES);
const vector = (style, zIndex, more = {}) => new ol.layer.Vector({ source: new ol.source.Vector(), style, zIndex, ...more });
// What seldom changes is drawn into a picture that is shown again while only the answer over it changes.
const picture = (style, zIndex) => new ol.layer.VectorImage({ source: new ol.source.Vector(), style, zIndex, imageRatio: 1.25 });
const AT_ONCE = 400; // so many outlines are read before the browser may do something else

const alike = (one, other) => one.size === other.size && [...one].every(([key, value]) => other.get(key) === value);

function middleOf(shape) {
  const type = shape.getType();
  if (type === "Polygon") return shape.getInteriorPoint().getCoordinates().slice(0, 2);
  if (type === "MultiPolygon") return shape.getInteriorPoints().getCoordinates()[0].slice(0, 2);
  return ol.extent.getCenter(shape.getExtent());
}

export class WaterMap {
  // onWater(body id), onThing(properties of an obstacle, closure, site or base)
  constructor(target, { onWater = () => {}, onThing = () => {} } = {}) {
    this.dark = false;
    this.kinds = new Map();
    this.ranks = new Map();
    this.#layers();
    this.map = new ol.Map({
      target,
      layers: [this.relief, this.contours, this.waters, this.listed, this.areas, this.things, this.legs, this.runs, this.hover, this.fire, this.signs, this.marks, this.badges],
      view: new ol.View({ projection: MAP, center: [0, 0], zoom: 10, maxZoom: 19 }),
      controls: ol.control.defaults.defaults({ attribution: false, rotate: false }).extend([new ol.control.ScaleLine({ minWidth: 90 })]),
      keyboardEventTarget: target,
    });
    this.scale = this.map.getControls().getArray().find((one) => one instanceof ol.control.ScaleLine);
    this.map.on("moveend", () => this.#signsWhereSeen());
    this.map.on("singleclick", (event) => {
      if (!this.drawing) this.#clicked(event.pixel, onWater, onThing);
    });
    this.map.on("pointermove", (event) => {
      if (event.dragging) return;
      const hit = !this.drawing && this.map.hasFeatureAtPixel(event.pixel, { layerFilter: (layer) => this.clickable.includes(layer), hitTolerance: 6 });
      this.map.getTargetElement().style.cursor = this.drawing ? "crosshair" : hit ? "pointer" : "";
    });
  }

  #layers() {
    const kind = (feature) => this.kinds.get(feature.get("body_id")) ?? "open";
    const ranked = (feature) => this.ranks.has(feature.get("body_id"));
    this.relief = new ol.layer.Image({ zIndex: 0 });
    this.contours = picture(() => contourStyle(this.dark), 1);
    this.waters = picture((feature) => waterStyle(kind(feature)), 2);
    this.listed = vector((feature) => listedStyle(kind(feature)), 2.5);
    this.areas = picture(surroundingStyle, 3);
    this.things = vector(surroundingStyle, 10, { declutter: "labels" }); // a wire gives way to no label
    this.legs = vector((feature) => cased("#7a3b8f", 3, feature.get("empty") ? [7, 5] : undefined), 4);
    this.runs = vector(runStyles, 5);
    this.hover = vector(hoverStyle, 5.5);
    this.fire = vector(fireStyle, 6);
    this.signs = vector((feature, resolution) => (resolution < SIGNS_BELOW && !ranked(feature) && kind(feature) !== "open" ? signStyle(kind(feature)) : null), 7, { declutter: "labels" });
    this.marks = vector(surroundingStyle, 8);
    this.badges = vector((feature, resolution) => this.#badge(feature, resolution), 9, { declutter: "labels" });
    this.clickable = [this.badges, this.marks, this.things, this.areas, this.signs, this.waters];
  }

  #clicked(pixel, onWater, onThing) {
    const thing = this.map.forEachFeatureAtPixel(pixel, (feature) => feature.getProperties(), { layerFilter: (layer) => [this.marks, this.things, this.areas].includes(layer), hitTolerance: 8 });
    const water = this.map.forEachFeatureAtPixel(pixel, (feature) => feature.get("body_id"), { layerFilter: (layer) => [this.badges, this.signs, this.waters].includes(layer), hitTolerance: 8 });
    const wide = thing && ["no flying", "no filling"].includes(thing.what);
    if (thing && !(wide && water)) onThing(thing);
    else if (water) onWater(water);
  }

  theme(dark) {
    this.dark = dark;
    this.relief.setOpacity(dark ? 0.75 : 0.9);
    this.contours.changed();
    this.badges.changed();
  }

  units(system) {
    this.scale.setUnits(system === "si" ? "metric" : "nautical");
  }

  background(relief, contours) {
    if (relief) {
      this.relief.setSource(new ol.source.ImageStatic({ url: relief.href, imageExtent: relief.edges, projection: MAP }));
    }
    if (contours) {
      this.contours.getSource().addFeatures(new ol.format.GeoJSON().readFeatures(contours, OF_DEGREES));
    }
  }

  tiles(address) {
    this.map.addLayer(new ol.layer.Tile({ source: new ol.source.XYZ({ url: address }), zIndex: -1 }));
  }

  // Read in pieces: thousands of outlines at once would stop the page for as long as they take.
  async showWaters(collection) {
    const waters = [];
    for (let from = 0; from < collection.features.length; from += AT_ONCE) {
      waters.push(...new ol.format.GeoJSON().readFeatures({ type: "FeatureCollection", features: collection.features.slice(from, from + AT_ONCE) }, OF_DEGREES));
      await breath();
    }
    this.outlines = new Map(waters.map((one) => [one.get("body_id"), one]));
    this.anchors = new Map();
    const source = this.waters.getSource();
    source.clear();
    source.addFeatures(waters);
    this.signs.getSource().clear();
    this.#signsWhereSeen();
    this.#rankedAgain();
    this.whole = source.getExtent();
    this.seeAll();
  }

  // Where the sign or number of a water stands: inside it, found when it is first needed.
  #anchor(id) {
    const station = this.outlines.has(id) ? null : this.stations?.get(id);
    if (station) return station.getGeometry().getCoordinates();
    if (!this.anchors.has(id)) this.anchors.set(id, middleOf(this.outlines.get(id).getGeometry()));
    return this.anchors.get(id);
  }

  #signsWhereSeen() {
    const source = this.signs.getSource();
    if (!this.outlines || !source.isEmpty() || this.map.getView().getResolution() >= SIGNS_BELOW) return;
    source.addFeatures([...this.outlines.keys()].map((id) => new ol.Feature({ geometry: new ol.geom.Point(this.#anchor(id)), body_id: id })));
  }

  seeAll() {
    if (this.whole && Number.isFinite(this.whole[0])) this.map.getView().fit(this.whole, { padding: [30, 30, 30, 30], maxZoom: 15 });
  }

  showSurroundings(collection) {
    const found = new ol.format.GeoJSON().readFeatures(collection, OF_DEGREES);
    const closed = (one) => ["no flying", "no filling"].includes(one.get("what"));
    for (const [layer, of] of [[this.areas, found.filter(closed)], [this.things, found.filter((one) => !closed(one))]]) {
      layer.getSource().clear();
      layer.getSource().addFeatures(of);
    }
    this.stations = new Map(found.filter((one) => one.get("what") === "fill station").map((one) => [one.get("station_id"), one]));
    const standing = this.things.getSource().getFeatures().filter((one) => one.getGeometry().getType() === "Point");
    this.fixed = standing.slice(0, MOST_AVOIDED).map((one) => one.getGeometry().getCoordinates());
    this.#rankedAgain();
  }

  // sites: properties with longitude_deg and latitude_deg, drawn whole, above everything else.
  showMarks(sites) {
    this.marks.getSource().clear();
    this.marks.getSource().addFeatures(sites.map((one) => new ol.Feature({ ...one, geometry: new ol.geom.Point(ol.proj.fromLonLat([one.longitude_deg, one.latitude_deg])) })));
  }

  // kinds: body id -> key of KINDS; ranks: body id -> rank.
  showAnswer(kinds, ranks) {
    const other = { kinds: !alike(kinds, this.kinds), ranks: !alike(ranks, this.ranks) };
    this.kinds = kinds;
    this.ranks = ranks;
    if (other.kinds) this.waters.changed();
    if (other.kinds || other.ranks) {
      this.signs.changed();
      this.#rankedAgain();
    }
  }

  #rankedAgain() {
    const source = this.badges.getSource();
    source.clear();
    this.listed.getSource().clear();
    if (!this.outlines) return;
    this.ranked = [...this.ranks].filter(([id]) => this.outlines.has(id) || this.stations?.has(id)).map(([id, rank]) => ({ id, rank, at: this.#anchor(id) }));
    this.spreadAt = null;
    this.listed.getSource().addFeatures(this.ranked.flatMap(({ id }) => this.outlines.get(id) ?? []));
    source.addFeatures(this.ranked.map(({ id, at }) => new ol.Feature({ geometry: new ol.geom.Point(at), body_id: id })));
  }

  #badge(feature, resolution) {
    if (this.spreadAt !== resolution) {
      this.spreadAt = resolution;
      this.places = spread(this.ranked, resolution, this.fixed);
    }
    const id = feature.get("body_id");
    const { rank, at } = this.ranked.find((one) => one.id === id);
    return badgeStyles({ rank, kind: this.kinds.get(id) ?? "open", name: (this.outlines.get(id) ?? this.stations.get(id)).get("name") ?? "", at, place: this.places.get(id), dark: this.dark });
  }

  // legs: [{ geometry, empty }]; run: the line flown; hover: { point, ways }, of a hover fill.
  showWays({ legs, run = null, hover = null }) {
    for (const layer of [this.legs, this.runs, this.hover]) layer.getSource().clear();
    for (const leg of legs) this.legs.getSource().addFeature(new ol.Feature({ geometry: read(leg.geometry), empty: leg.empty }));
    if (run) this.runs.getSource().addFeature(new ol.Feature(read(run)));
    if (hover) this.hover.getSource().addFeature(new ol.Feature({ geometry: read(hover.point), ways: hover.ways }));
  }

  showFire(geometry) {
    const source = this.fire.getSource();
    source.clear();
    if (geometry) source.addFeature(new ol.Feature(read(geometry)));
  }

  see(geometries, { withAll = false } = {}) {
    const extent = withAll && this.whole ? [...this.whole] : ol.extent.createEmpty();
    for (const geometry of geometries.filter(Boolean)) ol.extent.extend(extent, read(geometry).getExtent());
    if (!ol.extent.isEmpty(extent)) {
      this.map.getView().fit(extent, { padding: ROOM, maxZoom: 15, duration: matchMedia("(prefers-reduced-motion: reduce)").matches ? 0 : 250 });
    }
  }

  // Draws one area or point, by mouse or by keyboard, and gives it as GeoJSON in degrees; Escape gives null.
  drawOne(type) {
    this.stopDrawing();
    return new Promise((resolve) => {
      const source = new ol.source.Vector();
      const draw = new ol.interaction.Draw({ source, type, stopClick: true });
      const written = (geometry) => new ol.format.GeoJSON().writeGeometryObject(geometry, { ...OF_DEGREES, decimals: 6 });
      const done = (answer) => {
        this.map.removeInteraction(draw);
        pen.end();
        document.removeEventListener("keydown", escape);
        this.drawing = null;
        resolve(answer);
      };
      const escape = (event) => {
        if (event.key === "Escape") done(null);
      };
      document.addEventListener("keydown", escape);
      draw.on("drawend", (event) => {
        const shape = written(event.feature.getGeometry());
        setTimeout(() => done(shape), 0);
      });
      const pen = new Pen(this.map, type, { done: (geometry) => done(written(geometry)), taken: () => draw.setActive(false) });
      this.drawing = () => done(null);
      this.map.addInteraction(draw);
    });
  }

  stopDrawing() {
    this.drawing?.();
  }
}
