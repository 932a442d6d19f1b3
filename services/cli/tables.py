"""Tables and a progress bar for people at a terminal. Formats figures; computes none but unit changes."""

import sys
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from geo.base.fault import Fault
from geo.base.positions import true_and_magnetic
from geo.base.units import METRE_PER_NAUTICAL_MILE, MS_PER_KNOT
from geo.records.file_formats import SHAPEFILE_LIMITS
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Region
from geo.records.survey import BodySurvey, RegionSurvey
from services.cli.fuel_table import fuel_lines
from services.cli.leg_lines import leg_lines
from services.cli.opening import print_json

# A pipe or a file gets full-width lines: tables must not be cut to a guessed 80 columns.
out = Console(width=None if Console().is_terminal else 150, highlight=False)
err = Console(stderr=True)
UNKNOWN = "unknown"
ProgressCall = Callable[[int, int, str], None]


@contextmanager
def progress_bar(quiet: bool, what: str = "survey") -> Iterator[ProgressCall | None]:
    """Show a bar on stderr while work is long; nothing when quiet."""
    if quiet:
        yield None
        return
    columns = (
        TextColumn(what),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.description}"),
    )
    with Progress(*columns, console=err, transient=True) as bar:
        task = bar.add_task("", total=None)

        def advance(done: int, total: int, what: str) -> None:
            bar.update(task, completed=done, total=total, description=escape(what))

        yield advance


def say(line: str) -> None:
    """Print one line whole: a terminal wraps it at its own edge, a file keeps it."""
    out.print(line, soft_wrap=True)


def say_topics(topics: Mapping[str, object]) -> None:
    """Print each topic with its sentence or figure."""
    for topic, words in topics.items():
        say(f"  {escape(str(topic))}: {escape(str(words))}")


def say_cautions(cautions: Sequence[str]) -> None:
    """Print cautions, each marked as one."""
    for caution in cautions:
        say(f"  caution: {escape(caution)}")


def table_of(title: str, *headings: str, left: Collection[str] | None = None) -> Table:
    """Give an empty table; figures stand at the right, the headings of `left` (default: the first) at the left."""
    table = Table(title=title, title_justify="left")
    for heading in headings:
        table.add_column(heading, justify="left" if heading in (left or headings[:1]) else "right")
    return table


