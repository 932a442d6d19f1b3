"""What is printed with every ranking: the cautions that hold for all, and what was assumed."""

from geo.records.aircraft import AircraftProfile

GENERAL_CAUTIONS: tuple[str, ...] = (
    "Advice only: the pilot in command decides, and nothing here asks anyone to endanger an aircraft.",
    "Look before the first fill of each session: a high orbit, then a low pass, which also warns people below.",
    "Wires and masts may be missing from the data: look for them on the approach, over the water and on departure.",
    "Levels change: tide can be lower than predicted, reservoirs are drawn down, floods hide snags and trees.",
    "Depths were not measured for this use: read evidence, confidence, datum and date; unassessed counts as poor.",
    "Rivers have current, drifting wood and bends; smooth lakes hide their height and drowned trees.",
    "Keep clear of boats, swimmers and drones by the local rule (one published order: 500 m, and 30 min after).",
    "Ask for permission: private dams, town supply, protected and military waters; record and replace what was taken.",
    "Protect the water: invasive species travel in tanks and hoses; no foam or retardant within 91 m (300 ft).",
    "Salt: a hover sprays it into the engines, worst in 5 to 16 kt of wind; wash down; the load is 2.7 % heavier.",
    "Filling from the hover needs power to hover out of ground effect at the day's density altitude.",
    "Rotor wash reaches about 3 rotor diameters: keep people, boats and light craft away.",
    "The aircraft and the contract set the limits of wind, waves and turbulence, not this program.",
    "The law of the place or the contract sets the fuel reserve; the profile's figure is no permission.",
    "Times are estimates: steady wind, no queue at the water, no holds, no circuit over the fire.",
    "Not for navigation; not an official chart or survey.",
)


def assumptions(profile: AircraftProfile, hours: float | None = None) -> dict[str, str]:
    """Give what the ranking assumes, as topic -> sentence; hours, the time asked, None for one fuel cycle."""
    over = "one fuel cycle with refuelling" if hours is None else f"{hours:g} h from leaving the base"
    return {
        "order": f"most water over {over}, within what the source holds; then the shorter round trip; then the id",
        "method": "each source is flown with the usable method that delivers most water over that time",
        "round trip": "fill + manoeuvre at the source + loaded leg + drop + manoeuvre at the fire + empty leg",
        "load": "the least of tank, run, power, gross weight, maximum water load and site notes; each names its limit",
        "weight": _weight_words(profile),
        "manoeuvre": (
            f"{profile.manoeuvre_source_s:.0f} s at the source and {profile.manoeuvre_fire_s:.0f} s at the fire"
        ),
        "drop": profile.drop_run.words
        if profile.drop_run is not None
        else f"{profile.drop_s:.0f} s for any load: no line was asked for, or the profile tells no doors",
        "fuel": (
            f"{profile.fuel_l:,.0f} L at {profile.fuel_burn_l_h:,.0f} L/h, reserve {profile.reserve_s / 60.0:.0f} min, "
            f"refuelling {profile.refuel_turn_s / 60.0:.0f} min"
        ),
        "evidence": "a source whose evidence is missing or weak is not ranked; it is listed as survey first",
    }


def _weight_words(profile: AircraftProfile) -> str:
    weights = profile.weights
    if weights is None:
        return "fuel was not weighed: a full tank of fuel is taken off every load, and no load grows as fuel burns"
    kilograms = (f"{kg:,.0f} kg" for kg in (weights.empty_kg, weights.crew_kg, weights.equipment_kg))
    parts = "empty {}, crew {}, equipment {}".format(*kilograms)
    fuel = f"fuel at {weights.fuel_kg_l:g} kg/L, at most {weights.gross_kg:,.0f} kg"
    return f"{parts}, {fuel}; the load grows as fuel burns; verdicts and scores are those with full fuel"
