"""Answers and surveys of a workspace as files."""

from collections.abc import Sequence
from pathlib import Path

from geo import pipeline
from geo.records.file_formats import USUAL_FORMATS
from geo.records.question import RankingQuestion
from services.core.workspace import Answer, Workspace


def export_answer(
    folder: Path, workspace: Workspace, answer: Answer, formats: Sequence[str] = USUAL_FORMATS
) -> list[Path]:
    """Write the ranked layer in the formats chosen; all files are made before any takes its name."""
    given = workspace.region, workspace.survey, answer.ranking, formats, answer.further
    return pipeline.export_ranking(folder, *given)


def export_survey(folder: Path, workspace: Workspace) -> list[Path]:
    """Write the survey's layers (water, survey_runs, hover_points) as one GeoPackage."""
    return pipeline.export_survey(folder, workspace.region, workspace.survey)


def export_runs(folder: Path, workspace: Workspace) -> Path:
    """Write every run of every water as one layer."""
    return pipeline.export_runs(folder, workspace.region, workspace.survey)


def plot_body(folder: Path, workspace: Workspace, id_or_name: str) -> Path:
    """Draw one water body with its runs, depth and hover point. Raises: BadArgument where there is none such."""
    return pipeline.plot_body(folder, workspace.region, workspace.survey, id_or_name)


def plot_cycle(folder: Path, question: RankingQuestion, answer: Answer, id_or_name: str) -> Path:
    """Draw the round trip of one listed source from the side. Raises: BadArgument where there is none such."""
    given = question.region, question.survey, answer.ranking, question.aircraft, id_or_name
    return pipeline.plot_cycle(folder, *given)