def clock(seconds: float) -> str:
    """Give minutes and seconds, for example 7:05."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def number(value: float | None, form: str = ",.0f") -> str:
    """Give a figure, or the word unknown; unknown is never 0."""
    return UNKNOWN if value is None else format(value, form)


def print_faults(folder: Path, faults: Sequence[Fault], summary: dict) -> None:
    """List every fault, then what was read."""
    for fault in faults:
        say(escape(fault.sentence()))
    blocking = sum(fault.blocks for fault in faults)
    say_topics(summary)
    word = "cannot be used yet" if blocking else "can be used"
    out.print(f"{escape(str(folder))}: {word}; {blocking} faults to fix, {len(faults) - blocking} remarks")


def _run_cell(body: BodySurvey) -> str:
    run = body.longest_run
    if run is None:
        return "none"
    return f"{run.length_m:,.0f} m, {run.heading_true_deg:03.0f}/{(run.heading_true_deg + 180) % 360:03.0f}"


def _depth_cell(body: BodySurvey) -> str:
    run = body.longest_run
    if run is None:
        return ""
    low, high = run.depth.depth_with_confidence_m(0.95), run.depth.depth_with_confidence_m(0.5)
    return UNKNOWN if low is None else f"{low:.1f} / {high:.1f} m"


def _hover_cell(body: BodySurvey) -> str:
    point = body.hover_point
    if point is None:
        return "none"
    depth = point.depth.depth_with_confidence_m(0.8)
    return f"{point.clear_radius_m:.0f} m clear, {'depth ' + UNKNOWN if depth is None else f'{depth:.1f} m deep'}"


def print_survey(region: Region, survey: RegionSurvey) -> None:
    """One line per water body."""
    left = (
        "water",
        "kind",
        "salt",
        "longest run, true headings",
        "least depth there, sure / likely",
        "hover point",
    )
    title = f"Survey of {escape(survey.region_name)}: {len(survey.bodies)} water bodies"
    table = table_of(title, *left[:2], "area ha", "level m", *left[2:], left=left)
    for body in survey.bodies:
        table.add_row(
            escape(body.name),
            body.kind,
            f"{body.area_m2 / 1e4:,.2f}",
            number(body.surface_elevation_m.value),
            body.salinity_class or UNKNOWN,
            _run_cell(body),
            _depth_cell(body),
            _hover_cell(body),
        )
    out.print(table)
    out.print(
        "sure: exceeded everywhere on the run with probability 0.95; likely: 0.5; hover depth: 0.8. "
        f"The run keeps {survey.settings.corridor_width_m / 2:.0f} m of water on both sides and beyond both ends."
    )
    for fault in region.cautions:
        say(escape(fault.sentence()))


def _fill_words(source: RankedSource) -> str:
    assessment, words = source.assessment, source.assessment.way
    if assessment.run_heading_true_deg is not None:
        heading = true_and_magnetic(assessment.run_heading_true_deg, source.conditions.variation_deg)
        words += f" heading {heading}"
    return words


def _ranked_row(source: RankedSource) -> tuple[str, ...]:
    cycle, fuel = source.cycle, source.fuel
    return (
        str(source.rank),
        escape(source.name),
        _fill_words(source),
        f"{fuel.sustained_litres_per_hour:,.0f}",
        clock(cycle.round_trip_s),
        f"{cycle.litres:,.0f}",
        f"{cycle.litres_per_hour:,.0f}",
        f"{cycle.loaded_leg.distance_m / METRE_PER_NAUTICAL_MILE:.1f}",
        str(fuel.loads),
        f"{fuel.litres:,.0f}",
        f"{source.assessment.score:.0f}",
    )


RANKED_COLUMNS = (
    *("#", "water", "fill by", "L/h sustained", "round trip min:s", "first load L", "L/h by it", "leg NM"),
    *("loads per fuel cycle", "litres per fuel cycle", "score"),
)


def print_not_kept(cautions: Sequence[str], json: bool) -> None:
    """Say before everything else what the store did not take; beside a JSON document on stderr."""
    for caution in cautions:
        if json:
            print(f"caution: {caution}", file=sys.stderr)
        else:
            say(f"[bold]caution[/bold]: {escape(caution)}")


def print_ranking(ranking: Ranking) -> None:
    """The question, the ranking with its reasons, the working of the first, the exclusions and the cautions."""
    weather = ranking.weather
    out.rule()
    out.print(
        f"[bold]{escape(ranking.fire_name)}[/bold], {escape(ranking.aircraft)}, "
        f"wind {weather.wind_from_true_deg:03.0f}°T/{weather.wind_ms / MS_PER_KNOT:.0f} kt{weather.gust_words}, "
        f"{weather.oat_c:.0f} degC at {escape(weather.read_at)}, QNH {weather.qnh_hpa:.0f} hPa"
    )
    table = table_of("Ranked water sources", *RANKED_COLUMNS, left=("water", "fill by"))
    for source in ranking.sources:
        table.add_row(*_ranked_row(source))
    if not ranking.sources:
        kinds = Counter(one.verdict for one in ranking.excluded)
        said = ", ".join(f"{number} {verdict}" for verdict, number in kinds.items())
        out.print(
            f"[bold]No water can be used for this:[/bold] {said or 'the region has none'}. Each with its reason:"
        )
        print_exclusions(ranking)
    else:
        out.print(table)
        out.print("[bold]Why this rank[/bold]")
        for source in ranking.sources:
            say(f"  {source.rank:2} {escape(source.name)}: {escape(source.reason)}")
        print_working(ranking.sources[0])
        print_exclusions(ranking)
    out.print("[bold]Assumed[/bold]")
    say_topics(ranking.assumptions)
    out.print("[bold]Cautions[/bold]")
    for caution in ranking.cautions:
        say(f"  {escape(caution)}")


def print_working(source: RankedSource) -> None:
    """The working of one source, so that it can be redone by hand."""
    cycle = source.cycle
    out.print(f"[bold]Working for number {source.rank}, {escape(source.name)}[/bold]")
    turn = source.conditions.variation_deg
    legs = (("loaded leg", cycle.loaded_leg), ("empty leg", cycle.empty_leg))
    for line in (line for word, leg in legs for line in leg_lines(word, leg, turn)):
        say(line)
    say(
        f"  round trip: fill {cycle.fill_s:.1f} + manoeuvre at the water {cycle.manoeuvre_source_s:.1f} + loaded leg "
        f"{cycle.loaded_leg.time_s:.1f} + drop {cycle.drop_s:.1f} + manoeuvre at the fire {cycle.manoeuvre_fire_s:.1f} "
        f"+ empty leg {cycle.empty_leg.time_s:.1f} = {cycle.round_trip_s:.1f} s"
    )
    say(
        f"  litres an hour: {cycle.litres:,.0f} L x 3600 / {cycle.round_trip_s:.1f} s "
        f"= {cycle.litres_per_hour:,.0f} L/h"
    )
    for line in fuel_lines(source.fuel, clock):
        say(line)
    for criterion in source.assessment.criteria:
        say(
            f"  {criterion.state:8} weight {criterion.weight:g} score {criterion.score:5.1f}  "
            f"{escape(criterion.name)}: {escape(criterion.reason)}"
        )
    say_cautions(source.cautions)


def print_exclusions(ranking: Ranking) -> None:
    """Every source that is not ranked, and why."""
    if not ranking.excluded:
        return
    headings = "water", "verdict", "why"
    table = table_of("Not ranked", *headings, left=headings)
    for item in ranking.excluded:
        table.add_row(escape(item.name), item.verdict, escape(item.reason))
    out.print(table)


def tell_files(ranking_id: str | None, paths: Sequence[Path], json: bool) -> None:
    """Say which files were written and the id of the kept answer: as one JSON document, or as sentences."""
    if json:
        print_json({"ranking_id": ranking_id, "files": list(map(str, paths))})
    else:
        print_files(paths)


def print_files(paths: Sequence[Path]) -> None:
    """Say where the files are, and what a format could not hold."""
    for path in paths:
        say(f"wrote {escape(str(path))}")
    for path in paths:
        if path.name == SHAPEFILE_LIMITS:
            summary = path.read_text(encoding="utf-8").split("\n\n")[0]
            say(f"{escape(summary)}\nEvery name and text: {escape(str(path))}")


def print_question(region: Path, fire_id: str, weather: Mapping[str, str]) -> None:
    """The command that asks the demo's question again."""
    options = " ".join(f"--{name} {text}" for name, text in weather.items())
    command = f"fetchwater rank {escape(str(region))} --fire {escape(fire_id)} {options}"
    say(f"Ask again: {command}")
