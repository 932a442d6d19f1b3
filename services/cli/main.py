"""The command line: its table of contents. Every command loads what it needs when it runs, so that `--help` answers at
once."""

import os

import typer

from services.cli import day, paper, ranking, region, serve, sites, store, tokens
from services.cli.opening import answers_errors

app = typer.Typer(
    name="fetchwater",
    help="Survey, score and rank water sources for tank helicopters fighting bushfires. "
    "Advisory only: the pilot in command decides.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
site_commands = typer.Typer(no_args_is_help=True, help="Annotated sites as files.")
token_commands = typer.Typer(
    no_args_is_help=True, help="Named tokens for readers, planners and administrators."
)
# Group, name, what runs.
COMMANDS = (
    (app, "check", region.check),
    (app, "survey", region.survey),
    (app, "rank", ranking.rank),
    (app, "fleet", ranking.fleet),
    (app, "export", ranking.export),
    (app, "demo", ranking.demo),
    (app, "serve", serve.serve),
    (app, "levels", day.levels),
    (app, "closures", day.closures),
    (app, "due", day.due),
    (app, "backup", store.backup),
    (app, "restore", store.restore),
    (app, "import", store.import_),
    (app, "sheet", paper.sheet),
    (app, "pack", paper.pack),
    (site_commands, "import", sites.import_),
    (site_commands, "export", sites.export),
    (token_commands, "add", tokens.add),
    (token_commands, "list", tokens.list_),
    (token_commands, "revoke", tokens.revoke),
)
for group, name, command in COMMANDS:
    group.command(name)(answers_errors(command))
app.add_typer(token_commands, name="token")
app.add_typer(site_commands, name="sites")


def main() -> None:
    """Entry point of the `fetchwater` command."""
    # The matrices here are small: threads of the linear algebra library cost more than they give (20 times, measured
    # on a busy machine of two cores). Set before numpy is imported; a value from outside wins.
    for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(variable, "1")
    app()


if __name__ == "__main__":
    main()
