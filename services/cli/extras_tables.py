"""What is answered beside the order, for people at a terminal. Formats figures; computes none but unit changes."""

from datetime import datetime

from rich.markup import escape

from geo.records.aircraft import METHOD_NAMES
from geo.records.extras import Certainty, Daylight, Extras, FleetPlan, LineBuild, SourceBuild, Stretch
from services.cli.tables import UNKNOWN, clock, number, out, say, say_cautions, say_topics, table_of


def print_further(further: Extras) -> None:
    """Everything that was asked beside the order."""
    if further.line is not None:
        print_line(further.line)
    if further.certainty is not None:
        print_certainty(further.certainty)
    if further.daylight is not None:
        print_daylight(further.daylight)
    if further.supply is not None:
        print_supply(further.supply)


def print_line(line: LineBuild) -> None:
    """Litres, loads and time of a wanted line."""
    wanted = line.wanted
    say(
        f"[bold]What the line takes[/bold]: {wanted.length_m:,.0f} m x {wanted.width_m:,.0f} m at coverage level "
        f"{wanted.level:g} ({escape(wanted.level_origin)}) = {line.litres:,.0f} L on the ground, of which drops need "
        f"{line.litres_dropped:,.0f} L"
    )
    if line.drop is not None:
        say(f"  {escape(line.drop.words)}")
    titles = ("water", "loads", "litres per load", "line per load m", "drop s", "drop run m", "time h:min:s")
    table = table_of("", *titles, "note")
    for one in line.sources:
        time = UNKNOWN if one.time_s is None else f"{round(one.time_s) // 3600}:{_minutes(one.time_s)}"
        drop = f"{one.line_per_load_m:,.0f}", f"{one.drop_s:.1f}", number(one.drop_run_m)
        table.add_row(
            _with_agent(one), str(one.loads), f"{one.litres_per_load:,.0f}", *drop, time, escape(one.note)
        )
    out.print(table)
    say_cautions(line.cautions)


def _with_agent(one: SourceBuild) -> str:
    return escape(one.name if one.agent == "water" else f"{one.name} ({one.agent or 'contents unknown'})")


def _minutes(seconds: float) -> str:
    return f"{round(seconds) % 3600 // 60:02d}:{round(seconds) % 60:02d}"


def print_certainty(certainty: Certainty) -> None:
    """How often each source is the best, and what would change the winner."""
    if not certainty.sources:
        return
    table = table_of("How sure is the order", "water", "best", "in the first three", "can be used")
    for one in certainty.sources:
        if one.first_three >= 0.005:
            table.add_row(
                escape(one.name), f"{one.best:.0%}", f"{one.first_three:.0%}", f"{one.available:.0%}"
            )
    out.print(table)
    say(
        f"  from {certainty.samples:,} samples (seed {certainty.seed}) of {len(certainty.sources)} ranked sources"
    )
    say_topics(certainty.assumptions)
    out.print(
        "  Each of these alone would change the winner, the smallest change first:" if certainty.turns else ""
    )
    for turn in certainty.turns:
        off = "" if turn.deviations is None else f" ({turn.deviations:.1f} standard deviations off)"
        say(f"    {escape(turn.text)}{off}")


def print_daylight(daylight: Daylight) -> None:
    """The end of the day by its rule, and the last load before it."""
    end = "none" if daylight.end is None else _moment(daylight.end)
    origin = escape(f"{daylight.reason}; rule: {daylight.rule}, {daylight.rule_origin}")
    say(f"[bold]Daylight[/bold]: the day ends {end}: {origin}")
    if daylight.end is not None:
        table = table_of("", "water", "last load begins", "flight home min", "loads left", "note")
        for one in daylight.sources:
            home = number(None if one.home_s is None else one.home_s / 60.0, ".1f")
            left = number(one.loads_left, "d")
            table.add_row(escape(one.name), _moment(one.last_load_start), home, left, escape(one.note))
        out.print(table)
        out.print(
            "  the last load is dropped and the aircraft on the ground at the base by the end of the day; the loads "
            "left count refuelling, from full tanks at the time asked"
        )
    say_cautions([f"{one.name}: {one.glare}" for one in daylight.sources if one.glare])


def _moment(moment: datetime | None) -> str:
    if moment is None:
        return UNKNOWN
    return moment.strftime("%d %b %H:%M:%S %Z")


def print_supply(supply: tuple[Stretch, ...]) -> None:
    """The fire's edge in stretches by their best source."""
    table = table_of(
        "Supply of the fire's edge", "stretch", "best water", "fill by", "m", "round trip min:s", "L/h"
    )
    for one in supply:
        trip = UNKNOWN
        if one.least_round_trip_s is not None and one.most_round_trip_s is not None:
            trip = f"{clock(one.least_round_trip_s)} to {clock(one.most_round_trip_s)}"
        method = "" if one.method is None else METHOD_NAMES[one.method]
        table.add_row(
            str(one.number),
            escape(one.name or one.reason),
            method,
            f"{one.length_m:,.0f}",
            trip,
            number(one.litres_per_hour),
        )
    out.print(table)


def print_fleet(plan: FleetPlan) -> None:
    """Where each aircraft of a fleet goes, and what it adds."""
    table = table_of("Fleet", "aircraft", "water", "fill by", "L/h", "adds L/h", "note")
    for one in plan.members:
        table.add_row(
            f"{one.number} {escape(one.aircraft)}",
            escape(one.name or "not sent"),
            "" if one.method is None else METHOD_NAMES[one.method],
            f"{one.litres_per_hour:,.0f}",
            f"{one.gain_litres_per_hour:,.0f}",
            escape(one.note),
        )
    out.print(table)
    out.print(f"  together {plan.litres_per_hour:,.0f} L/h")
    for use in plan.sources:
        out.print(
            f"  {escape(use.name)}: {use.used} of {use.seats} places taken, limited by {use.limited_by}"
        )
    say_topics(plan.assumptions)
