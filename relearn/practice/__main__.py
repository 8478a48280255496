"""`python -m relearn.practice FOLDER` writes every scenario's capture there; `--check` compares instead."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from relearn.practice.write import differs, every, write


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False, exists=True))
@click.option("--check", is_flag=True, help="Write nothing; exit 1 if a file is not what a fresh run would write.")
def main(folder: Path, check: bool) -> None:
    """Write the demo captures of the invented car into FOLDER, the same bytes on every run."""
    if check:
        different = [scenario.file for scenario in every() if differs(folder, scenario)]
        click.echo("".join(f"differs: {name}\n" for name in different), nl=False)
        sys.exit(1 if different else 0)
    for scenario in every():
        click.echo(write(folder, scenario))


if __name__ == "__main__":
    main()
